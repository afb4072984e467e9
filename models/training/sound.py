"""What microphones, rooms, workshops and throats do to speech: made at random, whole batches at once."""
import math

import torch
import torch.nn.functional as F

RATE = 16000


class Chance:
    """Random numbers on one device from one seed."""

    def __init__(self, device, seed):
        self.device, self.g = device, torch.Generator(device=device).manual_seed(seed)

    def uniform(self, rows, low=0.0, high=1.0, columns=1):
        return torch.rand(rows, columns, device=self.device, generator=self.g) * (high - low) + low

    def normal(self, rows, columns):
        return torch.randn(rows, columns, device=self.device, generator=self.g)

    def often(self, rows, share):
        return self.uniform(rows) < share


def padded(samples):
    return 1 << math.ceil(math.log2(samples + RATE // 2))


def unit(x):
    """At a root mean square of 1; silence stays silence."""
    return x / (x.pow(2).mean(1, keepdim=True).sqrt() + 1e-5)


def room(x, c):
    """A microphone's tilt and band, and in half of the rows a small room (reverberation of 80 to 580 ms)."""
    rows, samples = x.shape
    n = padded(samples)
    hz = torch.linspace(0, RATE / 2, n // 2 + 1, device=x.device)
    gain = 10 ** (c.uniform(rows, -9, 9) * torch.log2(hz.clamp(60) / 1000) / 60)
    low = torch.where(c.often(rows, 0.3), c.uniform(rows, 0, 300), torch.zeros(rows, 1, device=x.device))
    high = torch.where(c.often(rows, 0.3), c.uniform(rows, 3000, 7000), torch.full((rows, 1), 8000.0, device=x.device))
    gain = gain / (1 + (low / hz.clamp(1)) ** 8) / (1 + (hz / high) ** 16)
    t = torch.arange(RATE // 2, device=x.device) / RATE
    tail = c.normal(rows, RATE // 2) * torch.exp(-6.9 * t / c.uniform(rows, 0.08, 0.58)) * (t > 0.002)
    tail = tail * c.uniform(rows) ** 2 * 0.06 * c.often(rows, 0.5)
    tail[:, 0] = 1
    return torch.fft.irfft(torch.fft.rfft(x, n) * gain * torch.fft.rfft(tail, n), n)[:, :samples]


def made_noise(rows, samples, c):
    """Coloured noise, in bands, beating; hum and its overtones; knocks that ring. Root mean square 1."""
    n, device = padded(samples), c.device
    hz = torch.linspace(0, RATE / 2, n // 2 + 1, device=device)
    t = torch.arange(samples, device=device) / RATE
    shape = torch.fft.rfft(c.normal(rows, n), n) * (hz.clamp(40) / 1000) ** (-c.uniform(rows, 0, 2) / 2)
    band = torch.exp(-(((hz - c.uniform(rows, 0, 6000)) / c.uniform(rows, 200, 2700)) ** 2))
    x = unit(torch.fft.irfft(torch.where(c.often(rows, 0.4), shape * band, shape), n)[:, :samples])
    beat = 1 + 0.9 * torch.sin(2 * math.pi * c.uniform(rows, 0, 20) * t + c.uniform(rows, 0, 6))
    x = torch.where(c.often(rows, 0.4), x * beat, x)
    base = torch.where(c.often(rows, 0.5), 50 + 10 * c.often(rows, 0.5).float(), c.uniform(rows, 25, 225))
    hum = sum(torch.sin(2 * math.pi * k * base * t + c.uniform(rows, 0, 6)) * c.uniform(rows) / k for k in range(1, 9))
    x = x * torch.where(c.often(rows, 0.15), 0.05, 1.0) + hum * 1.2 * c.often(rows, 0.3)
    hits = (c.uniform(rows, columns=samples) < c.uniform(rows, 0.3, 4) / RATE).float()
    t = torch.arange(RATE // 2, device=device) / RATE
    ring = torch.exp(-t * c.uniform(rows, 60, 360)) * torch.sin(2 * math.pi * c.uniform(rows, 600, 4600) * t)
    knocks = torch.fft.irfft(torch.fft.rfft(hits, n) * torch.fft.rfft(ring, n), n)[:, :samples]
    return unit(x + knocks * 12 * c.often(rows, 0.3))


def recorded_noise(clips, rows, samples, c, rng):
    """Pieces of recorded noise at other speeds, one or two at once, from anywhere in them. Root mean square 1."""
    def some():
        return unit(clips.cut(rng.randint(len(clips), size=rows), samples, -c.uniform(rows, 0, 2 * RATE)[:, 0].long(),
                              2 ** c.uniform(rows, -0.8, 0.8)[:, 0]))  # fmt: skip

    x = torch.where(c.often(rows, 0.4), some() + some() * c.uniform(rows), some())
    return unit(x)


def buzzing(x, c):
    """The same words by a machine: each moment's smooth spectrum, its throat up to 16 % longer or shorter, over pulses of a
    nearly steady pitch; noise instead of pulses in hissing sounds."""
    rows, samples = x.shape
    window = torch.hann_window(512, device=x.device)
    spectrum = lambda y: torch.stft(y, 512, 128, window=window, return_complex=True)
    level = spectrum(x).abs().clamp(min=1e-5)
    slow = torch.fft.irfft(level.log(), dim=1)
    slow[:, 32:-31] = 0  # what is left changes slower with frequency than the overtones of 250 Hz do
    smooth = torch.fft.rfft(slow, dim=1).real
    bins = smooth.shape[1]
    at = (torch.arange(bins, device=x.device) * c.uniform(rows, 0.86, 1.16)).clamp(0, bins - 1.001)
    low = at.floor().long()
    take = lambda k: torch.gather(smooth, 1, k[:, :, None].expand(-1, -1, smooth.shape[2]))
    part = (at - low)[:, :, None]
    envelope = (take(low) * (1 - part) + take(low + 1) * part).exp()
    hiss = (level[:, 112:].pow(2).sum(1) / level[:, 3:64].pow(2).sum(1)).clamp(0, 1)[:, None]
    t = torch.arange(samples, device=x.device) / RATE
    pitch = c.uniform(rows, 70, 260) * (1 + c.uniform(rows, 0, 0.15) * torch.sin(2 * math.pi * c.uniform(rows, 0.2, 2) * t + c.uniform(rows, 0, 6)))
    turn = torch.cumsum(pitch / RATE, 1).floor()
    pulses = F.pad((turn[:, 1:] > turn[:, :-1]).float() * (RATE / pitch[:, 1:]).sqrt(), (1, 0))
    breath = c.normal(rows, samples)
    share = torch.maximum(hiss, c.uniform(rows, 0, 0.4)[:, :, None])
    source = spectrum(pulses) * (1 - share).sqrt() + spectrum(breath) * share.sqrt()
    return torch.istft(source * envelope / 16, 512, 128, window=window, length=samples)


def warped(mel, c):
    """The spectrum stretched by up to 12 %: other throats."""
    rows, bands, frames = mel.shape
    at = torch.arange(bands, device=mel.device) * c.uniform(rows, 0.88, 1.12)
    low = at.floor().clamp(0, bands - 2).long()
    part = (at - low).clamp(0, 1)[:, :, None]
    take = lambda k: torch.gather(mel, 1, k[:, :, None].expand(-1, -1, frames))
    return take(low) * (1 - part) + take(low + 1) * part


def masked(mel, rng):
    """Two short holes in pitch and two in time, the same in the whole batch."""
    for _ in range(2):
        band, frame = rng.randint(0, 70), rng.randint(0, max(1, mel.shape[2] - 30))
        mel[:, band : band + rng.randint(1, 9)] = mel.mean()
        mel[:, :, frame : frame + rng.randint(1, 10)] = mel.mean()
    return mel


def at_ratio(speech, noise, lengths, decibels):
    """Speech with noise so many decibels below it; `lengths` are the samples in which the speech is."""
    level = (speech.pow(2).sum(1, keepdim=True) / lengths[:, None]).sqrt() + 1e-5
    return speech + unit(noise) * level * 10 ** (-decibels / 20)


def pad_to(x, samples):
    return F.pad(x, (0, samples - x.shape[1]))
