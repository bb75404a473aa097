"""Phrases of a table found at a place of a tokenised text: units, comparators, connecting words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from dictate.language.numbers import Token, tokens
from dictate.language.tables_in_use import from_tables, number_words, rows

Value = TypeVar("Value")


class Phrases(Generic[Value]):
    """Phrases of one or more words, each with a value; the longest one wins."""

    def __init__(self, phrases: Mapping[str, Value]) -> None:
        self._starting: dict[str, list[tuple[tuple[str, ...], Value]]] = {}
        self._ending: dict[str, list[tuple[tuple[str, ...], Value]]] = {}
        for phrase, value in phrases.items():
            words = tuple(token.low for token in tokens(phrase))
            self._starting.setdefault(words[0], []).append((words, value))
            self._ending.setdefault(words[-1], []).append((words, value))
        for known in (*self._starting.values(), *self._ending.values()):
            known.sort(key=lambda item: -len(item[0]))

    def after(self, words: Sequence[Token], at: int) -> tuple[int, Value] | None:
        """The longest phrase that starts at token `at`: (stop, value)."""
        if at >= len(words):
            return None
        for phrase, value in self._starting.get(words[at].low, ()):
            stop = at + len(phrase)
            if stop <= len(words) and all(words[at + k].low == phrase[k] for k in range(1, len(phrase))):
                return stop, value
        return None

    def before(self, words: Sequence[Token], stop: int) -> tuple[int, Value] | None:
        """The longest phrase that ends just before token `stop`: (start, value)."""
        if stop <= 0:
            return None
        for phrase, value in self._ending.get(words[stop - 1].low, ()):
            start = stop - len(phrase)
            if start >= 0 and all(words[start + k].low == phrase[k] for k in range(len(phrase) - 1)):
                return start, value
        return None

    def all(self, words: Sequence[Token]) -> Iterable[tuple[int, int, Value]]:
        """Every longest phrase in the text: (start, stop, value)."""
        for at, word in enumerate(words):
            if word.low in self._starting and (hit := self.after(words, at)):
                yield at, *hit


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as spoken: its UCUM code, what it measures, other codes that the word may mean."""

    ucum: str
    quantity: str
    article: bool
    other: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Cue:
    """A word that announces a grade or a score, and the scale that is usual for it."""

    kind: str
    scale: float | None

    @property
    def top(self) -> float:
        """The largest number that this cue can announce; larger ones belong to something else."""
        return self.scale or (100 if self.kind == "score" else 10)


@from_tables
def units() -> Phrases[Unit]:
    """All spoken units of `lexicon/units.csv`."""
    return Phrases(
        {
            row["form"]: Unit(row["ucum"], row["quantity"], bool(row["article"]), tuple(row["other"].split()))
            for row in rows("units.csv")
        }
    )


@from_tables
def point_is_silent_before() -> frozenset[str]:
    """Words of mass and temperature: before one of them "four two" is 4.2."""
    return frozenset(
        word.low
        for row in rows("units.csv")
        if row["quantity"] in ("mass", "temperature")
        for word in tokens(row["form"])[:1]
    )


@from_tables
def words_of(kind: str) -> Phrases[str]:
    """The phrases of one kind of `lexicon/number_words.csv` with their values."""
    return Phrases(number_words()[kind])


@from_tables
def cues() -> Phrases[Cue]:
    """Cue words of grades and scores in `lexicon/scales.csv`."""
    return Phrases(
        {
            row["cue"]: Cue(row["kind"], float(row["scale"]) if row["scale"] else None)
            for row in rows("scales.csv")
            if row["kind"] != "denominator"
        }
    )


@from_tables
def denominators() -> frozenset[float]:
    """Tops of scales that are in use: "three of nine" is a score, "three of seven" hardly."""
    return frozenset(float(row["scale"]) for row in rows("scales.csv") if row["kind"] == "denominator")
