#!/usr/bin/env python3
"""Fit how other readings of the words heard are weighed (`dictate/speech/readings.json`).

    python scripts/fit_readings.py --out /tmp/readings --collect     hear the narrations for choosing, keep the signals
    python scripts/fit_readings.py --out /tmp/readings               fit, judge, and write the weights

Narrations for choosing are spoken by the voices for choosing, clean and with exam-room noise at 12 dB. A candidate is
right where it brings the words nearer to those spoken. Candidates: a logistic regression, judged on narrations that it
was not fitted on. Words: how often those of a raw probability were right (isotonic regression). Needs scikit-learn
(group `train`).
"""

from __future__ import annotations

import argparse
import functools
import json
import pickle
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

import numpy as np  # noqa: E402
from bench_hearing import chosen, sound_of  # noqa: E402
from measure_words import normal  # noqa: E402
from rapidfuzz.distance import Levenshtein  # noqa: E402
from voices import CHOOSING_VOICES  # noqa: E402

from dictate.language.candidates import LexiconProposer  # noqa: E402
from dictate.lexicon import load  # noqa: E402
from dictate.sound.sound import decode  # noqa: E402
from dictate.speech import SpeechSettings, listen  # noqa: E402
from dictate.speech.listening import likelihoods, said_by  # noqa: E402
from dictate.speech.readings import WEIGHTS, Candidate, candidates, gains, signals, written  # noqa: E402
from dictate.speech.recogniser import first_tokens  # noqa: E402
from dictate.speech.voice import chunks, gain_for, passages, speech_probabilities  # noqa: E402
from dictate.speech.words import Word  # noqa: E402

AROUND = 2  # words on both sides of a candidate by which it is judged
KNOTS = 12


@dataclass(frozen=True)
class Chunk:
    """What was heard in a stretch of a narration, and the candidates with their gains."""

    name: str
    words: tuple[Word, ...]
    found: tuple[Candidate, ...]
    gains: tuple[float, ...]


def collected(name: str, sound_file: Path, proposer: LexiconProposer) -> Iterator[Chunk]:
    """A spoken narration heard chunk by chunk, as `transcribe` does."""
    settings = SpeechSettings(hotwords="", threads=1)
    recogniser, _ = listen._ready(settings)
    model = recogniser.model
    start = first_tokens(model, settings.language)
    sound = decode(sound_file)
    gain = gain_for(sound)
    heard = speech_probabilities(sound, gain=gain)
    speech = passages(heard, threshold=settings.speech_threshold, seconds=sound.seconds)
    for row in chunks(speech, heard, longest=settings.chunk_seconds):
        samples = listen._samples(sound, row, gain)
        segments, windows = recogniser.first(samples, settings)
        words = tuple(word for segment in segments for word in segment.words)
        if not words:
            continue
        found: tuple[Candidate, ...] = ()
        if len(windows) == 1:
            window = windows[0]
            found = candidates(words, [said_by(model, end) for end in window.ends[1:]], proposer(words))
            frames = len(samples) // 160
            ask = functools.partial(likelihoods, model, window, start=start, frames=frames)
            yield Chunk(name, words, found, tuple(gains(words, found, ask)) if found else ())
        else:
            yield Chunk(name, words, (), ())


def judged(rows: Sequence[Chunk]) -> Iterator[tuple[str, tuple[float, ...], int, float, bool]]:
    """For each candidate: narration, signals, and by how much it brings the words nearer; then for each word (signals
    empty) its raw probability and whether it is right."""
    for name in dict.fromkeys(r.name for r in rows):
        truth = normal(json.loads((HERE.parent / f"tests/narrations/{name}.json").read_text("utf-8"))["text"]).split()
        heard: list[str] = []
        owner: list[tuple[int, int]] = []
        for c, row in enumerate(rows):
            if row.name == name:
                for k, word in enumerate(row.words):
                    for part in normal(word.text).split():
                        heard.append(part)
                        owner.append((c, k))
        same, near = [False] * len(heard), [(0, 0)] * len(heard)
        for op in Levenshtein.opcodes(truth, heard):
            for at in range(op.dest_start, op.dest_end):
                same[at] = op.tag == "equal"
                here = op.src_start + at - op.dest_start
                near[at] = (here, here + 1) if same[at] else (op.src_start, op.src_end)
        places: dict[tuple[int, int], list[int]] = {}
        for at, key in enumerate(owner):
            places.setdefault(key, []).append(at)
        for key, ats in places.items():
            word = rows[key[0]].words[key[1]]
            yield name, (), 0, word.probability, all(same[at] for at in ats)
        for c, row in enumerate(rows):
            if row.name != name:
                continue
            texts = [w.text for w in row.words]
            for candidate, gain in zip(row.found, row.gains, strict=True):
                lo, hi = max(0, candidate.first - AROUND), min(len(texts), candidate.last + AROUND)
                ats = [at for k in range(lo, hi) for at in places.get((c, k), ())]
                if not ats:
                    continue
                spoken = truth[near[ats[0]][0] : near[ats[-1]][1]]
                old = normal(" ".join(texts[lo:hi])).split()
                new = [*texts[lo : candidate.first], *written(candidate, texts), *texts[candidate.last : hi]]
                nearer = Levenshtein.distance(spoken, old) - Levenshtein.distance(spoken, normal(" ".join(new)).split())
                yield name, signals(row.words, candidate, gain), nearer, 0.0, nearer > 0


def main() -> None:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--out", type=Path, required=True, metavar="DIR", help="a folder outside the repository")
    ap.add_argument("--collect", action="store_true")
    ap.add_argument("--count", type=int, default=16)
    ap.add_argument("--turn", type=int, nargs=2, default=(0, 1), help="every so manieth file, from this one: in parts")
    a = ap.parse_args()
    a.out.mkdir(parents=True, exist_ok=True)
    if a.collect:
        proposer, voices = LexiconProposer(None, load().rule_set), list(CHOOSING_VOICES)
        for i, truth in enumerate(chosen("choosing", a.count)):
            place = a.out / f"{truth['id']}.pickle"
            if i % a.turn[1] != a.turn[0] or place.exists():
                continue
            rows = []
            for snr in (None, 12.0):
                rows += collected(truth["id"], sound_of(truth, voices[i % len(voices)], snr, a.out), proposer)
                place.with_suffix(f".{'clean' if snr is None else 'noise'}").write_bytes(pickle.dumps(rows))
                rows = []
            place.write_bytes(b"")
            print(truth["id"], flush=True)
        return
    fit(a.out)


def fit(folder: Path) -> None:
    """Fit and judge on turns of four narrations; write what is fitted on all."""
    from sklearn.isotonic import IsotonicRegression
    from sklearn.linear_model import LogisticRegression

    rows = [
        row
        for file in sorted([*folder.glob("*.clean"), *folder.glob("*.noise")])
        for row in judged(pickle.loads(file.read_bytes()))
    ]
    asked, words = [r for r in rows if r[1]], [r for r in rows if not r[1]]
    names = sorted({r[0] for r in asked})
    x, y = np.array([r[1] for r in asked]), np.array([r[4] for r in asked])
    turn = np.array([names.index(r[0]) % 4 for r in asked])
    nearer = np.array([r[2] for r in asked])
    chance = np.zeros(len(y))
    for t in range(4):
        model = LogisticRegression(C=1.0, max_iter=1000).fit(x[turn != t], y[turn != t])
        chance[turn == t] = model.predict_proba(x[turn == t])[:, 1]
    print(f"{len(y)} candidates, {y.sum()} right, {(nearer < 0).sum()} wrong; {len(words)} words")
    for least in (0.3, 0.4, 0.5, 0.6, 0.7):
        taken = chance > least
        print(f"  taken from {least}: {y[taken].sum()} right, {(nearer[taken] < 0).sum()} wrong")
    for name, column in (("likeness", 3), ("confused", 4), ("thought of", 5)):
        here = x[:, column] > 0
        print(f"  {name}: {here.sum()}, right {y[here].sum()}, wrong {(nearer[here] < 0).sum()}")
    model = LogisticRegression(C=1.0, max_iter=1000).fit(x, y)
    raw, right = np.array([r[3] for r in words]), np.array([r[4] for r in words], float)
    line = IsotonicRegression(out_of_bounds="clip", y_min=0.0, y_max=1.0).fit(raw, right)
    knots = np.unique(np.quantile(raw, np.linspace(0, 1, 4 * KNOTS)).round(3))
    knots = np.unique(np.concatenate([[0.0], np.linspace(0.05, 0.9, KNOTS), knots[knots > 0.9], [1.0]]).round(3))
    error = np.mean(np.abs(line.predict(raw) - right))
    print(f"words right {right.mean():.3f}; mean distance of the calibrated probability from the truth {error:.3f}")
    value = {
        "bias": round(float(model.intercept_[0]), 4),
        "signals": [round(float(v), 4) for v in model.coef_[0]],
        "raw": [float(k) for k in knots],
        "right": [round(float(v), 4) for v in line.predict(knots)],
    }
    WEIGHTS.write_text(json.dumps(value, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(value))


if __name__ == "__main__":
    main()
