"""Says the lines of voices.py with Kokoro: shards of 16 kHz sound, several processes on all GPUs.

usage: render.py KOKORO.onnx LINES.npz OUT_PREFIX SECONDS PROCESSES"""
import json
import os
import sys
import time

import numpy as np
import torch
import torch.multiprocessing as mp

RATE, PEAK = 16000, 0.6


def trimmed(sound):
    """The speech with 50 ms before and 100 ms after it at the level PEAK, as 16-bit numbers; None if there is none."""
    top = sound.abs().max()
    loud = torch.nonzero(sound.abs() > 0.01 * top).flatten()
    if len(loud) < 1000 or not torch.isfinite(sound).all():
        return None
    first, last = torch.stack([loud[0], loud[-1]]).tolist()
    cut = sound[max(0, first - RATE // 20) : last + RATE // 10]
    return (cut * (PEAK / top) * 32767).to(torch.int16).cpu().numpy()


def work(rank, count, model, lines, out, end):
    torch.set_num_threads(1)
    device = f"cuda:{rank % torch.cuda.device_count()}" if torch.cuda.is_available() else "cpu"
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    from torchaudio.functional import resample

    from graph import Graph

    voice, z = Graph(model, device), np.load(lines)
    tokens, ends, rows = z["tokens"], z["ends"], json.loads(str(z["rows"]))
    style = dict(zip(z["names"].tolist(), torch.from_numpy(z["style"].astype(np.float32)).to(device)))
    sound, kept, start = [], [], time.time()
    for k in range(rank, len(rows), count):
        if time.time() > end:
            break
        number, kind, written, who, speed, blend = rows[k]
        sounds = tokens[ends[k] : ends[k + 1]].astype(np.int64)
        manner = sum(style[name][min(len(sounds), len(style[name]) - 1)] * share for name, share in blend)
        padded = torch.from_numpy(np.concatenate([[0], sounds, [0]])[None]).to(device)
        try:
            said = voice.run(tokens=padded, style=manner[None], speed=torch.tensor([speed], device=device)).reshape(-1)
        except (RuntimeError, IndexError) as error:
            print("left out", written, repr(error)[:200], flush=True)
            continue
        cut = trimmed(resample(said, 24000, RATE))
        if cut is not None:
            sound.append(cut)
            kept.append([number, kind, written, who])
        if rank == 0 and len(kept) % 100 == 0:
            print(f"{len(kept)} by the first of {count} in {time.time() - start:.0f} s", flush=True)
    save(f"{out}_{rank:02}.npz", sound, kept)


def save(path, sound, rows):
    """Writes a shard whole or not at all: `pcm`, `ends` and rows of number, kind, text and speaker."""
    if rows:
        ends = np.cumsum([0] + [len(s) for s in sound])
        np.savez(path + ".part.npz", pcm=np.concatenate(sound), ends=ends, rows=json.dumps(rows))
        os.rename(path + ".part.npz", path)


def main(model, lines, out, seconds, processes):
    end = time.time() + float(seconds)
    mp.spawn(work, (int(processes), model, lines, out, end), nprocs=int(processes))


if __name__ == "__main__":
    main(*sys.argv[1:])
