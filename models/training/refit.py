"""Fits only the biases and layer norms of weights that are fitted already (47 000 numbers; the matrices stay bit by bit).

usage: refit.py START.bin OUT.npz SECONDS [name=value ...]      (shards and options as in finetune.py)
START is its own teacher: it hears the same sound clean, in the same window. The loss is the cross entropy of the text, plus
the squared distance of the features to the teacher's in the middle and at the end of the encoder, plus the divergence from
its decoder on what is not bench talk. `parts=encoder` leaves the decoder alone, `also=NAME,NAME` fits those tensors too."""
import json
import math
import sys
import time

import numpy as np
import torch
import torch.nn.functional as F

from evaluate import FRAME, score
from finetune import BENCH, OPTIONS, Training
from sound import masked, warped

OPTIONS.__dict__.update(rate=5e-4, rate_also=2e-5, also="", parts="encoder,decoder", features=1.0, divergence=1.0, people=0.25, alone=0.12, recorded=0.65,
                        low=-5.0, high=20.0, skew=1.4, robots=0.2, agree=0.0, mean=0.5, ratios="none,5,0")  # fmt: skip


def small(name):
    return name.endswith("bias") or "_ln" in name or "ln_post" in name or name.endswith("ln.weight")


def levels(net, spectrum):
    """The features after the second block and at the end."""
    kept = []
    hook = net.encoder.blocks[1].register_forward_hook(lambda _m, _i, out: kept.append(out))
    last = net.hear(spectrum)
    hook.remove()
    return [kept[0], last]


class Refit(Training):
    def __init__(self, start, o):
        super().__init__(start, start, o)
        also = [a for a in o.also.split(",") if a]
        self.small, self.large = [], []
        for name, p in self.net.named_parameters():
            p.requires_grad_(small(name) and name.split(".")[0] in o.parts.split(",") or name in also)
            if p.requires_grad:
                (self.small if small(name) else self.large).append((name, p))
        print(sum(p.numel() for _, p in self.small), "and", sum(p.numel() for _, p in self.large), "numbers are fitted", flush=True)
        self.variance = None

    def loss(self):
        o, (clips, batch) = self.o, self.next_batch()
        clean, x, count, until, alone = self.sound(clips, batch)
        given, wanted, weight = self.targets(clips, batch, alone)
        with torch.no_grad():
            mel = self.spectrum(x)
            mel = warped(mel, self.chance) if self.dice.random() < 0.3 else mel
            mel = masked(mel, self.dice) if self.dice.random() < 0.5 else mel
            with self.half():
                goal = levels(self.teacher, self.spectrum(clean))
                opinion = self.teacher.spell(given, goal[1])
        with self.half():
            features = levels(self.net, mel)
            scores = self.net.spell(given, features[1]).float()
        each = F.cross_entropy(scores.flatten(0, 1), wanted.flatten(), ignore_index=-100, label_smoothing=0.01, reduction="none")
        text = (each.view_as(wanted) * weight).sum() / weight.sum()
        # the teacher hears robots badly itself
        trust = torch.tensor([o.robots if self.robot(clips.who[k]) else 1.0 for k in batch], device=self.device)
        speech = (torch.arange(count, device=self.device)[None] * FRAME < until[:, None] + 1600) & ~alone[:, None]
        speech = speech * trust[:, None]
        goal = [g.float() for g in goal]
        self.variance = self.variance or [g.var().item() for g in goal]
        gap = sum(((f.float() - g) ** 2).mean(2) / v for f, g, v in zip(features, goal, self.variance)) / len(goal)
        distance = (gap * speech).sum() / speech.sum().clamp(min=1)
        share = torch.tensor([o.agree if clips.kinds[k] in BENCH else 1.0 for k in batch], device=self.device)
        spoken = (wanted >= 0) & ~alone[:, None]
        apart = F.kl_div(scores.log_softmax(-1), opinion.float().log_softmax(-1), log_target=True, reduction="none").sum(-1)
        apart = (apart * spoken * (share * trust)[:, None]).sum() / spoken.sum().clamp(min=1)
        return text + o.features * distance + o.divergence * apart, (text, distance, apart)

    @staticmethod
    def robot(who):
        return who.startswith(("espeak", "flite"))

    def look(self, name):
        self.net.eval()
        for ratio in self.o.ratios.split(","):
            ratio = None if ratio == "none" else float(ratio)
            counts, wrong = score(self.net, self.spectrum, self.words, self.held, ratio, self.quiet, show=3)
            print(name, "at", ratio, "dB:", json.dumps({k: [c["exact"], c["number_changed"], c["clips"]] for k, c in counts.items()}), wrong, flush=True)
        counts, wrong = score(self.net, self.spectrum, self.words, self.quiet, None, self.quiet, show=3)
        print(name, "noise:", json.dumps({k: [c["invented"], c["clips"]] for k, c in counts.items()}), wrong, flush=True)
        self.net.train()

    def run(self, seconds):
        o = self.o
        self.transcribe(self.people)
        print(len(self.speech), "clips,", round(self.speech.lengths.sum() / 960000), "minutes;", len(self.people), "of people;", len(self.noise), "of noise", flush=True)
        self.look("before")
        groups = [{"params": [p for _, p in ps], "base": rate} for ps, rate in ((self.small, o.rate), (self.large, o.rate_also)) if ps]
        learner = torch.optim.AdamW(groups, lr=o.rate, weight_decay=0.0, betas=(0.9, 0.98))
        fitted = self.small + self.large
        begin = seen = time.time()
        step, mean, averaged = 0, None, 0
        while (done := (time.time() - begin) / seconds) < 1:
            for group in learner.param_groups:
                group["lr"] = group["base"] * min(1, (step + 1) / 100) * 0.5 * (1 + math.cos(math.pi * done)) + 1e-7
            loss, parts = self.loss()
            learner.zero_grad(set_to_none=True)
            loss.backward()
            torch.nn.utils.clip_grad_norm_([p for _, p in fitted], 1.0)
            learner.step()
            step += 1
            if done > 1 - o.mean and step % 10 == 0:
                averaged += 1
                mean = {n: mean[n] + (p.detach() - mean[n]) / averaged if mean else p.detach().clone() for n, p in fitted}
            if step % 100 == 0 or step < 3:
                print(step, f"{time.time() - begin:.0f} s", *(f"{p.item():.4f}" for p in parts), flush=True)
            if time.time() - seen > o.every:
                self.look(f"step {step}")
                seen = time.time()
        if mean:
            self.net.load_state_dict(mean, strict=False)
        self.look(f"end, {step} steps")
        return {n: p.detach().float().cpu().numpy() for n, p in fitted}


def main(start, out, seconds, *settings):
    for name, value in (s.split("=") for s in settings):
        setattr(OPTIONS, name, type(getattr(OPTIONS, name))(value))
    print(OPTIONS, flush=True)
    np.savez(out, **Refit(start, OPTIONS).run(float(seconds)))


if __name__ == "__main__":
    main(*sys.argv[1:])
