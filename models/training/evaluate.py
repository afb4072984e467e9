"""How well weights hear: free decoding of test shards, clean and in noise, with the window of the product.

usage: evaluate.py TEST_NOISE.npz SHARD.npz[,SHARD.npz...] WEIGHTS.bin... (JSON, one object a line)"""
import json
import sys
from collections import Counter

import numpy as np
import torch

from clips import Clips
from network import load
from sound import Chance, at_ratio, made_noise, recorded_noise
from words import PREFIX, distance, plain

FRAME, BEFORE, MARGIN, LEAST = 320, 1600, 16, 55  # samples a feature; silence before; frames after; fewest frames
NUMBERS = set("""zero oh nought one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen
seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred point half double triple""".split())
CHOICE = "zero one two three four five six seven eight nine oh point".split()


def frames(samples, margin=MARGIN, least=LEAST):
    return max(least, min(1500, -(-int(samples) // FRAME) + margin))


@torch.no_grad()
def chosen(net, words, features):
    """The likeliest of twelve words for each row, by forced decoding."""
    scores = []
    for word in CHOICE:
        tokens = PREFIX + words.encode(" " + word)
        log = net.spell(torch.tensor([tokens], device=features.device).expand(len(features), -1), features).float().log_softmax(-1)
        scores.append(sum(log[:, k - 1, t] for k, t in enumerate(tokens) if k >= len(PREFIX)))
    return [CHOICE[k] for k in torch.stack(scores, 1).argmax(1).tolist()]


@torch.no_grad()
def hear(net, spectrum, clips, ratio=None, noise=None, before=BEFORE, choose=False):
    """-> {clip number: (tokens heard, digit chosen or None)}; in half of the clips the noise is recorded."""
    heard, c, rng, device = {}, Chance(clips.device, 5), np.random.RandomState(5), clips.device
    for batch in clips.batches(64, jitter=0, seed=0):
        rows, lengths = len(batch), torch.tensor(clips.lengths[batch], device=device).float()
        count = frames(lengths.max() + before)
        x = clips.cut(batch, count * FRAME, torch.full((rows,), before, device=device), torch.ones(rows, device=device))
        if ratio is not None:
            mixed = made_noise(rows, x.shape[1], c)
            if noise is not None:
                half = (torch.arange(rows, device=device) % 2 == 0)[:, None]
                mixed = torch.where(half, mixed, recorded_noise(noise, rows, x.shape[1], c, rng))
            x = at_ratio(x, mixed, lengths, ratio)
        with torch.autocast(device.split(":")[0], torch.bfloat16, enabled=device != "cpu"):
            features = net.hear(spectrum(x))
            tokens = net.read(features, 48)
        digits = chosen(net, net.words, features.float()) if choose else [None] * rows
        heard.update({k: (t, d) for k, t, d in zip(batch, tokens, digits)})
    return heard


def score(net, spectrum, words, clips, ratio=None, noise=None, before=BEFORE, show=0):
    """Counts by kind: clips, exact, a number changed, words said in clips without any, word errors, words;
    of clips of one number word also how many are right when only twelve words may be chosen."""
    net.words, result, wrong = words, {}, []
    choose = any(t in CHOICE for t in clips.texts)
    for k, (tokens, digit) in hear(net, spectrum, clips, ratio, noise, before, choose).items():
        said, meant = plain(words.decode(tokens)), plain(clips.texts[k])
        numbers = [[w for w in text if w in NUMBERS] for text in (said, meant)]
        counts = result.setdefault(clips.kinds[k], Counter())
        counts.update(clips=1, exact=int(said == meant), number_changed=int(bool(meant) and numbers[0] != numbers[1]),
                      invented=int(bool(said) and not meant), word_errors=distance(meant, said) if meant else 0,
                      words=len(meant), chosen=int(digit == clips.texts[k]))  # fmt: skip
        if said != meant:
            wrong.append((clips.kinds[k], " ".join(meant), " ".join(said), clips.who[k] or clips.names[k]))
    return {kind: dict(c) for kind, c in sorted(result.items())}, [wrong[k] for k in np.random.RandomState(1).permutation(len(wrong))[:show]]


def main(noise, shards, *weights):
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.backends.cuda.enable_cudnn_sdp(False)
    for path in weights:
        net, spectrum, words = load(path, device)
        quiet = Clips([noise], words, device)
        for shard in shards.split(","):
            clips = Clips([shard], words, device, longest=16000 * 12)
            speech = any(clips.texts)
            for ratio in (None, 10, 5) if speech else (None,):
                counts, wrong = score(net, spectrum, words, clips, ratio, quiet, show=12)
                print(json.dumps({"weights": path, "shard": shard, "ratio_db": ratio, "counts": counts, "wrong": wrong}), flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
