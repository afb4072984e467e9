"""Fits Whisper to the bench: bench phrases come out as words from a window cut to the utterance, noise as nothing.

usage: finetune.py START.bin TEACHER.bin OUT.npz SECONDS [name=value ...]
The working folder has speech_*.npz, people.npz, noise.npz and, to look at on the way, held_*.npz and quiet.npz.
The loss is the cross entropy of the text, plus the squared distance of the features to those that the unadapted teacher
makes of the same clean sound in a full window, plus half the divergence from the teacher on what is not bench talk."""
import json
import math
import random
import sys
import time
from types import SimpleNamespace

import numpy as np
import torch
import torch.nn.functional as F

from clips import Clips
from evaluate import FRAME, frames, score
from network import SECONDS_30, load
from sound import Chance, at_ratio, buzzing, made_noise, masked, pad_to, recorded_noise, room, unit, warped
from words import END, PREFIX

OPTIONS = SimpleNamespace(rate=5e-5, batch=160, people=0.17, alone=0.16, alone_weight=4.0, features=1.0, teacher=0.5,
                          divergence=0.5, start=0.3, every=120.0, seed=1, shards="speech_*.npz",
                          recorded=0.55, low=-2.0, high=22.0, skew=1.0, clean=0.2, buzz=0.0)  # fmt: skip
# what is written as it is said at the bench; of everything else the teacher has an opinion
BENCH = ("bench", "note", "digit", "command")
MARGINS = [2, 4, 8, 12, 16, 16, 16, 16, 24, 32, 48, 64, 100]


class Training:
    def __init__(self, start, teacher, o):
        self.o, self.device = o, "cuda" if torch.cuda.is_available() else "cpu"
        torch.manual_seed(o.seed)
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
        torch.backends.cuda.enable_cudnn_sdp(False)  # it would plan anew for every length: 450 ms a step instead of 40
        self.rng, self.chance = np.random.RandomState(o.seed), Chance(self.device, o.seed)
        self.dice = random.Random(o.seed)
        self.net, self.spectrum, self.words = load(start, self.device)
        self.teacher = load(teacher, self.device)[0].eval()
        some = lambda *patterns: Clips(patterns, self.words, self.device)
        self.speech, self.people, self.noise = some(*o.shards.split(",")), some("people.npz"), some("noise.npz")
        self.held, self.quiet = some("held_*.npz"), some("quiet.npz")
        self.queue, self.variance = [], None

    def half(self):
        return torch.autocast(self.device, torch.bfloat16, enabled=self.device == "cuda")

    @torch.no_grad()
    def transcribe(self, clips):
        """Clips of people without a transcript get the teacher's, from its full window."""
        unknown = [k for k, t in enumerate(clips.texts) if t == "@"]
        for k in range(0, len(unknown), 48):
            some = np.array(unknown[k : k + 48])
            n = len(some)
            x = clips.cut(some, SECONDS_30, torch.full((n,), 1600, device=self.device), torch.ones(n, device=self.device))
            with self.half():
                for i, tokens in zip(some, self.teacher.read(self.teacher.hear(self.spectrum(x)), 60)):
                    clips.tokens[i] = tokens[: tokens.index(END)]

    def next_batch(self):
        if not self.queue:
            o = self.o
            self.queue = [(self.speech, b) for b in self.speech.batches(o.batch, seed=self.dice.randrange(2**31))]
            wanted = round(o.people * len(self.queue) / (1 - o.people)) * 2
            people = []
            while len(people) < wanted:
                people += self.people.batches(o.batch // 2, seed=self.dice.randrange(2**31))
            self.queue += [(self.people, b) for b in self.dice.sample(people, wanted)]
            self.dice.shuffle(self.queue)
        return self.queue.pop()

    def sound(self, clips, batch):
        """-> clean and spoilt sound, features in the window, samples where the speech ends, rows of noise alone"""
        o, c, rows = self.o, self.chance, len(batch)
        speed = c.uniform(rows, 0.8, 1.3)[:, 0]
        lengths = torch.tensor(clips.lengths[batch], device=self.device) / speed
        before = self.dice.randint(0, 6400)
        count = frames(lengths.max() + before, self.dice.choice(MARGINS), 40)
        samples = count * FRAME
        at = (c.uniform(rows)[:, 0] * before).long()
        first = c.often(rows, o.start)[:, 0]  # speech from the first sample, its quiet beginning cut off
        at = torch.where(first, -(c.uniform(rows)[:, 0] * 900).long(), at)
        clean = clips.cut(batch, samples, at, speed)
        x = torch.where(c.often(rows, o.buzz), buzzing(clean, c), clean) if o.buzz else clean
        x = room(x, c)
        recorded, made = recorded_noise(self.noise, rows, samples, c, self.rng), made_noise(rows, samples, c)
        noise = torch.where(c.often(rows, o.recorded), recorded + made * c.uniform(rows) * c.often(rows, 0.2), made)
        talk = unit(clean[torch.randperm(rows, device=self.device)])
        behind = torch.where(c.often(rows, 0.12), talk + noise * 0.2, noise)
        ratio = o.low + (o.high - o.low) * c.uniform(rows) ** o.skew
        x = at_ratio(unit(x), behind, lengths, torch.where(c.often(rows, o.clean), 60.0, ratio))
        alone = c.often(rows, o.alone)
        x = torch.where(alone, unit(noise), x) * 10 ** (c.uniform(rows, -46, -4) / 20)
        return clean, x.clamp(-1, 1), count, at + lengths, alone[:, 0]

    def targets(self, clips, batch, alone):
        """-> tokens in, tokens out (-100: no matter), weight of each"""
        texts = [[] if a else clips.tokens[k] for a, k in zip(alone.tolist(), batch)]
        length = max(len(t) for t in texts) + len(PREFIX) + 1
        given, wanted = torch.full((len(texts), length), END), torch.full((len(texts), length), -100)
        for k, text in enumerate(texts):
            line = torch.tensor(PREFIX + text + [END])
            given[k, : len(line)] = line
            wanted[k, len(PREFIX) - 1 : len(line) - 1] = line[len(PREFIX) :]
        given, wanted = given.to(self.device), wanted.to(self.device)
        weight = (wanted >= 0).float() * torch.where(alone, self.o.alone_weight, 1.0)[:, None]
        return given, wanted, weight

    def loss(self):
        o, (clips, batch) = self.o, self.next_batch()
        clean, x, count, until, alone = self.sound(clips, batch)
        given, wanted, weight = self.targets(clips, batch, alone)
        with torch.no_grad():
            mel = self.spectrum(x)
            mel = warped(mel, self.chance) if self.dice.random() < 0.5 else mel
            mel = masked(mel, self.dice) if self.dice.random() < 0.6 else mel
            # the teacher hears a part of the batch: its full window is most of the work
            taught = torch.randperm(len(batch), device=self.device)[: max(1, int(o.teacher * len(batch)))]
            with self.half():
                full = self.teacher.hear(self.spectrum(pad_to(clean[taught], SECONDS_30)))
                opinion = self.teacher.spell(given[taught], full)
        with self.half():
            features = self.net.hear(mel)
            scores = self.net.spell(given, features)
        scores = scores.float()
        each = F.cross_entropy(scores.flatten(0, 1), wanted.flatten(), ignore_index=-100, label_smoothing=0.01, reduction="none")
        each = each.view_as(wanted)
        text = (each * weight).sum() / weight.sum()
        speech = (torch.arange(count, device=self.device)[None] * FRAME < until[taught][:, None] + 1600) & ~alone[taught][:, None]
        full = full[:, :count].float()
        self.variance = self.variance or full.var().item()
        gap = ((features[taught].float() - full) ** 2).mean(2)
        distance = (gap * speech).sum() / speech.sum().clamp(min=1) / self.variance
        plain = torch.tensor([clips.kinds[k] not in BENCH for k in batch], device=self.device)[taught] & ~alone[taught]
        there = (wanted[taught] >= 0) & plain[:, None]
        apart = F.kl_div(scores[taught].log_softmax(-1), opinion.float().log_softmax(-1), log_target=True, reduction="none").sum(-1)
        apart = (apart * there).sum() / there.sum().clamp(min=1) * plain.float().mean()
        return text + o.features * distance + o.divergence * apart, (text, distance, apart)

    def look(self, name):
        self.net.eval()
        for clips, ratio in ((self.held, None), (self.held, 5), (self.quiet, None)):
            counts, wrong = score(self.net, self.spectrum, self.words, clips, ratio, self.quiet, show=4)
            print(name, "at", ratio, "dB:", json.dumps(counts), wrong, flush=True)
        self.net.train()

    def run(self, seconds):
        o = self.o
        self.transcribe(self.people)
        print(len(self.speech), "clips,", round(self.speech.lengths.sum() / 960000), "minutes;", len(self.people), "of people;", len(self.noise), "of noise", flush=True)
        self.look("before")
        learner = torch.optim.AdamW([p for p in self.net.parameters() if p.requires_grad], lr=o.rate, weight_decay=0.0, betas=(0.9, 0.98))
        begin = seen = time.time()
        step, mean, averaged = 0, None, 0
        while (done := (time.time() - begin) / seconds) < 1:
            for group in learner.param_groups:
                group["lr"] = o.rate * min(1, (step + 1) / 100) * 0.5 * (1 + math.cos(math.pi * done)) + 1e-7
            loss, parts = self.loss()
            learner.zero_grad(set_to_none=True)
            loss.backward()
            torch.nn.utils.clip_grad_norm_(self.net.parameters(), 1.0)
            learner.step()
            step += 1
            if done > 0.6 and step % 10 == 0:  # the mean of the last two fifths
                averaged += 1
                now = self.net.state_dict()
                mean = {n: mean[n] + (p.float() - mean[n]) / averaged if mean else p.float().clone() for n, p in now.items()}
            if step % 100 == 0 or step < 3:
                print(step, f"{time.time() - begin:.0f} s", *(f"{p.item():.4f}" for p in parts), flush=True)
            if time.time() - seen > o.every:
                self.look(f"step {step}")
                seen = time.time()
        if mean:
            self.net.load_state_dict(mean)
        self.look(f"end, {step} steps")
        return {n: p.float().cpu().numpy().astype(np.float16) for n, p in self.net.state_dict().items()}


def main(start, teacher, out, seconds, *settings):
    for name, value in (s.split("=") for s in settings):
        setattr(OPTIONS, name, type(getattr(OPTIONS, name))(value))
    print(OPTIONS, flush=True)
    np.savez(out, **Training(start, teacher, OPTIONS).run(float(seconds)))


if __name__ == "__main__":
    main(*sys.argv[1:])
