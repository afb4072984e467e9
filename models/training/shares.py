"""How likely the right text is with a share of some runs of refit.py mixed into START, on clips that no run was trained on.

usage: shares.py START.bin CLIPS.npz NOISE.npz SHARES RUN.npz...      (SHARES like 0.35,0.5,0.75,1; JSON, one object a line)
For each kind of clip and level of noise in dB: the negative log-likelihood of the text in nats, and the percentage of clips in
which every token is the likeliest. Choose the share here, before the test clips are heard."""
import json
import sys

import numpy as np
import torch
import torch.nn.functional as F

from clips import Clips
from evaluate import FRAME, frames
from network import load
from sound import Chance, at_ratio, recorded_noise
from words import END, PREFIX

BEFORE, LEVELS = 3200, (None, 5, 0, -4)


@torch.no_grad()
def likelihood(net, spectrum, clips, noise):
    found, device = {}, clips.device
    for ratio in LEVELS:
        c, rng = Chance(device, 1), np.random.RandomState(1)
        for batch in clips.batches(100, jitter=0, seed=0):
            rows, lengths = len(batch), torch.tensor(clips.lengths[batch], device=device).float()
            count = frames(lengths.max() + BEFORE)
            x = clips.cut(batch, count * FRAME, torch.full((rows,), BEFORE, device=device), torch.ones(rows, device=device))
            if ratio is not None:
                x = at_ratio(x, recorded_noise(noise, rows, x.shape[1], c, rng), lengths, ratio)
            lines = [PREFIX + clips.tokens[k] + [END] for k in batch]
            given = torch.full((rows, max(map(len, lines))), END)
            wanted = torch.full(given.shape, -100)
            for k, line in enumerate(lines):
                given[k, : len(line)] = torch.tensor(line)
                wanted[k, 1 : len(line) - 1] = given[k, 2 : len(line)]
            given, wanted = given.to(device), wanted.to(device)
            scores = net.spell(given, net.hear(spectrum(x)))
            nats = F.cross_entropy(scores.transpose(1, 2), wanted, ignore_index=-100, reduction="none").sum(1)
            right = ((scores.argmax(-1) == wanted) | (wanted < 0)).all(1)
            for k, n, r in zip(batch, nats.tolist(), right.tolist()):
                found.setdefault(f"{clips.kinds[k]} {'clean' if ratio is None else ratio}", []).append((n, 100 * r))
    return {k: np.mean(v, 0).round(3).tolist() for k, v in sorted(found.items())}


def main(start, clips, noise, shares, *paths):
    device = "cuda" if torch.cuda.is_available() else "cpu"
    net, spectrum, words = load(start, device)
    clips, noise = Clips([clips], words, device), Clips([noise], words, device)
    own = {n: p.detach().clone() for n, p in net.named_parameters()}
    runs = [np.load(p) for p in paths]
    moved = {n: sum(torch.tensor(r[n], device=device).reshape(p.shape) - p for r in runs if n in r) / len(runs) for n, p in own.items()}
    for share in [0.0, *map(float, shares.split(","))]:
        net.load_state_dict({n: p + share * moved[n] for n, p in own.items()})
        print(json.dumps({"share": share, "nats_and_exact": likelihood(net.eval(), spectrum, clips, noise)}), flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
