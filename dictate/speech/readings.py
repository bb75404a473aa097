"""Other readings of the words heard, weighed by the sound itself.

    words heard + ends of the beam + words that a proposer thinks of ─► candidates ─► asked of the sound ─► words

Where another reading is likelier than the first it takes its place, and the word remembers what was heard; where it is
not, but may be so, it stands with the word as a reading. The probability of a word is how often words like it were
right. What is likely was fitted on narrations for choosing, spoken by voices for choosing (`scripts/fit_readings.py`).
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Protocol

import numpy as np
from rapidfuzz.distance import Levenshtein

from dictate.speech.words import Reading, Word

WEIGHTS = Path(__file__).with_name("readings.json")
LONGEST = 4  # words that a reading takes the place of, and that it has
BEHIND = 3  # words behind a reading by which it is judged too: a wrong one makes what follows unlikely
TAKEN = 0.5  # probability from which a reading takes the place of what was heard
SHOWN = 0.1  # probability from which a reading is told
MOST = 3  # readings told of a word


@dataclass(frozen=True, slots=True)
class Proposed:
    """Words that may have been meant instead of those from `first` to `last` (half-open). `likeness` is 0 to 1."""

    first: int
    last: int
    text: str
    likeness: float
    kind: str  # "sound", "spelling": like words of the lexicon; "confusion": by a table of words confused


class Proposer(Protocol):
    """Thinks of words that may have been meant. `name` tells apart proposers that may propose differently."""

    @property
    def name(self) -> str: ...

    def __call__(self, words: Sequence[Word]) -> Sequence[Proposed]: ...


@dataclass(frozen=True, slots=True)
class Candidate:
    """Another reading of the words from `first` to `last`, and what speaks for it."""

    first: int
    last: int
    words: tuple[str, ...]
    likeness: float = 0.0
    confused: bool = False
    thought_of: bool = False  # by the recogniser's own search


class Asked(Protocol):
    """Gives, for each text in written words, the log probability of each of its words."""

    def __call__(self, texts: Sequence[Sequence[str]]) -> Sequence[Sequence[float]]: ...


def candidates(words: Sequence[Word], ends: Sequence[str], proposed: Sequence[Proposed]) -> tuple[Candidate, ...]:
    """All other readings thought of, each once, in the order of their places.

    Args:
        words: as heard.
        ends: other texts for the same sound.
        proposed: by a proposer.
    """
    heard = [w.text for w in words]
    found: dict[tuple[int, int, tuple[str, ...]], Candidate] = {}

    def add(new: Candidate) -> None:
        key = (new.first, new.last, tuple(map(bare, new.words)))
        if not any(key[2]) or key[2] == tuple(map(bare, heard[new.first : new.last])):
            return
        old = found.get(key, new)
        found[key] = replace(
            old,
            likeness=max(old.likeness, new.likeness),
            confused=old.confused or new.confused,
            thought_of=old.thought_of or new.thought_of,
        )

    for text in ends:
        for first, last, other in differences(heard, text.split()):
            add(Candidate(first, last, other, thought_of=True))
    for p in proposed:
        confused = p.kind == "confusion"
        add(Candidate(p.first, p.last, tuple(p.text.split()), 0.0 if confused else p.likeness, confused))
    return tuple(sorted(found.values(), key=lambda c: (c.first, c.last, c.words)))


def differences(heard: Sequence[str], other: Sequence[str]) -> Iterator[tuple[int, int, tuple[str, ...]]]:
    """Where another text for the same sound has other words: the place in the first (half-open), and its words."""
    a, b = list(map(bare, heard)), list(map(bare, other))
    for i, j, k, m in _changed(a, b):
        if i == j or k == m:  # words put in or left out: told with a neighbour, so that both sides have words
            if i and k:
                i, k = i - 1, k - 1
            elif j < len(a) and m < len(b):
                j, m = j + 1, m + 1
            else:
                continue
        if j - i <= LONGEST and m - k <= LONGEST:
            yield i, j, tuple(other[k:m])


def _changed(a: list[str], b: list[str]) -> Iterator[tuple[int, int, int, int]]:
    """Stretches that differ, neighbouring changes as one."""
    last: tuple[int, int, int, int] | None = None
    for op in Levenshtein.opcodes(a, b):
        if op.tag == "equal":
            if last:
                yield last
            last = None
        else:
            i, k = (last[0], last[2]) if last else (op.src_start, op.dest_start)
            last = (i, op.src_end, k, op.dest_end)
    if last:
        yield last


def bare(word: str) -> str:
    """A written word in lower case without marks; points inside numbers stay."""
    return re.sub(r"[^\w'.%/]|(?<!\d)\.|\.(?!\d)", "", word.lower())


def gains(words: Sequence[Word], wanted: Sequence[Candidate], ask: Asked) -> list[float]:
    """How much better than the words heard the sound bears out each candidate, in natural logarithms. Each is asked
    about alone: what else is thought of changes nothing."""
    if not wanted:
        return []
    heard = [w.text for w in words]
    texts = [[*heard[: c.first], *written(c, heard), *heard[c.last :]] for c in wanted]
    base, *asked = ask([heard, *texts])
    return [
        sum(scores[c.first : c.first + len(c.words) + BEHIND]) - sum(base[c.first : c.last + BEHIND])
        for c, scores in zip(wanted, asked, strict=True)
    ]


def written(candidate: Candidate, heard: Sequence[str]) -> tuple[str, ...]:
    """A candidate's words with the capital and the closing mark of those that they take the place of."""
    out = list(candidate.words)
    if heard[candidate.first][:1].isupper():
        out[0] = out[0][:1].upper() + out[0][1:]
    mark = re.search(r"[.,;:?!]+$", heard[candidate.last - 1])
    out[-1] = re.sub(r"[.,;:?!]+$", "", out[-1]) + (mark[0] if mark else "")
    return tuple(out)


@dataclass(frozen=True, slots=True)
class Weights:
    """What `scripts/fit_readings.py` fitted: a logistic weight for each signal of a candidate, and how often words of
    each raw probability were right (knots of a rising line)."""

    bias: float
    signals: tuple[float, ...]
    raw: tuple[float, ...]
    right: tuple[float, ...]


@lru_cache(maxsize=1)
def weights() -> Weights:
    """The shipped weights."""
    raw = json.loads(WEIGHTS.read_text(encoding="utf-8"))
    return Weights(raw["bias"], tuple(raw["signals"]), tuple(raw["raw"]), tuple(raw["right"]))


def signals(words: Sequence[Word], candidate: Candidate, gain: float) -> tuple[float, ...]:
    """What speaks for and against a candidate, as numbers."""
    least = min(w.probability for w in words[candidate.first : candidate.last])
    return (
        max(-12.0, min(4.0, gain)),
        least,
        candidate.likeness,
        float(candidate.likeness > 0),
        float(candidate.confused),
        float(candidate.thought_of),
        float(any(c.isdigit() for word in candidate.words for c in word)),
        float(candidate.last - candidate.first - len(candidate.words) != 0),
    )


def likely(values: Sequence[float], w: Weights) -> float:
    """The probability that a candidate with these signals is what was said."""
    return 1 / (1 + math.exp(-(w.bias + float(np.dot(w.signals, values)))))


def calibrated(probability: float, w: Weights) -> float:
    """How often a word of this raw probability is right."""
    return float(np.interp(probability, w.raw, w.right))


def weighed(words: Sequence[Word], wanted: Sequence[Candidate], gained: Sequence[float]) -> tuple[Word | None, ...]:
    """The words with the likeliest readings, each with what else it may be: for each word heard what stands in its
    place; None for those whose reading stands with a word before.

    Args:
        words: as heard, with raw probabilities.
        wanted: other readings.
        gained: how much better each of them fits (`gains`).
    """
    w = weights()
    sure = [replace(word, probability=calibrated(word.probability, w)) for word in words]
    heard = [word.text for word in words]
    chances = [likely(signals(words, c, gain), w) for c, gain in zip(wanted, gained, strict=True)]
    rows = sorted(zip(chances, wanted, strict=True), key=lambda row: (-row[0], row[1].first, row[1].words))
    taken: list[tuple[float, Candidate]] = []
    for chance, c in rows:
        if chance > TAKEN and all(c.last <= t.first or t.last <= c.first for _, t in taken):
            taken.append((chance, c))
        elif chance >= SHOWN:
            sure[c.first] = _may_be(sure[c.first], " ".join(written(c, heard)), chance)
    places: list[Word | None] = list(sure)
    for chance, c in taken:
        places[c.first : c.last] = [_instead(sure[c.first : c.last], c, heard, chance)] + [None] * (
            c.last - c.first - 1
        )
    return tuple(places)


def _may_be(word: Word, text: str, chance: float) -> Word:
    """The word with one more reading, and no surer than that leaves it."""
    if len(word.readings) >= MOST:
        return word
    left = min(word.probability, 1 - min(chance, TAKEN))
    return replace(word, readings=(*word.readings, Reading(text, chance)), probability=left)


def _instead(old: Sequence[Word], candidate: Candidate, heard: Sequence[str], chance: float) -> Word:
    """A reading in the place of the words heard, which stay with it as its other reading."""
    new, was = " ".join(written(candidate, heard)), " ".join(heard[candidate.first : candidate.last])
    others = (r for word in old for r in word.readings if r.text != new)
    readings = (Reading(was, 1 - chance), *others)[:MOST]
    return Word(new, old[0].start, old[-1].end, chance, readings, was)
