#!/usr/bin/env python3
"""Teach the packaged speech model the trade's words: low-rank matrices trained on spoken texts. Needs PyTorch.

    python scripts/speech_texts.py --out build/speech_texts.json
    python scripts/make_speech.py --texts build/speech_texts.json --part teach --out SPEECH  (so "choose", "copies")
    python scripts/speech_weights.py --out WEIGHTS
    python scripts/train_speech_adapter.py --texts build/speech_texts.json --speech SPEECH --weights WEIGHTS --out OUT

Writes OUT/adapter.npz (see dictate/speech/adapter.py), OUT/figures.json with word errors of the choosing part at
several strengths, and, where there is speech for them, OUT/copies.json: what the taught model makes of the
narrations, by name.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import re
import sys
import time
from collections import defaultdict
from pathlib import Path

import numpy as np
import torch
from tokenizers import Tokenizer
from torch.nn import functional as F

sys.path.insert(0, str(Path(__file__).resolve().parent))

from speech_net import Whisper
from speech_rooms import (
    LENGTH,
    RATE,
    in_rooms,
    log_mel,
    mel_filters,
    other_voices,
    power,
    through_microphones,
    uniform,
    with_holes,
    with_noise,
)

STRENGTHS = (0.0, 0.5, 0.7, 0.85, 1.0)


class Speech:
    """All spoken rows of a part: samples on the card as int16, and where each row lies."""

    def __init__(self, texts: Path, folder: Path, part: str, device: str) -> None:
        rows = json.loads(texts.read_text(encoding="utf-8"))[part]
        stored, self.rows, at = [], [], 0
        for index in sorted(folder.glob(f"{part}_*.json")):
            samples = np.fromfile(index.with_suffix(".pcm"), dtype="<i2")
            stored.append(torch.from_numpy(samples))
            for number, first, length, sentences in json.loads(index.read_text()):
                self.rows.append((rows[number], number, at + first, length, sentences))
            at += len(samples)
        self.samples = torch.cat(stored).to(device) if stored else torch.zeros(0, dtype=torch.int16)
        print(part, len(self.rows), "rows,", round(at / RATE / 3600, 2), "hours", flush=True)

    def sound(self, chosen: list, offsets: list[int]) -> torch.Tensor:
        x = torch.zeros(len(chosen), LENGTH, device=self.samples.device)
        for i, ((_, _, first, length, _), offset) in enumerate(zip(chosen, offsets, strict=True)):
            length = min(length, LENGTH - offset)
            x[i, offset : offset + length] = self.samples[first : first + length].float() / 32768
        return x


class Words:
    """Texts to tokens and back, as Whisper has them."""

    def __init__(self, path: Path) -> None:
        self.tokenizer = Tokenizer.from_file(str(path))
        named = self.tokenizer.token_to_id
        self.start = [named("<|startoftranscript|>"), named("<|en|>"), named("<|transcribe|>")]
        self.end, self.timeless = named("<|endoftext|>"), named("<|notimestamps|>")

    def encoded(self, text: str) -> list[int]:
        return self.tokenizer.encode(" " + text, add_special_tokens=False).ids

    def target(self, row: dict, places: list, offset: int, *, times: bool) -> list[int]:
        if not times:
            return [*self.start, self.timeless, *self.encoded(" ".join(row["write"])), self.end]
        out, after = list(self.start), 0
        for sentence, (first, last) in zip(row["write"], places, strict=True):
            begin, stop = (min(1500, max(after, round((at + offset) / RATE / 0.02))) for at in (first, last))
            out += [self.timeless + 1 + begin, *self.encoded(sentence), self.timeless + 1 + max(begin, stop)]
            after = stop
        return [*out, self.end]

    def text(self, ids: list[int]) -> str:
        return self.tokenizer.decode(ids).strip()


def load_weights(folder: Path, device: str) -> dict[str, torch.Tensor]:
    arrays = {}
    for file in sorted(folder.glob("weights_*.npz")):
        with np.load(file) as z:
            for key in z.files:
                if not key.endswith(".scale"):
                    array = torch.from_numpy(z[key].astype(np.float32)).to(device)
                    if f"{key}.scale" in z.files:
                        array *= torch.from_numpy(z[f"{key}.scale"]).to(device)[:, None]
                    arrays[key.replace("|", "/")] = array
    return arrays


def batch(speech: Speech, chosen: list, words: Words, filters: torch.Tensor, bank: torch.Tensor):
    """Mel spectrograms, tokens and what comes after each; -100 where nothing is to be learnt."""
    offsets = [random.randint(0, max(0, min(24000, LENGTH - r[3]))) if random.random() < 0.6 else 0 for r in chosen]
    x = speech.sound(chosen, offsets)
    x = in_rooms(x, 0.4)
    other = x[torch.randperm(len(x))]
    x = with_noise(x, bank, 0.5, 3, 30)
    talk = (torch.rand(len(x), 1, device=x.device) < 0.08) * 10 ** (-uniform(len(x), 8, 20, x.device) / 20)
    x = x + other * talk
    x = x * uniform(len(x), 0.1, 1.3, x.device)
    x = torch.where(torch.rand(len(x), 1, device=x.device) < 0.05, (x * 8).clamp(-0.5, 0.5), x)
    spectra = through_microphones(other_voices(power(x), 0.6), 0.5, 0.1)
    mel = with_holes(log_mel(spectra, filters))
    seqs = [
        words.target(r[0], r[4], o, times=random.random() < 0.5)[:440] for r, o in zip(chosen, offsets, strict=True)
    ]
    most = max(map(len, seqs))
    inputs = torch.full((len(seqs), most - 1), words.end)
    wanted = torch.full((len(seqs), most - 1), -100)
    for i, s in enumerate(seqs):
        inputs[i, : len(s) - 1] = torch.tensor(s[:-1])
        wanted[i, : len(s) - 1] = torch.tensor(s[1:])
        wanted[i, : len(words.start) - 1] = -100
    return mel, inputs.to(x.device), wanted.to(x.device)


def plain(text: str) -> list[str]:
    return re.findall(r"[a-z']+|\d+(?:\.\d+)?", text.lower().replace("-", " "))


def errors(said: list[str], heard: list[str]) -> int:
    row = list(range(len(heard) + 1))
    for i, a in enumerate(said, 1):
        before, row[0] = row[0], i
        for j, b in enumerate(heard, 1):
            before, row[j] = row[j], min(before + (a != b), row[j] + 1, row[j - 1] + 1)
    return row[-1]


@torch.no_grad()
def listened(net: Whisper, speech: Speech, words: Words, filters: torch.Tensor, bank: torch.Tensor | None) -> list[str]:
    """What the model makes of each row, in the order of `speech.rows`; with some noise where there is a bank."""
    net.eval()
    forbidden = torch.zeros(51865, dtype=torch.bool, device=filters.device)
    forbidden[words.end + 1 :] = True
    out = []
    for i in range(0, len(speech.rows), 96):
        chosen = speech.rows[i : i + 96]
        x = speech.sound(chosen, [0] * len(chosen))
        if bank is not None:
            x = with_noise(in_rooms(x, 0.3), bank, 0.5, 8, 30)
        with torch.autocast("cuda", torch.bfloat16):
            mel = log_mel(power(x), filters).to(torch.bfloat16)
            out += map(words.text, net.listen(mel, [*words.start, words.timeless], words.end, forbidden))
    return out


def figures(rows: list, heard: list[str]) -> dict[str, float]:
    wrong, said = defaultdict(int), defaultdict(int)
    for (row, *_), text in zip(rows, heard, strict=True):
        truth = plain(" ".join(row["write"]))
        kind = row["name"] if row["name"] in ("general", "numbers") else "exams"
        for key in (kind, f"{kind} {row['voice']}"):
            wrong[key] += errors(truth, plain(text))
            said[key] += len(truth)
    return {key: round(wrong[key] / max(1, said[key]), 4) for key in sorted(said)}


def stored(net: Whisper, path: Path, strength: float) -> None:
    out = {}
    for name, module in net.adapted().items():
        for part, matrix in (("a", module.a), ("b", module.b * 2.0 * strength)):
            m = matrix.detach().float().cpu().numpy()
            scale = np.maximum(np.abs(m).max(1) / 127, 1e-12)
            out[f"{name}|{part}"] = np.rint(m / scale[:, None]).astype(np.int8)
            out[f"{name}|{part}_scale"] = scale.astype(np.float16 if part == "a" else np.float32)
    np.savez_compressed(path, **out)
    print("stored", path.stat().st_size >> 10, "KiB", flush=True)


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name in ("texts", "speech", "weights", "out"):
        ap.add_argument(f"--{name}", type=Path, required=True)
    ap.add_argument(
        "--noise", type=Path, help="int16 samples of noises, kinds one after the other, and their count: FILE.COUNT"
    )
    ap.add_argument("--rank", type=int, default=64)
    ap.add_argument("--seconds", type=float, default=270, help="of training")
    ap.add_argument("--rate", type=float, default=3e-4)
    ap.add_argument("--size", type=int, default=64)
    ap.add_argument("--seed", type=int, default=1)
    a = ap.parse_args()
    device = "cuda"
    torch.manual_seed(a.seed), random.seed(a.seed)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    words, filters = Words(a.weights / "tokenizer.json"), mel_filters(device)
    kinds = int(a.noise.suffix[1:])
    bank = torch.from_numpy(np.fromfile(a.noise, dtype="<i2").reshape(kinds, -1)).to(device)
    net = Whisper(load_weights(a.weights, device), a.rank).to(device)
    teach, choose = (Speech(a.texts, a.speech, part, device) for part in ("teach", "choose"))
    parameters = [p for p in net.parameters() if p.requires_grad]
    print(sum(p.numel() for p in parameters) / 1e6, "million parameters", flush=True)
    optimiser = torch.optim.AdamW(parameters, lr=a.rate, weight_decay=0.01)
    begun, step, order, recent = time.time(), 0, [], []
    net.train()
    while (done := (time.time() - begun) / a.seconds) < 1:
        if len(order) < a.size:
            order = random.sample(range(len(teach.rows)), len(teach.rows))
        chosen, order = [teach.rows[i] for i in order[: a.size]], order[a.size :]
        mel, inputs, wanted = batch(teach, chosen, words, filters, bank)
        for group in optimiser.param_groups:
            group["lr"] = a.rate * min(1, step / 60) * (0.5 + 0.5 * math.cos(math.pi * done))
        with torch.autocast("cuda", torch.bfloat16):
            logits = net.told(net.heard(mel.to(torch.bfloat16)), inputs)
        loss = F.cross_entropy(logits.flatten(0, 1).float(), wanted.flatten(), ignore_index=-100, label_smoothing=0.05)
        optimiser.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(parameters, 1.0)
        optimiser.step()
        recent.append(loss.item())
        step += 1
        if step % 50 == 0:
            print(f"step {step} loss {np.mean(recent[-50:]):.3f} {time.time() - begun:.0f} s", flush=True)
    a.out.mkdir(parents=True, exist_ok=True)
    told = {"steps": step, "rows": len(teach.rows)}
    for strength in STRENGTHS:
        for module in net.adapted().values():
            module.on = strength
        told[str(strength)] = figures(choose.rows, listened(net, choose, words, filters, None))
        print(strength, told[str(strength)], flush=True)
    (a.out / "figures.json").write_text(json.dumps(told, indent=1))
    stored(net, a.out / "adapter.npz", 1.0)
    copies = Speech(a.texts, a.speech, "copies", device)
    if copies.rows:
        for module in net.adapted().values():
            module.on = 0.8
        heard = listened(net, copies, words, filters, bank)
        by_row = sorted((r[1], r[0]["name"], r[0]["write"], h) for r, h in zip(copies.rows, heard, strict=True))
        (a.out / "copies.json").write_text(
            json.dumps([[n, " ".join(w), h] for _, n, w, h in by_row], ensure_ascii=False)
        )
    print(f"{time.time() - begun:.0f} s in all", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
