#!/usr/bin/env python3
"""Renders the read-back word bank: bank.flac and bank.tsv from words.txt.

  make_bank.py KIT_DIR [--out DIR] [--threads 2]

KIT_DIR holds kokoro_say.py, kokoro/ (model, voices, vocabulary) and is run with its Python
(numpy, onnx, onnxruntime, soundfile, misaki). Each entry is spoken before a carrier word ("blade, part.")
so that its intonation does not end a sentence; the model's own predicted durations say where the
entry ends, the quietest point between it and the carrier is where it is cut.
"""
import argparse, os, sys
import numpy as np

VOICE = "bf_emma"
SPEED = 1.1
AFTER = ", pˈɑːt."   # the carrier, in the model's sounds: "..., part."; the closure of its p is silent
STYLE_ROW = 15       # one row of the voice's style table for every entry: one manner of speaking
FRAME = 600          # samples at 24 kHz to one unit of predicted duration
RATE = 24000
TARGET_RMS_DBFS = -20.0
PEAK_DBFS = -1.5
FADE_MS = 5
PAD_MS = 12          # kept around the part above the threshold: soft onsets and releases
THRESHOLD_DB = -36.0 # below the entry's loudest 10 ms
GAP_MS = 10          # silence between entries in the file: decoder-independent, never spoken
DROP_BITS = 4        # low bits set to zero: 57 dB under the speech, near half less to store

# Pronunciations that the dictionary gives otherwise, or weak forms that a list would swallow.
SOUNDS = {
    "thou": "θˈW", "a": "ˈA", "to": "tˈuː", "of": "ˈɒv", "the": "ðˈə", "an": "ˈan",
    "runout": "ɹˈʌnˌWt", "kilopascal": "kˈɪləpˌaskəl", "kilopascals": "kˈɪləpˌaskəlz",
    "micron": "mˈIkɹɒn", "microns": "mˈIkɹɒnz", "oh": "ˈQ", "per": "pˈɜː", "at": "ˈat",
    "is": "ˈɪz", "it": "ˈɪt", "in": "ˈɪn", "and": "ˈand", "are": "ˈɑː", "was": "wˈɒz",
    "from": "fɹˈɒm", "for": "fˈɔː", "by": "bˈI", "on": "ˈɒn", "or": "ˈɔː", "not": "nˈɒt",
    "p s i": "pˌiː ˌɛs ˈI", "c c": "sˌiː sˈiː", "dowels": "dˈWəlz", "celsius": "sˈɛlsɪəs",
    "with": "wˈɪð", "that": "ðˈat", "this": "ðˈɪs",
}


def load(kit, threads):
    """The model with its own per-sound durations as a second output."""
    sys.path.insert(0, kit)
    import kokoro_say as k
    import onnx, onnxruntime as ort
    m = onnx.load(f"{k.D}/kokoro-v1.0.fp32.onnx")
    m.graph.output.append(onnx.helper.make_tensor_value_info("/encoder/Clip_output_0", onnx.TensorProto.FLOAT, None))
    o = ort.SessionOptions()
    o.intra_op_num_threads = threads
    return k, ort.InferenceSession(m.SerializeToString(), o, providers=["CPUExecutionProvider"])


def speak(k, s, style, entry):
    """The sound of the carrier with one entry, and the samples between which its end may be cut."""
    own = SOUNDS.get(entry) or k.g2p(entry, VOICE[0] == "b")
    ps = own + AFTER
    unknown = {c for c in ps if c not in k.VOCAB}
    if unknown:
        sys.exit(f"{entry}: sounds that the model does not know: {unknown}")
    tokens = [0, *(k.VOCAB[c] for c in ps), 0]
    audio, dur = s.run(None, {"tokens": np.array([tokens], np.int64), "style": style[None], "speed": np.array([SPEED], np.float32)})
    audio, edge = audio.ravel(), np.concatenate([[0], np.cumsum(dur.ravel())]).astype(int) * FRAME
    assert abs(edge[-1] - len(audio)) <= 2 * FRAME, (edge[-1], len(audio))
    b = 1 + len(own)                             # 1: the zero token that opens the sentence
    return audio, edge[b] - FRAME // 2, edge[b + 2] + FRAME // 2


def quietest(x, lo, hi):
    """Where the quietest 5 ms between two samples lie."""
    h = RATE // 200
    e = [(x[i : i + h] ** 2).sum() for i in range(lo, hi, h // 4)]
    return lo + int(np.argmin(e)) * (h // 4) + h // 2


def cut(audio, lo, hi):
    """The entry up to the quietest point before the carrier, trimmed to what sounds."""
    audio = audio.astype(np.float64)
    x = audio[: quietest(audio, lo, hi)]
    h = RATE // 200
    n = len(x) // h
    db = 10 * np.log10((x[: n * h].reshape(n, h) ** 2).mean(1) + 1e-12)
    loud = np.flatnonzero(db > db.max() + THRESHOLD_DB)
    pad = PAD_MS * RATE // 1000
    p, q = max(0, loud[0] * h - pad), min(len(x), (loud[-1] + 1) * h + pad)
    y = x[p:q] - x[p:q].mean()
    f = FADE_MS * RATE // 1000
    r = np.sin(np.linspace(0, np.pi / 2, f)) ** 2
    y[:f] *= r
    y[-f:] *= r[::-1]
    return y


def level(y):
    """Equal loudness over the voiced part (10 ms blocks within 20 dB of the loudest), peaks held."""
    h = RATE // 100
    e = (y[: len(y) // h * h].reshape(-1, h) ** 2).mean(1)
    rms = np.sqrt(e[e > e.max() / 100].mean())
    g = min(10 ** (TARGET_RMS_DBFS / 20) / rms, 10 ** (PEAK_DBFS / 20) / np.abs(y).max())
    step = 1 << DROP_BITS
    return (np.round(y * g * 32768 / step) * step).clip(-32768, 32767).astype(np.int16)


def main():
    p = argparse.ArgumentParser()
    p.add_argument("kit")
    p.add_argument("--out", default=os.path.dirname(os.path.abspath(__file__)))
    p.add_argument("--threads", type=int, default=2)
    p.add_argument("--add", action="store_true", help="keep what the bank has, speak only what is new")
    a = p.parse_args()
    here = os.path.dirname(os.path.abspath(__file__))
    entries = [w.strip() for w in open(f"{here}/words.txt") if w.strip()]
    assert len(set(entries)) == len(entries), "words.txt names an entry twice"
    import soundfile as sf
    k, s = load(os.path.abspath(a.kit), a.threads)
    style = k.Kokoro.style(type("V", (), {"v": {}})(), VOICE)[STYLE_ROW].astype(np.float32)
    gap, parts, rows, at = np.zeros(GAP_MS * RATE // 1000, np.int16), [], [], 0
    kept = {}
    if a.add:
        old = sf.read(f"{a.out}/bank.flac", dtype="int16")[0]
        for line in open(f"{a.out}/bank.tsv"):
            entry, start, length = line.rstrip("\n").split("\t")
            kept[entry] = old[int(start) : int(start) + int(length)]
    for e in entries:
        y = kept[e] if e in kept else level(cut(*speak(k, s, style, e)))
        assert 0.12 <= len(y) / RATE <= 1.6, f"{e}: {len(y) / RATE:.3f} s"
        rows.append(f"{e}\t{at}\t{len(y)}\n")
        parts += [y, gap]
        at += len(y) + len(gap)
    sf.write(f"{a.out}/bank.flac", np.concatenate(parts), RATE, subtype="PCM_16", compression_level=1.0)
    open(f"{a.out}/bank.tsv", "w").writelines(rows)
    size = os.path.getsize(f"{a.out}/bank.flac")
    print(f"{len(entries)} entries, {at / RATE:.1f} s, {size} bytes")
    assert size <= 3_500_000


if __name__ == "__main__":
    main()
