"""Which recordings are of one exam: those whose names say so, and those that follow on one another without a pause.

Names: "rex part 1.m4a" and "rex part 2.m4a" (the words stand in the table `part_words`). Times: a recorder that cuts
its sound into files begins the next one where the last one ended. Told by times that stand in both names, else by when
the files were last written. The allowance is *common practice, no source*: file systems of recorders count in two
seconds.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

from dictate.bulk.values import Found

_LATE, _EARLY = 2.5, -2.0  # seconds between the end of one and the beginning of the next
_IN_NAME = re.compile(r"(20\d\d)\D?(\d\d)\D?(\d\d)\D{0,3}(\d\d)\D?(\d\d)\D?(\d\d)(?!\d)")


@dataclass(frozen=True, slots=True)
class Part:
    """What a name says of the part that a recording is: the name without it, and the number."""

    base: str
    number: int


def stem_of(name: str) -> str:
    """The name of a file without its last ending."""
    before, dot, ending = name.rpartition(".")
    return before if dot and before and "/" not in ending else name


def part_of(name: str, words: Sequence[str]) -> Part | None:
    """The part that a file's name states by one of the words and a number ("part 2", "2 of 3", "(pt 1)"), or None.

    Args:
        words: lower case words that introduce the number of a part.
    """
    stem = stem_of(name)
    told = "|".join(re.escape(w) for w in sorted(words, key=len, reverse=True))
    pattern = rf"(?P<base>.*?)[\s_.,(\[-]*\b(?:(?:{told})[\s_.-]*)(?P<number>\d{{1,2}})(?:[\s_]*of[\s_]*\d+)?[)\]]*"
    for shape in (pattern, r"(?P<base>.*?)[\s_.,(\[-]+(?P<number>\d{1,2})[\s_]*of[\s_]*\d{1,2}[)\]]*"):
        found = re.fullmatch(shape, stem.replace("_", " "), re.IGNORECASE)
        if found:
            return Part(found["base"].strip().casefold(), int(found["number"]))
    return None


def groups(files: Sequence[tuple[Found, float | None]], words: Sequence[str]) -> list[tuple[Found, ...]]:
    """The files of one folder, with their lengths in seconds, gathered into exams; in the order of names.

    Every file is in exactly one group, and the files of a group are in the order in which they were recorded.
    """
    by_name: dict[str, list[tuple[int, int]]] = {}
    for i, (found, _) in enumerate(files):
        part = part_of(found.name, words)
        key, number = (part.base, part.number) if part else (stem_of(found.name).replace("_", " ").casefold(), 0)
        by_name.setdefault(key, []).append((number, i))
    after: dict[int, int] = {}
    for row in by_name.values():
        row.sort()
        numbers = [n for n, _ in row]
        # "rex" alone is the first of "rex part 2"; two files of one number are two recordings, and nothing is joined.
        if len(set(numbers)) == len(numbers) and sum(n > 0 for n in numbers) and len(row) > 1:
            after.update((a, b) for (_, a), (_, b) in pairwise(row))
    for i in range(len(files) - 1):
        if i not in after and i + 1 not in after.values() and follows(files[i], files[i + 1]):
            after[i] = i + 1
    begun = [i for i in range(len(files)) if i not in set(after.values())]
    result = []
    for i in begun:
        row_ = [i]
        while row_[-1] in after:
            row_.append(after[row_[-1]])
        result.append(tuple(files[j][0] for j in row_))
    return result


def follows(first: tuple[Found, float | None], second: tuple[Found, float | None]) -> bool:
    """Whether the second recording begins where the first one ends, both named in the same manner."""
    (one, length), (two, own_length) = first, second
    if length is None or re.sub(r"\d+", "#", one.name) != re.sub(r"\d+", "#", two.name):
        return False
    begun, then = time_in(one.name), time_in(two.name)
    if begun is not None and then is not None:
        return _EARLY <= then - (begun + length) <= _LATE
    if one.changed is None or two.changed is None or own_length is None:
        return False
    return _EARLY <= (two.changed - own_length) - one.changed <= _LATE


def time_in(name: str) -> float | None:
    """The time that stands in a name, as 20260504_103012 or 2026-05-04 10.30.12; in seconds, good for differences."""
    found = _IN_NAME.search(name)
    if not found:
        return None
    try:
        return datetime(*map(int, found.groups()), tzinfo=UTC).timestamp()  # type: ignore[misc, arg-type]
    except ValueError:
        return None
