"""The second reader as the language step uses it: one reading for each stretch of the rules."""

from __future__ import annotations

from functools import lru_cache

from dictate.language.marking import Marked
from dictate.language.second_reader import SecondReader, StretchReading, load
from dictate.language.second_reader.model_files import LABELS, folder_of_model, read_labels

WORDS_A_MARK = 25  # a text with fewer marks than one in so many words is taken to have none
MARKS = ".,;:?!"


@lru_cache(maxsize=1)
def second_reader() -> SecondReader:
    """The shipped second reader, loaded once."""
    return load()


@lru_cache(maxsize=1)
def known_sites() -> frozenset[str]:
    """The sites that the shipped second reader was trained on; of others it cannot speak."""
    labels = read_labels(folder_of_model(None) / LABELS)
    return frozenset(labels.sites)


@lru_cache(maxsize=1)
def known_findings() -> frozenset[str]:
    """The findings that the shipped second reader was trained on."""
    labels = read_labels(folder_of_model(None) / LABELS)
    return frozenset(labels.findings)


def begins(text: str) -> frozenset[int]:
    """Characters at which stretches begin, for a text without marks; empty for one that has them."""
    if sum(text.count(m) for m in MARKS) * WORDS_A_MARK >= len(text.split()):
        return frozenset()
    return frozenset(r.char_start for r in second_reader().read(text))


def second_readings(marked: Marked) -> tuple[StretchReading | None, ...]:
    """The second reader's reading of each stretch."""
    starts = [s.start for s in marked.stretches]
    by_start = {r.char_start: r for r in second_reader().read(marked.text, cuts=starts)}
    return tuple(by_start.get(start) for start in starts)
