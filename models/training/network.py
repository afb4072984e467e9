"""Whisper's network in torch, with the tensor names of the ggml file, and the spectrum that whisper.cpp feeds it."""
import torch
import torch.nn as nn
import torch.nn.functional as F

from ggml import File
from words import END, PREFIX, Words

HOP, SECONDS_30 = 160, 480000  # samples a spectrum column; samples of the full window


class Attention(nn.Module):
    def __init__(self, width, heads):
        super().__init__()
        self.heads = heads
        self.query, self.key = nn.Linear(width, width), nn.Linear(width, width, bias=False)
        self.value, self.out = nn.Linear(width, width), nn.Linear(width, width)

    def forward(self, x, other=None, causal=False):
        batch, length, width = x.shape
        split = lambda t: t.view(batch, -1, self.heads, width // self.heads).transpose(1, 2)
        y = x if other is None else other
        got = F.scaled_dot_product_attention(
            split(self.query(x)), split(self.key(y)), split(self.value(y)), is_causal=causal
        )
        return self.out(got.transpose(1, 2).reshape(batch, length, width))


class Block(nn.Module):
    def __init__(self, width, heads, cross):
        super().__init__()
        self.attn, self.attn_ln = Attention(width, heads), nn.LayerNorm(width)
        self.cross_attn = Attention(width, heads) if cross else None
        self.cross_attn_ln = nn.LayerNorm(width) if cross else None
        self.mlp = nn.Sequential(nn.Linear(width, 4 * width), nn.GELU(), nn.Linear(4 * width, width))
        self.mlp_ln = nn.LayerNorm(width)

    def forward(self, x, sound=None):
        x = x + self.attn(self.attn_ln(x), causal=sound is not None)
        if self.cross_attn is not None:
            x = x + self.cross_attn(self.cross_attn_ln(x), sound)
        return x + self.mlp(self.mlp_ln(x))


class Whisper(nn.Module):
    """`hear` turns spectra into features, `spell` features and tokens into the scores of the next token."""

    def __init__(self, sizes):
        super().__init__()
        vocab, frames, width, heads, layers, length, dwidth, dheads, dlayers, mels, _ = sizes
        e, d = nn.Module(), nn.Module()
        e.conv1, e.conv2 = nn.Conv1d(mels, width, 3, padding=1), nn.Conv1d(width, width, 3, stride=2, padding=1)
        e.positional_embedding = nn.Parameter(torch.zeros(frames, width), requires_grad=False)
        e.blocks = nn.ModuleList(Block(width, heads, False) for _ in range(layers))
        e.ln_post = nn.LayerNorm(width)
        d.token_embedding = nn.Embedding(vocab, dwidth)
        d.positional_embedding = nn.Parameter(torch.zeros(length, dwidth))
        d.blocks = nn.ModuleList(Block(dwidth, dheads, True) for _ in range(dlayers))
        d.ln = nn.LayerNorm(dwidth)
        self.encoder, self.decoder = e, d

    def hear(self, spectrum):
        e = self.encoder
        x = F.gelu(e.conv2(F.gelu(e.conv1(spectrum)))).transpose(1, 2)
        x = x + e.positional_embedding[: x.shape[1]]
        for block in e.blocks:
            x = block(x)
        return e.ln_post(x)

    def spell(self, tokens, features):
        d = self.decoder
        x = d.token_embedding(tokens) + d.positional_embedding[: tokens.shape[1]]
        for block in d.blocks:
            x = block(x, features)
        return d.ln(x) @ d.token_embedding.weight.T

    @torch.no_grad()
    def read(self, features, most):
        """The likeliest tokens one after the other, at most `most`, each row ended by END."""
        rows = len(features)
        tokens = torch.tensor([PREFIX] * rows, device=features.device)
        done = torch.zeros(rows, dtype=torch.bool, device=features.device)
        for _ in range(most):
            scores = self.spell(tokens, features)[:, -1].float()
            scores[:, END + 1 :] = -1e9
            best = scores.argmax(-1).masked_fill(done, END)
            tokens, done = torch.cat([tokens, best[:, None]], 1), done | (best == END)
            if done.all():
                break
        return [row + [END] for row in tokens[:, len(PREFIX) :].tolist()]


class Spectrum:
    """Log-mel spectrum as whisper.cpp makes it; loudness is taken from each clip's own maximum."""

    def __init__(self, filters, device):
        self.filters, self.window = torch.tensor(filters, device=device), torch.hann_window(400, device=device)

    def __call__(self, x):
        power = torch.stft(x, 400, HOP, window=self.window, pad_mode="reflect", return_complex=True)[..., :-1].abs() ** 2
        log = torch.clamp(self.filters @ power, min=1e-10).log10()
        return (torch.maximum(log, log.amax((1, 2), keepdim=True) - 8) + 4) / 4


def load(path, device):
    """-> network, spectrum, words of a ggml file."""
    file = File(path)
    net = Whisper(file.sizes)
    own = net.state_dict()
    net.load_state_dict({n: torch.tensor(t).reshape(own[n].shape) for n, t in file.tensors.items()})
    return net.to(device), Spectrum(file.filters, device), Words(file.vocab)
