"""Words heard beside words of the lexicon: how well each explains the other, by spelling and by sound.

Weights and limits were chosen on narrations for work: clean ones, in which nothing may change, and eight spoken by
synthetic voices and heard by the shipped model (`scripts/score_repair.py`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from rapidfuzz import fuzz, process
from rapidfuzz.distance import Levenshtein

from dictate.language.heard import Piece, Surroundings
from dictate.language.sounds import likeness, skeleton, sounds
from dictate.language.targets import Index, Known, Target
from dictate.language.tokens import singular

How = Literal["table", "sound", "spelling"]

BEST = 6  # targets of a window that are compared in full
BATCH = 256  # windows compared at once, which bounds the memory
CONSONANTS = 4  # that two or three English words must share with one term
TRADE = 0.01  # bonus from which a target is a word of the trade rather than any word
LETTERS = "abcdefghijklmnopqrstuvwxyz"
_ENDINGS = """al ic ical ous ed ing y er ers or ation itis osis ectomy oma um a ae ary ive s ly ish en ity e es
ion ions ant ants ate itic"""
FORMING = frozenset(_ENDINGS.split())  # endings that make another word of a stem


@dataclass(frozen=True, slots=True)
class Proposal:
    """A change thought of: the words from `first` to `last` (half-open) for `meant`; `score` is about 0 to 1."""

    first: int
    last: int
    meant: str
    how: How
    score: float


def of_strange(
    pieces: Sequence[Piece],
    spans: Sequence[tuple[int, int]],
    ready: Index,
    around: Surroundings,
    known: Known,
    *,
    least: float,
) -> Iterator[Proposal]:
    """Proposals that score `least` or more for windows with a word that is no English. An English word one letter away
    that explains it as well stands in the way."""
    for at in range(0, len(spans), BATCH):
        batch = spans[at : at + BATCH]
        for (first, last), likely in zip(batch, nearest_targets(pieces, batch, ready), strict=True):
            found = [p for t in likely if (p := compared(pieces, first, last, t, ready, around)) and p.score >= least]
            if found and last - first == 1:
                rival = nearest_english(pieces[first].text, known)
                found = [p for p in found if p.score > rival]
            yield from found


def nearest_targets(pieces: Sequence[Piece], spans: Sequence[tuple[int, int]], ready: Index) -> Iterator[list[Target]]:
    """For each window the few targets that are nearest by letters and consonants together."""
    if not spans:
        return
    heard = [sounds_of(pieces[a:b]) for a, b in spans]
    letters = [letters_of(pieces[a:b]) for a, b in spans]
    bones = [skeleton(h) for h in heard]
    spelt = process.cdist(letters, ready.letters, scorer=fuzz.ratio, score_cutoff=60, dtype=np.float32)
    spoken = process.cdist(
        bones, ready.skeletons, scorer=Levenshtein.normalized_similarity, score_cutoff=0.6, dtype=np.float32
    )
    both = spelt / 100 + spoken
    for row, same in zip(both, bones, strict=True):
        if len(row) > BEST:
            nearest = [int(i) for i in np.argpartition(-row, BEST)[:BEST] if row[i] > 0]
        else:
            nearest = [i for i in range(len(row)) if row[i] > 0]
        yield [ready.targets[i] for i in dict.fromkeys((*nearest, *ready.by_skeleton.get(same, ())[:BEST]))]


def compared(
    pieces: Sequence[Piece],
    first: int,
    last: int,
    target: Target,
    ready: Index,
    around: Surroundings,
    *,
    unsure: bool = False,
) -> Proposal | None:
    """The words as the target, or None. Words with which both begin or end are left out: they need no repair, but speak
    for it. `unsure` says that the words were heard unsurely, so that ordinary ones may be meant otherwise too, unless
    they tell of the patient as they stand."""
    meant, bonus = target.text.split(), target.bonus
    while len(meant) > 1 and last - first > 1 and pieces[first].text == meant[0]:
        first, meant, bonus = first + 1, meant[1:], 0.06
    while len(meant) > 1 and last - first > 1 and pieces[last - 1].text == meant[-1]:
        last, meant, bonus = last - 1, meant[:-1], 0.06
    window = pieces[first:last]
    letters, wanted = letters_of(window), "".join(meant)
    if unsure and (letters == wanted or bonus < TRADE or any(_of_content(p.text, ready) for p in window)):
        return None
    if (not unsure and all(p.ordinary for p in window)) or [p.text for p in window] == meant:
        return None
    if len(window) == 1 and another_form(letters, wanted):
        return None
    if letters == wanted and len(window) > 1:
        return Proposal(first, last, " ".join(meant), "spelling", 0.95)  # only written apart
    heard = sounds_of(window)
    told = target.sounds if len(meant) == target.words else "".join(map(sounds, meant))
    like, spell = likeness(heard, told), fuzz.ratio(letters, wanted) / 100
    score = 0.6 * like + 0.4 * spell + bonus
    for piece in window:
        if piece.ordinary and piece.text not in meant and not unsure:
            score -= 0.12 if piece.text in ready.clinical else 0.04 if len(piece.text) > 3 else 0.02
    score += 0.03 * max(0, sum(not p.ordinary for p in window) - 1)
    bones, wanted_bones = skeleton(heard), skeleton(told)
    score -= 0.06 * (bones[:1] != wanted_bones[:1]) + 0.03 * (bones[-1:] != wanted_bones[-1:])
    score -= 0.04 * (len(told) < 5) + 0.06 * (not around.near(first, last)) + 0.04 * around.elsewhere(first)
    score -= 0.05 * (around.text[window[0].start].isupper() and not around.opens(first))  # it may be a name
    return Proposal(first, last, " ".join(meant), "sound" if like >= spell else "spelling", score)


def of_english(
    pieces: Sequence[Piece], first: int, last: int, ready: Index, around: Surroundings
) -> Iterator[Proposal]:
    """Proposals for two or three English words, none of them in the lexicon, that have all consonants of one term."""
    heard = sounds_of(pieces[first:last])
    bones = skeleton(heard)
    if len(bones) < CONSONANTS or bones not in ready.by_skeleton:
        return
    said = {p.text.removesuffix("'s") for p in pieces[first:last]}
    if said & ready.clinical or around.elsewhere(first) or not around.near(first, last):
        return
    letters = letters_of(pieces[first:last])
    for at in ready.by_skeleton[bones]:
        target = ready.targets[at]
        short = target.words == 1 and len(target.letters) < 7
        if target.bonus < TRADE or short or letters == target.letters or said & set(target.text.split()):
            continue
        like, spell = likeness(heard, target.sounds), fuzz.ratio(letters, target.letters) / 100
        yield Proposal(first, last, target.text, "sound", 0.7 * like + 0.3 * spell + target.bonus - 0.06)


def nearest_english(word: str, known: Known) -> float:
    """How well the nearest word of ordinary English that is one letter away explains a strange word."""
    heard, best = sounds(word), 0.0
    others = set()
    for at in range(len(word) + 1):
        head, tail = word[:at], word[at:]
        others |= {head + c + tail for c in LETTERS}
        if tail:
            others |= {head + tail[1:]} | {head + c + tail[1:] for c in LETTERS}
    for other in others - {word}:
        if len(other) > 2 and known(other):
            best = max(best, 0.6 * likeness(heard, sounds(other)) + 0.4 * fuzz.ratio(word, other) / 100)
    return best


def another_form(heard: str, wanted: str) -> bool:
    """Whether both look like words of one stem ("sternal", "sternum"): then the heard one is a word of its own."""
    plain = [w.replace("ae", "e").replace("oe", "e").removesuffix("s") for w in (heard, wanted)]
    if plain[0] == plain[1]:
        return True
    shared = 0
    while shared < min(len(heard), len(wanted)) and heard[shared] == wanted[shared]:
        shared += 1
    return any(
        heard[at:] in FORMING and (wanted[at:] in FORMING or not wanted[at:])
        for at in range(max(4, shared - 2), shared + 1)
    )


def _of_content(word: str, ready: Index) -> bool:
    word = word.removesuffix("'s")
    return word in ready.content or (singular(word) or word) in ready.content


def letters_of(pieces: Sequence[Piece]) -> str:
    return "".join(p.text for p in pieces).replace("'", "")


def sounds_of(pieces: Sequence[Piece]) -> str:
    return "".join(sounds(p.text) for p in pieces)
