"""Recordings to a shard: clips of people (and splices of one speaker's words) or noise.

usage: gather.py people FOLDER PEOPLE.tsv OUT.npz      (columns path, kind, speaker, transcript)
       gather.py noise FOLDER OUT.npz [tests]          (`tests`: the half that is never trained on)
       gather.py clips MANIFEST.tsv OUT.npz            (path, text, kind)"""
import csv
import os
import random
import sys

import numpy as np
import soundfile

from clips import kept_for_tests
from render import save


def sound(path):
    x, rate = soundfile.read(path, dtype="int16")
    if rate != 16000 or x.ndim > 1:
        raise SystemExit(f"{path}: 16 kHz mono is read here, this has {rate} Hz and shape {x.shape}")
    return x


def splices(rows, count, r):
    """Short words of one speaker one after the other, 60 to 250 ms apart: real voices saying several words."""
    by = {}
    for x, (_, kind, text, who) in rows:
        if kind in ("digit", "command"):
            by.setdefault(who, []).append((x, text))
    able = [v for v in by.values() if len(v) > 2]
    for k in range(count):
        parts = r.sample(words := r.choice(able), min(len(words), r.randint(2, 4)))
        gap = lambda: np.zeros(r.randint(960, 4000), np.int16)
        joined = np.concatenate([p for x, _ in parts for p in (core(x), gap())])
        yield joined, [f"splice-{k}", "digit", " ".join(t for _, t in parts), "splice"]


def core(x):
    """Without the quiet before and after the word."""
    loud = np.flatnonzero(np.abs(x.astype(np.int32)) > 0.05 * np.abs(x.astype(np.int32)).max())
    return x[max(0, loud[0] - 800) : loud[-1] + 1200]


def main(what, *given):
    if what == "people":
        folder, table, out = given
        with open(table, encoding="utf-8") as f:
            listed = [r for r in csv.DictReader(f, delimiter="\t") if os.path.exists(f"{folder}/{r['path']}")]
        rows = [(sound(f"{folder}/{r['path']}"), [r["path"], r["kind"], r["transcript"] or "@", r["speaker"]]) for r in listed]
        rows += list(splices(rows, 600, random.Random(7)))
    elif what == "noise":
        folder, out, tests = given[0], given[1], len(given) > 2
        names = sorted(n for n in os.listdir(folder) if kept_for_tests(n) == tests)
        rows = [(sound(f"{folder}/{n}"), [n, "noise", "", n.split("__")[0]]) for n in names]
    else:
        table, out = given
        with open(table, encoding="utf-8") as f:
            listed = [(l.rstrip("\n").split("\t") + ["clip"])[:3] for l in f]
        base = os.path.dirname(os.path.abspath(table))
        rows = [(sound(os.path.join(base, p)), [p, kind, text, ""]) for p, text, kind in listed]
    save(out, [x for x, _ in rows], [r for _, r in rows])
    print(len(rows), "clips,", round(sum(len(x) for x, _ in rows) / 960000, 1), "minutes")


if __name__ == "__main__":
    main(*sys.argv[1:])
