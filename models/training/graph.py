"""Runs the ONNX graph of the Kokoro voice with torch, one utterance at a time, on a GPU or not.

Shapes stay on the processor, everything with a fraction on the device. Only what that graph uses is here."""
import math

import numpy as np
import onnx
import torch
import torch.nn.functional as F
from onnx import numpy_helper

TYPES = {1: torch.float32, 6: torch.int32, 7: torch.int64, 9: torch.bool, 10: torch.float16, 11: torch.float64}


class Graph:
    def __init__(self, path, device):
        graph = onnx.load(path).graph
        self.device, self.out = device, graph.output[0].name
        self.fixed, self.lists, self.cells, self.steps = {}, {}, {}, []
        for tensor in graph.initializer:
            self._fix(tensor.name, numpy_helper.to_array(tensor))
        for node in graph.node:
            given = {a.name: onnx.helper.get_attribute_value(a) for a in node.attribute}
            given = {k: v.decode() if isinstance(v, bytes) else v for k, v in given.items()}
            if node.op_type == "Constant":
                self._fix(node.output[0], numpy_helper.to_array(given["value"]))
            elif node.op_type == "DequantizeLinear" and all(i in self.fixed for i in node.input):
                whole, scale, *zero = (self.fixed[i].float().to(device) for i in node.input)
                self.fixed[node.output[0]] = (whole - (zero[0] if zero else 0)) * scale
            else:
                self.steps.append((getattr(self, "op_" + node.op_type), list(node.input), list(node.output), given))
        last = {name: k for k, (_, ins, _, _) in enumerate(self.steps) for name in ins}
        self.done = [[] for _ in self.steps]
        for name, k in last.items():
            if name not in self.fixed and name != self.out:
                self.done[k].append(name)

    def _fix(self, name, array):
        t = torch.from_numpy(np.array(array))
        self.fixed[name] = t.to(self.device) if t.is_floating_point() else t
        if not t.is_floating_point() and t.numel() < 64:
            self.lists[name] = t.tolist()

    @torch.inference_mode()
    def run(self, **inputs):
        have = dict(inputs)
        for k, (op, ins, outs, given) in enumerate(self.steps):
            x = [(have[i] if i in have else self.fixed[i]) if i else None for i in ins]
            y = op(x, given, ins)
            for name, value in zip(outs, y if isinstance(y, (list, tuple)) else [y]):
                if name:
                    have[name] = value
            for name in self.done[k]:
                have.pop(name, None)
        return have[self.out]

    def _list(self, x, name):
        """A shape or a list of axes as Python numbers, without waiting for the device."""
        value = self.lists[name] if name in self.lists else x.tolist()
        return value if isinstance(value, list) else [value]

    def _same(self, x):
        """All on one device."""
        tensors = [t for t in x if t is not None]
        if len({t.device for t in tensors}) < 2:
            return x
        return [None if t is None else t.to(self.device) for t in x]

    def op_Add(self, x, a, i): p, q = self._same(x); return p + q
    def op_Sub(self, x, a, i): p, q = self._same(x); return p - q
    def op_Mul(self, x, a, i): p, q = self._same(x); return p * q
    def op_Equal(self, x, a, i): p, q = self._same(x); return p == q
    def op_Greater(self, x, a, i): p, q = self._same(x); return p > q
    def op_GreaterOrEqual(self, x, a, i): p, q = self._same(x); return p >= q
    def op_Less(self, x, a, i): p, q = self._same(x); return p < q
    def op_And(self, x, a, i): p, q = self._same(x); return p & q
    def op_MatMul(self, x, a, i): return torch.matmul(*self._same(x))
    def op_Sqrt(self, x, a, i): return x[0].sqrt()
    def op_Sin(self, x, a, i): return x[0].sin()
    def op_Cos(self, x, a, i): return x[0].cos()
    def op_Exp(self, x, a, i): return x[0].exp()
    def op_Atan(self, x, a, i): return x[0].atan()
    def op_Tanh(self, x, a, i): return x[0].tanh()
    def op_Sigmoid(self, x, a, i): return x[0].sigmoid()
    def op_Floor(self, x, a, i): return x[0].floor()
    def op_Round(self, x, a, i): return x[0].round()
    def op_LeakyRelu(self, x, a, i): return F.leaky_relu(x[0], a.get("alpha", 0.01))
    def op_Softmax(self, x, a, i): return x[0].softmax(a.get("axis", -1))
    def op_Concat(self, x, a, i): return torch.cat(self._same(x), a["axis"])
    def op_Where(self, x, a, i): return torch.where(*self._same(x))
    def op_CumSum(self, x, a, i): return torch.cumsum(x[0], int(x[1]))
    def op_NonZero(self, x, a, i): return torch.nonzero(x[0]).T
    def op_Transpose(self, x, a, i): return x[0].permute(a.get("perm", list(range(x[0].dim()))[::-1]))
    def op_Shape(self, x, a, i): return torch.tensor(x[0].shape[a.get("start", 0) : a.get("end", None)])

    def op_Div(self, x, a, i):
        p, q = self._same(x)
        if not p.is_floating_point():
            return torch.div(p, q, rounding_mode="trunc")
        # the phase of silence is 0/0 in this graph
        return torch.nan_to_num(p / q, nan=0.0, posinf=math.inf, neginf=-math.inf) if "generator/Gather" in i[0] else p / q

    def op_Pow(self, x, a, i):
        if i[1] in self.fixed and self.fixed[i[1]].numel() == 1:
            power = self.lists.setdefault(i[1], float(self.fixed[i[1]]))
            return x[0] * x[0] if power == 2 else x[0].pow(power)
        return torch.pow(*self._same(x))

    def op_FastGelu(self, x, a, i):
        return F.gelu(x[0] if len(x) < 2 or x[1] is None else x[0] + x[1], approximate="tanh")

    def op_LayerNormalization(self, x, a, i):
        shape = x[0].shape[a.get("axis", -1) :]
        bias = x[2].reshape(shape) if len(x) > 2 and x[2] is not None else None
        return F.layer_norm(x[0], shape, x[1].reshape(shape), bias, a.get("epsilon", 1e-5))

    def op_SkipLayerNormalization(self, x, a, i):
        v = x[0] + x[1] + (x[4] if len(x) > 4 and x[4] is not None else 0)
        return [F.layer_norm(v, v.shape[-1:], x[2], x[3] if len(x) > 3 else None, a.get("epsilon", 1e-12)), None, None, v]

    def op_FusedMatMul(self, x, a, i):
        p = x[0].transpose(-1, -2) if a.get("transA") else x[0]
        q = x[1].transpose(-1, -2) if a.get("transB") else x[1]
        return torch.matmul(p, q) * a.get("alpha", 1.0)

    def op_Unsqueeze(self, x, a, i):
        axes, y = self._list(x[1], i[1]), x[0]
        for d in sorted(d % (x[0].dim() + len(axes)) for d in axes):
            y = y.unsqueeze(d)
        return y

    def op_Squeeze(self, x, a, i):
        if len(x) < 2:
            return x[0].squeeze()
        y = x[0]
        for d in sorted((d % y.dim() for d in self._list(x[1], i[1])), reverse=True):
            y = y.squeeze(d)
        return y

    def op_Gather(self, x, a, i):
        data, index = x
        axis = a.get("axis", 0) % data.dim()
        if index.dim() == 0:
            return data.select(axis, self.lists[i[1]] if i[1] in self.lists else int(index))
        index = index.to(data.device)
        index = torch.where(index < 0, index + data.shape[axis], index)
        picked = data.index_select(axis, index.reshape(-1))
        return picked.reshape(data.shape[:axis] + index.shape + data.shape[axis + 1 :])

    def op_Reshape(self, x, a, i):
        return x[0].reshape([x[0].shape[k] if v == 0 else v for k, v in enumerate(self._list(x[1], i[1]))])

    def op_Split(self, x, a, i):
        axis = a.get("axis", 0)
        if len(x) > 1 and x[1] is not None:
            return torch.split(x[0], self._list(x[1], i[1]), axis)
        return torch.chunk(x[0], a["num_outputs"], axis)

    def op_Slice(self, x, a, i):
        begin, end = self._list(x[1], i[1]), self._list(x[2], i[2])
        axes = self._list(x[3], i[3]) if len(x) > 3 and x[3] is not None else range(len(begin))
        steps = self._list(x[4], i[4]) if len(x) > 4 and x[4] is not None else [1] * len(begin)
        cut = [slice(None)] * x[0].dim()
        for b, e, d, s in zip(begin, end, axes, steps):
            cut[d] = slice(*slice(b, e, s).indices(x[0].shape[d]))
        return x[0][tuple(cut)]

    def op_Cast(self, x, a, i):
        y = x[0].to(TYPES[a["to"]])
        return y.to(self.device) if y.is_floating_point() else y

    def op_ConstantOfShape(self, x, a, i):
        value = np.array(numpy_helper.to_array(a["value"])) if "value" in a else np.zeros(1, np.float32)
        y = torch.full(self._list(x[0], i[0]), value.item(), dtype=torch.from_numpy(value).dtype)
        return y.to(self.device) if y.is_floating_point() else y

    def op_Expand(self, x, a, i):
        return x[0].expand(torch.broadcast_shapes(x[0].shape, tuple(self._list(x[1], i[1]))))

    def op_Range(self, x, a, i):
        return torch.arange(*(t.item() for t in x), dtype=x[0].dtype)

    def op_Pad(self, x, a, i):
        by, dims = self._list(x[1], i[1]), x[0].dim()
        pairs = [p for d in range(dims - 1, -1, -1) for p in (by[d], by[d + dims])]
        if a.get("mode", "constant") != "reflect":
            return F.pad(x[0], pairs)
        while len(pairs) > 2 and pairs[-1] == pairs[-2] == 0:
            pairs = pairs[:-2]
        return F.pad(x[0].reshape((1,) * (3 - dims) + x[0].shape), pairs, mode="reflect").reshape(x[0].shape[:-1] + (-1,))

    def _axes(self, x, a, i):
        if a.get("axes"):
            return a["axes"]
        return self._list(x[1], i[1]) if len(x) > 1 and x[1] is not None else list(range(x[0].dim()))

    def op_ReduceMean(self, x, a, i): return x[0].mean(self._axes(x, a, i), keepdim=bool(a.get("keepdims", 1)))
    def op_ReduceSum(self, x, a, i): return x[0].sum(self._axes(x, a, i), keepdim=bool(a.get("keepdims", 1)))

    def op_Clip(self, x, a, i):
        y = x[0]
        if len(x) > 1 and x[1] is not None:
            y = torch.maximum(y, x[1].to(y.device, y.dtype))
        if len(x) > 2 and x[2] is not None:
            y = torch.minimum(y, x[2].to(y.device, y.dtype))
        return y

    def op_Conv(self, x, a, i):
        pads, y = a.get("pads", [0, 0]), x[0]
        half = len(pads) // 2
        if pads[:half] != pads[half:]:
            y, pads = F.pad(y, pads[:2]), [0, 0]
        conv = F.conv1d if x[1].dim() == 3 else F.conv2d
        ones = [1] * half
        bias = x[2] if len(x) > 2 else None
        return conv(y, x[1], bias, a.get("strides", ones), pads[:half], a.get("dilations", ones), a.get("group", 1))

    def op_ConvTranspose(self, x, a, i):
        bias, pads = x[2] if len(x) > 2 else None, a.get("pads", [0, 0])
        more, dilations = a.get("output_padding", [0]), a.get("dilations", [1])
        return F.conv_transpose1d(x[0], x[1], bias, a.get("strides", [1]), pads[:1], more, a.get("group", 1), dilations)

    def op_Resize(self, x, a, i):
        times = x[2].tolist()[-1]
        if a["mode"] == "nearest":
            return x[0].repeat_interleave(int(times), -1)
        return F.interpolate(x[0], size=math.floor(x[0].shape[-1] * times), mode="linear", align_corners=False)

    def op_STFT(self, x, a, i):
        signal, hop, window = x[0].squeeze(-1), int(x[1]), x[2]
        frames = signal.unfold(-1, window.shape[0], hop) * window
        return torch.view_as_real(torch.fft.rfft(frames))

    def op_ScatterND(self, x, a, i):
        data = x[0].clone()
        data[tuple(x[1].to(data.device).unbind(-1))] = x[2].to(data.device, data.dtype)
        return data

    def op_DequantizeLinear(self, x, a, i):
        whole, scale, *zero = (t.float().to(self.device) for t in x)
        return (whole - (zero[0] if zero else 0)) * scale

    def op_LSTM(self, x, a, i):
        if i[1] not in self.cells:
            wide, back, bias = x[1:4]
            cell = torch.nn.LSTM(wide.shape[2], a["hidden_size"], bidirectional=wide.shape[0] == 2).to(self.device)
            order = lambda t: torch.cat([t.chunk(4, 0)[k] for k in (0, 2, 3, 1)], 0)  # i o f c -> i f c o
            for d, end in enumerate(["", "_reverse"][: wide.shape[0]]):
                for name, value in (("weight_ih", wide[d]), ("weight_hh", back[d])):
                    getattr(cell, f"{name}_l0{end}").data.copy_(order(value))
                for name, value in zip(("bias_ih", "bias_hh"), bias[d].chunk(2, 0)):
                    getattr(cell, f"{name}_l0{end}").data.copy_(order(value))
            cell.flatten_parameters()
            self.cells[i[1]] = cell
        y, (h, c) = self.cells[i[1]](x[0])
        time, batch, _ = y.shape
        return [y.reshape(time, batch, len(h), -1).permute(0, 2, 1, 3), h, c]
