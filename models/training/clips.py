"""Sound with its words, kept on the device as 16-bit numbers and cut into batches there."""
import glob
import json
import zlib

import numpy as np
import torch


def kept_for_tests(name):
    """Whether a noise recording is never trained on. Pieces of one recording (…-A, …-B) fall on one side."""
    recording = name.rsplit(".", 1)[0].rsplit("-", 1)[0] if "-" in name else name
    return zlib.crc32(recording.encode()) % 2 == 1


class Clips:
    """The clips of some shards: `kinds`, `texts`, `who` and `tokens` by number, `lengths` in samples."""

    def __init__(self, patterns, words, device, longest=16000 * 9):
        sound, starts, lengths, rows, at = [], [], [], [], 0
        for path in sorted(p for pattern in patterns for p in glob.glob(pattern)):
            z = np.load(path)
            ends, sound = z["ends"], sound + [z["pcm"]]
            starts, lengths = starts + [ends[:-1] + at], lengths + [np.diff(ends)]
            rows, at = rows + json.loads(str(z["rows"])), at + len(z["pcm"])
        self.device, self.pcm = device, torch.from_numpy(np.concatenate(sound)).to(device)
        starts, lengths = np.concatenate(starts), np.concatenate(lengths)
        good = np.flatnonzero((lengths >= 1600) & (lengths <= longest))
        self.starts, self.lengths = starts[good], lengths[good]
        self.names, self.kinds, self.texts, self.who = zip(*[rows[k] for k in good])
        self.tokens = [words.encode(" " + t) if t else [] for t in self.texts]

    def __len__(self):
        return len(self.texts)

    def batches(self, size, jitter=9000, seed=None):
        """All clips once, those of about the same length together."""
        order = np.argsort(self.lengths + np.random.RandomState(seed).rand(len(self)) * jitter)
        return [order[k : k + size] for k in range(0, len(order), size)]

    def cut(self, chosen, samples, at, speed):
        """-> [clips, samples]: clip k begins at sample at[k] and plays at speed[k]; silence around it."""
        begin = torch.tensor(self.starts[chosen], device=self.device)[:, None]
        length = torch.tensor(self.lengths[chosen], device=self.device)[:, None]
        time = (torch.arange(samples, device=self.device)[None] - at[:, None]) * speed[:, None]
        whole = time.floor().long()
        inside = (whole >= 0) & (whole < length - 1)
        whole = whole.clamp(min=0).minimum(length - 2)
        part = time - time.floor()
        mixed = self.pcm[begin + whole].float() * (1 - part) + self.pcm[begin + whole + 1].float() * part
        return torch.where(inside, mixed / 32768, torch.zeros((), device=self.device))
