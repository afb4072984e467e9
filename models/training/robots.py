"""Says lines with small synthesisers, plainer and more robotic than Kokoro: flite, or espeak-ng's accents and throats.

usage: robots.py LINES.tsv OUT.npz PROCESSES flite|espeak-ng [PROGRAM]
Kept for tests: Festival's voices, so flite's kal16 and slt too (the same speakers), and two voices of espeak-ng."""
import random
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import torch
from torchaudio.functional import resample

from render import RATE, save, trimmed

FLITE = "awb rms".split()
ACCENTS = "en-us en-us en-gb en-gb en-gb-scotland en-gb-x-rp en-gb-x-gbclan en-gb-x-gbcwmd en-029".split()
THROATS = """m1 m2 m3 m4 m5 m6 m7 m8 f1 f2 f3 f4 f5 klatt klatt2 klatt3 klatt4 klatt5 klatt6 adam Alex Andy Annie announcer aunty
belinda benjamin boris caleb david ed edward edward2 Gene Gene2 grandma grandpa gustave iven iven2 iven3 iven4 Jacky john Lee
linda marcelo Marco Mario max michel Michael miguel Mike norbert paul pedro quincy rob robert robosoft robosoft2 robosoft3
robosoft4 robosoft5 robosoft6 robosoft7 robosoft8 sandro shelby steph steph2 steph3 travis UniRobot victor zac Hugo Denis
Diogo anika anikaRobot Andrea Alicia""".split()
HELD = ("en-us+m3", "en-gb-scotland+f2")
CHOOSING = ("en-gb+f4", "en-us+Andy", "en-gb-x-rp+michael")  # the share of a refit is chosen with these


def flite(program, spoken, r):
    voice = r.choice(FLITE)
    # rms keeps his own pitch; a small deviation is a flat, machine-like tune
    manner = {"duration_stretch": r.uniform(0.7, 1.35), "int_f0_target_mean": r.randint(65, 260), "int_f0_target_stddev": r.randint(1, 30)}
    set_all = [word for name, value in manner.items() for word in ("--setf", f"{name}={value:.2f}")]
    return "flite-" + voice, [program, "-voice", voice, *set_all, "-t", spoken, "-o", "/dev/stdout"]


def espeak(program, spoken, r):
    voice = HELD[0]
    while voice in HELD + CHOOSING:
        voice = r.choice(ACCENTS) + ("" if r.random() < 0.1 else "+" + r.choice(THROATS))
    manner = ["-s", r.randint(105, 215), "-p", r.choice([50, r.randint(15, 85)]), "-g", r.choice([0, 0, 0, 0, 1, 3])]
    return "espeak-" + voice, [program, "-v", voice, *map(str, manner), "--stdout", spoken]


def say(job):
    make, program, line = job
    number, kind, spoken, written = line.rstrip("\n").split("\t")
    who, command = make(program, spoken, random.Random(number))
    wave = subprocess.run(command, capture_output=True).stdout
    if len(wave) < 4000:
        return None, None
    # the length in the head is wrong when the file is a pipe, so only the rate is read there
    x, rate = torch.frombuffer(bytearray(wave[44 : len(wave) // 2 * 2]), dtype=torch.int16) / 32768, int.from_bytes(wave[24:28], "little")
    return trimmed(x if rate == RATE else resample(x, rate, RATE)), [number, kind, written, who]


def main(lines, out, processes, which, program=None):
    torch.set_num_threads(1)
    make = {"flite": flite, "espeak-ng": espeak}[which]
    with open(lines, encoding="utf-8") as f, ThreadPoolExecutor(int(processes)) as pool:
        said = [s for s in pool.map(say, ((make, program or which, l) for l in f)) if s[0] is not None]
    save(out, [x for x, _ in said], [r for _, r in said])
    print(len(said), "lines said")


if __name__ == "__main__":
    main(*sys.argv[1:])
