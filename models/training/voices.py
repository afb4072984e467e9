"""Which voice says which line: phonemes to Kokoro's tokens, style vectors and their blends.

usage: voices.py LINES.tsv OUT.npz SEED KOKORO_FOLDER [held]
KOKORO_FOLDER has vocab.json and voices/*.bin; the pronunciations are those of the Python package misaki,
espeak-ng spells words that are in neither of its dictionaries. `held` takes only the voices kept for testing."""
import functools
import importlib.util
import json
import os
import random
import re
import subprocess
import sys

import numpy as np

HELD = "af_nova am_fenrir bf_lily bm_fable bm_lewis af_kore am_puck bf_isabella".split()
ROWS = 200  # style vectors of a voice that are kept: one for each length in tokens
# espeak-ng's signs -> Kokoro's, longest first
SIGNS = {"ʔˌn\u0329": "tn", "ʔn\u0329": "tn", "ʔn": "tn", "ʔ": "t", "a^ɪ": "I", "a^ʊ": "W", "d^ʒ": "ʤ", "e^ɪ": "A", "e": "A",
         "t^ʃ": "ʧ", "ɔ^ɪ": "Y", "ə^l": "ᵊl", "ʲ": "", "ɚ": "əɹ", "r": "ɹ", "x": "k", "ç": "k", "ɐ": "ə", "ɬ": "l", "\u0303": ""}  # fmt: skip
SIGNS = sorted(SIGNS.items(), key=lambda kv: -len(kv[0]))
GIVEN = {"a": "ɐ", "the": "ðə", "to": "tə", "of": "əv", "nought": "nˈɔːt", "inlet": "ˈɪnlɛt"}


@functools.lru_cache(None)
def dictionary(british):
    folder = os.path.join(os.path.dirname(importlib.util.find_spec("misaki").origin), "data")
    both = {}
    for part in ("silver", "gold"):
        with open(f"{folder}/{'gb' if british else 'us'}_{part}.json", encoding="utf-8") as f:
            both.update(json.load(f))
    return both


@functools.lru_cache(None)
def spelled(word, british):
    voice = "en-gb" if british else "en-us"
    command = ["espeak-ng", "-q", "--ipa", "--tie=^", "-v", voice, word]
    text = subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip().replace("\u0361", "^")
    for sign, ours in SIGNS:
        text = text.replace(sign, ours)
    text = re.sub(r"(\S)\u0329", r"ᵊ\1", text).replace("\u0329", "")
    if british:
        text = text.replace("e^ə", "ɛː").replace("iə", "ɪə").replace("ə^ʊ", "Q")
    else:
        text = text.replace("o^ʊ", "O").replace("ɜːɹ", "ɜɹ").replace("ɜː", "ɜɹ").replace("ɪə", "iə").replace("ː", "")
    return text.replace("o", "ɔ").replace("^", "")


def phonemes(text, british):
    out = ""
    for part in re.findall(r"[A-Za-z']+|[,.!?;:]", text):
        if part in ",.!?;:":
            out += part
            continue
        word = part.lower()
        if word == "oh":
            sound = "ˈQ" if british else "ˈO"
        elif word == "psi":
            sound = "pˌiːˌɛsˈI" if british else "pˌiˌɛsˈI"
        elif word in GIVEN:
            sound = GIVEN[word] if british else GIVEN[word].replace("ː", "")
        else:
            sound = dictionary(british).get(word)
            sound = (sound.get("DEFAULT") if isinstance(sound, dict) else sound) or spelled(word, british)
        out += (" " if out else "") + sound
    return out


def choose(names, held, r):
    """-> [(voice, share), ...]; blends of two or three make people who are not in the list"""
    if held:
        return [(r.choice(names), 1.0)]
    english = [n for n in names if n[0] in "ab"]
    k = r.random()
    if k < 0.5:
        return [(r.choice(english if r.random() < 0.85 else names), 1.0)]
    if k < 0.85:
        share = round(r.uniform(0.4, 0.9), 2)
        return [(r.choice(english), share), (r.choice(names), round(1 - share, 2))]
    return [(r.choice(english), 0.5), (r.choice(names), 0.3), (r.choice(names), 0.2)]


def main(lines, out, seed, folder, held=None):
    with open(f"{folder}/vocab.json", encoding="utf-8") as f:
        vocab = json.load(f)["vocab"]
    files = sorted(f[:-4] for f in os.listdir(f"{folder}/voices"))
    names = [v for v in files if (v in HELD) == bool(held) and "santa" not in v]
    r, tokens, rows = random.Random(int(seed)), [], []
    for line in open(lines, encoding="utf-8"):
        number, kind, spoken, written = line.rstrip("\n").split("\t")
        voice = choose(names, held, r)
        british = voice[0][0][0] == "b" or (voice[0][0][0] != "a" and r.random() < 0.5)
        text = spoken if spoken[-1] in ".?!" else spoken + r.choice("....,?")
        sounds = [vocab[c] for c in phonemes(text, british) if c in vocab][: ROWS - 1]
        tokens.append(np.array(sounds, np.uint8))
        speed = round(r.uniform(0.85, 1.3) if held else r.uniform(0.75, 1.45), 2)
        rows.append([number, kind, written, "+".join(n for n, _ in voice), speed, voice])
    style = np.stack([np.fromfile(f"{folder}/voices/{n}.bin", np.float32).reshape(-1, 256)[:ROWS] for n in names])
    ends = np.cumsum([0] + [len(t) for t in tokens])
    np.savez_compressed(out, tokens=np.concatenate(tokens), ends=ends, rows=json.dumps(rows), names=names, style=style.astype(np.float16))
    print(len(rows), "lines,", len(names), "voices")


if __name__ == "__main__":
    main(*sys.argv[1:])
