"""Texts as people say them, weighted by use: readings, shims, short answers, counts and commands before rare measurements.

usage: ordinary.py COUNT SEED SENTENCES.txt WITHOUT.tsv SAMPLE.jsonl... > lines.tsv   (files and columns as in texts.py)
Three quarters of the bench lines are ordinary; the rest are drawn from the grammar. A third of all lines are other talk."""
import json
import os
import random
import re
import sys

import texts
from texts import HERE, ONES, SHORT, TEENS, digits, gap, paused, shim, two

WAYS = [l.strip() for l in open(os.path.join(HERE, "ways.txt")) if l.strip() and not l.startswith("#")]
OPENING = ["right ", "okay ", "so ", "now ", "next ", "then ", "well ", "and ", "right, ", "okay, ", "erm ", "um "]
HEARD_BEFORE = "cylinder pot hole barrel number".split()


def in_passing(r):
    """A place as it is said in the middle of the work."""
    number, side = r.choice(ONES[1:5] * 3 + ONES[5:7]), r.choice("exhaust exhaust inlet inlet intake".split())
    hand = r.choice("left right left right left right front rear".split())
    head = r.choice(["", "", "", "", "", r.choice(HEARD_BEFORE) + " "])
    return r.choice([f"{head}{number} {side} {hand}"] * 5 + [f"{head}{number} {hand} {side}", f"{head}{number} {side}",
                    f"{hand} {side} on {number}", f"{side} {number} {hand}", f"{hand} hand {side} {number}"])  # fmt: skip


def size(r):
    """One number as a clearance is said: hundredths, a decimal, thou."""
    n = r.randint(4, 40)
    zero = r.choice(["oh ", "oh ", "zero ", "nought "])
    return r.choice([two(n), two(n), two(n), f"point {digits(f'{n:02}', r)}", f"point {digits(f'{n:02}', r)}",
                     zero + digits(f"{n:02}", r).split()[-1] if n < 10 else two(n), f"{r.choice(['nought', 'zero', 'oh'])} point {digits(f'{n:02}', r)}",
                     f"point {two(n)}" if n > 9 else two(n), f"{two(n)} hundredths", f"{two(min(n, 20))} thou", f"{two(n)} and a half"])  # fmt: skip


def blades(r):
    """Two blades: one goes, the next does not."""
    low = r.randint(4, 35)
    say = r.choice([two, two, two, lambda n: "point " + digits(f"{n:02}", r), lambda n: ("oh " if n < 10 else "") + two(n)])
    x, y = say(low), say(low + r.choice([1, 2, 3, 3, 5]))
    no = r.choice(["won't", "won't", "doesn't", "doesn't", "won't go", "doesn't go", "no"])
    return r.choice([f"{x} goes {y} {no}"] * 3 + [f"{x} goes, {y} {no}"] * 3 + [f"{x} in {y} {no}", f"{y} {no} {x} goes", f"{x} goes but {y} {no}",
                    f"{x} goes and {y} {no}", f"{x} yes {y} no", f"{x} will {y} won't", f"between {x} and {y}", f"{x} {y}"])  # fmt: skip


SLOTS = {"q": in_passing, "w": size, "x": blades, "h": lambda r: r.choice(["front", "rear"]),
         "k": lambda r: r.choice(["two", "three", "four", "five", "a couple of", "one", "six"]),
         "o": lambda r: r.choice(OPENING) if r.random() < 0.15 else ""}  # fmt: skip


def ordinary(r):
    way = r.choice(WAYS) if r.random() < 0.7 else r.choice(texts.SLOTTED)
    return texts.fill(re.sub(r"\{([qwxhko])\}", lambda m: SLOTS[m[1]](r), way), r)


def line(r, sentences, samples):
    k = r.random()
    if k < 0.68:
        if k < 0.47:
            text = ordinary(r)
            text = paused(text, r) if r.random() < 0.3 else text
        elif k < 0.59:
            text = paused(r.choice(samples), r)
        elif k < 0.64:
            text = texts.close(r)
        else:
            text = texts.alone(r)
        return "bench", text, text.replace(",", "")
    while (other := texts.line(r, sentences, samples))[0] == "bench":
        pass
    return other


def main(count, seed, sentences, without, *files):
    r, seen, left_out = random.Random(int(seed)), {}, set()
    with open(without, encoding="utf-8") as f:
        kept = {" ".join(re.findall(r"[a-z']+", l.split("\t")[1].lower())) for l in f if "\t" in l}
    kept = {t for k in kept for t in (k, " ".join(SHORT.get(w, w) for w in k.split())) if len(k.split()) > 3}
    sentences = [l.strip() for l in open(sentences) if l.strip()]
    samples = [json.loads(l)["text"] for f in files for l in open(f)]
    samples = [" ".join(SHORT.get(w, w) for w in t.split()) for t in samples]
    while len(seen) < int(count):
        kind, spoken, written = line(r, sentences, samples)
        if " ".join(re.findall(r"[a-z']+", written.lower())) in kept:
            left_out.add(written)
            continue
        times = sum((written, k) in seen for k in range(12))
        if times < (12 if kind in ("bench", "word") and len(written.split()) < 4 else 1) and len(spoken) < 120:
            seen[(written, times)] = None
            print(f"{seed}-{len(seen):06}\t{kind}\t{spoken}\t{written}")
    print(len(left_out), "lines that are kept for tests left out", file=sys.stderr)


if __name__ == "__main__":
    main(*sys.argv[1:])
