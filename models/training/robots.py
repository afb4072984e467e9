"""Says lines with the small voices of flite: plainer and more robotic than Kokoro's, for variety.

usage: robots.py LINES.tsv OUT.npz PROCESSES [FLITE]"""
import os
import random
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor

import soundfile
import torch
from torchaudio.functional import resample

from render import RATE, save, trimmed

VOICES = "awb rms slt kal16".split()


def say(job):
    program, k, line = job
    number, kind, spoken, written = line.rstrip("\n").split("\t")
    r = random.Random(number)
    voice = VOICES[k % len(VOICES)]
    handle, path = tempfile.mkstemp(suffix=".wav")
    os.close(handle)
    # rms keeps his own pitch; a small deviation is a flat, machine-like tune
    manner = {"duration_stretch": r.uniform(0.7, 1.35), "int_f0_target_mean": r.randint(65, 260), "int_f0_target_stddev": r.randint(1, 30)}
    set_all = [word for name, value in manner.items() for word in ("--setf", f"{name}={value:.2f}")]
    command = [program, "-voice", voice, *set_all, "-t", spoken, "-o", path]
    try:
        subprocess.run(command, check=True, capture_output=True)
        x, rate = soundfile.read(path, dtype="float32")
    finally:
        os.remove(path)
    x = torch.from_numpy(x)
    cut = trimmed(x if rate == RATE else resample(x, rate, RATE)) if len(x) else None
    return cut, [number, kind, written, "flite-" + voice]


def main(lines, out, processes, program="flite"):
    torch.set_num_threads(1)
    with open(lines, encoding="utf-8") as f, ThreadPoolExecutor(int(processes)) as pool:
        said = [s for s in pool.map(say, ((program, k, l) for k, l in enumerate(f))) if s[0] is not None]
    save(out, [x for x, _ in said], [r for _, r in said])
    print(len(said), "lines said")


if __name__ == "__main__":
    main(*sys.argv[1:])
