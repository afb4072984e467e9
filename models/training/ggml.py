"""Whisper weights in the ggml file format: read (f32, f16, q8_0), write with the types of a given file, mix."""
import struct
import sys

import numpy as np

F32, F16, Q8_0 = 0, 1, 8
BLOCK = 32  # values that share a scale in q8_0


class File:
    """A ggml Whisper file: `sizes` (the eleven numbers of its head), mel `filters`, `vocab` (bytes of each token),
    `tensors` (name -> float32 array), `types` (name -> how it is stored), `raw` (name -> its bytes), `head` (the bytes before
    the tensors)."""

    def __init__(self, path):
        with open(path, "rb") as f:
            data = f.read()
        magic, *self.sizes = struct.unpack_from("i11i", data)
        if magic != 0x67676D6C:
            raise SystemExit(f"{path}: not a ggml Whisper file")
        rows, columns = struct.unpack_from("ii", data, 48)
        at = 56 + rows * columns * 4
        self.filters = np.frombuffer(data, np.float32, rows * columns, 56).reshape(rows, columns)
        (count,) = struct.unpack_from("i", data, at)
        at += 4
        self.vocab = []
        for _ in range(count):
            (length,) = struct.unpack_from("i", data, at)
            self.vocab.append(data[at + 4 : at + 4 + length])
            at += 4 + length
        self.head, self.tensors, self.types, self.raw = data[:at], {}, {}, {}
        while at < len(data):
            dims, length, kind = struct.unpack_from("iii", data, at)
            shape = struct.unpack_from("i" * dims, data, at + 12)[::-1]
            at += 12 + 4 * dims
            name = data[at : at + length].decode()
            at += length
            size = int(np.prod(shape)) * {F32: 4, F16: 2}.get(kind, 0) or int(np.prod(shape)) // BLOCK * (BLOCK + 2)
            self.raw[name] = data[at : at + size]
            self.tensors[name] = unpack(self.raw[name], kind).reshape(shape)
            self.types[name] = kind
            at += size

    def write(self, path, tensors):
        """Writes `tensors` (name -> array) with this file's head and types. A tensor that is not given stays bit by bit."""
        with open(path, "wb") as f:
            f.write(self.head)
            for name, old in self.tensors.items():
                shape, kind, label = old.shape, self.types[name], name.encode()
                f.write(struct.pack("iii", len(shape), len(label), kind) + struct.pack("i" * len(shape), *shape[::-1]))
                f.write(label + (pack(np.asarray(tensors[name], np.float32), kind) if name in tensors else self.raw[name]))


def unpack(data, kind):
    """The bytes of one tensor as a flat float32 array."""
    if kind == F32:
        return np.frombuffer(data, np.float32)
    if kind == F16:
        return np.frombuffer(data, np.float16).astype(np.float32)
    if kind != Q8_0:
        raise SystemExit(f"tensor type {kind} is not read here: f32, f16 and q8_0 are")
    rows = np.frombuffer(data, np.uint8).reshape(-1, BLOCK + 2)
    scale = rows[:, :2].copy().view(np.float16).astype(np.float32)
    return (rows[:, 2:].copy().view(np.int8) * scale).astype(np.float32).ravel()


def pack(x, kind):
    """The bytes of one tensor, rounded to nearest."""
    if kind == F32:
        return x.tobytes()
    if kind == F16:
        return x.astype(np.float16).tobytes()
    blocks = x.reshape(-1, BLOCK)
    scale = np.abs(blocks).max(1) / 127
    whole = np.rint(blocks / np.maximum(scale, 1e-30)[:, None]).clip(-127, 127).astype(np.int8)
    rows = np.empty((len(blocks), BLOCK + 2), np.uint8)
    rows[:, :2] = scale.astype(np.float16)[:, None].view(np.uint8)
    rows[:, 2:] = whole.view(np.uint8)
    return rows.tobytes()


def main(like, out, *parts):
    """ggml.py LIKE.bin OUT.bin WEIGHTS[@SHARE] ... : the mean of some .npz or .bin weights, stored like LIKE.
    A tensor that is missing in one of them counts as it is in LIKE."""
    source, total, mean = File(like), 0.0, {}
    for part in parts:
        path, _, share = part.partition("@")
        share = float(share or 1)
        weights = File(path).tensors if path.endswith(".bin") else np.load(path)
        for name in weights:
            own = source.tensors[name].ravel().astype(np.float64)
            mean[name] = mean.get(name, 0) + share * (np.asarray(weights[name], np.float32).ravel() - own)
        total += share
    source.write(out, {n: source.tensors[n] + (m / total).reshape(source.tensors[n].shape) for n, m in mean.items()})


if __name__ == "__main__":
    main(*sys.argv[1:])
