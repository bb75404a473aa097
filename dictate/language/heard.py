"""A talk as repair looks at it: its written words, and what stands around each."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from dictate.language.marking import Vocabulary
from dictate.language.targets import WINDOW, Index, Known, is_form
from dictate.language.tokens import PIECE, fold, tokenize

NEAR_WORDS = 8  # within which a named place or finding speaks for a repair
OF_THE_EXAM = ("observation", "address")  # roles of talk in which findings are told


@dataclass(frozen=True, slots=True)
class Piece:
    """A written word. `start` and `end` are characters, half-open. `joined`: only a blank or a hyphen parts it from the
    word before. `ordinary`: it is English or stands in the lexicon. `fixed`: a side, a number, what denies, a short
    form, or no plain word."""

    text: str
    start: int
    end: int
    joined: bool
    ordinary: bool
    fixed: bool


def pieces_of(text: str, ready: Index, known: Known) -> tuple[Piece, ...]:
    """The written words of a text."""

    def is_known(word: str) -> bool:
        return word in ready.words or known(word)

    out: list[Piece] = []
    for match in PIECE.finditer(text):
        if not match.group()[0].isalnum():
            continue
        start, end = match.span()
        word = match.group().lower().replace("’", "'")
        parts = fold(word)
        folded = ready.spelling.get(parts[0], parts[0])
        joined = bool(out) and not text[out[-1].end : start].strip(" -")
        fixed = len(parts) > 1 or not word.replace("'", "").isalpha() or not word.isascii() or folded in ready.fixed
        ordinary = fixed or len(folded) < 2 or is_known(folded) or is_form(folded, is_known)
        out.append(Piece(word, start, end, joined, ordinary, fixed))
    return tuple(out)


def windows(pieces: Sequence[Piece]) -> Iterator[tuple[int, int, bool]]:
    """Neighbouring words that may be one mis-heard term, none of them fixed: first, last (half-open), and whether one
    of them is strange."""
    for first in range(len(pieces)):
        strange = False
        for last in range(first + 1, min(first + WINDOW, len(pieces)) + 1):
            piece = pieces[last - 1]
            if piece.fixed or (last > first + 1 and not piece.joined):
                break
            strange = strange or not piece.ordinary
            yield first, last, strange


class Surroundings:
    """What stands around the words of a talk. Built once for a talk, then only read."""

    def __init__(self, text: str, pieces: Sequence[Piece], words: Vocabulary) -> None:
        tokens = tokenize(text, words.spelling)
        self.text = text
        self._starts = [p.start for p in pieces]
        self._terms = [
            (bisect_right(self._starts, t.start) - 1, bisect_left(self._starts, t.end))
            for t in words.content.find(tokens)
            if t.kind in ("site_words", "finding_words") and any(row.note != "weak" for row in t.rows)
        ]
        self._firsts = [first for first, _ in self._terms]
        self._patient = [bisect_right(self._starts, t.start) - 1 for t in words.patients.find(tokens)]
        ends = [m.start() for m in re.finditer(r"[.?!…](?!\d)|\n", text)]
        self._sentence = [bisect_left(ends, s) for s in self._starts]
        self._elsewhere = {
            bisect_left(ends, c.start)
            for c in words.context.find(tokens)
            if c.kind == "cues" and any(row.role not in OF_THE_EXAM for row in c.rows)
        }

    def near(self, first: int, last: int) -> bool:
        """Whether a named place or finding stands within a few words of these, outside of them."""
        lo = bisect_left(self._firsts, first - NEAR_WORDS)
        hi = bisect_right(self._firsts, last + NEAR_WORDS)
        return any(b <= first or a >= last for a, b in self._terms[lo:hi])

    def patient(self, first: int, last: int) -> bool:
        """Whether the patient is described within a few words of these, outside of them."""
        lo = bisect_left(self._patient, first - NEAR_WORDS // 2)
        hi = bisect_right(self._patient, last + NEAR_WORDS // 2)
        return any(not first <= at < last for at in self._patient[lo:hi])

    def elsewhere(self, first: int) -> bool:
        """Whether the sentence is history, plan, advice or other talk that tells no finding."""
        return self._sentence[first] in self._elsewhere

    def opens(self, first: int) -> bool:
        """Whether a word is the first of its sentence."""
        return first == 0 or self._sentence[first] != self._sentence[first - 1]
