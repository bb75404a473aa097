"""Statements that cannot both hold: both are kept, and both are doubted.

Praise beside a finding is usual talk ("ears are clean, bit of hair in the left"), so a plain normal statement and an
abnormal one are doubted only where the talk came back to the site after others. In the narrations used for work this
holds for 3 of some 80 such pairs, 2 of which their truth marks for review.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations, islice

from dictate.exam.context import Context, is_plain_normal, place_of, start_of
from dictate.exam.statements import Doubt, Measure, Statement

NEAR = 200  # characters within which a word between two values says that the second was taken later


def doubt_contradictions(statements: tuple[Statement, ...], context: Context) -> tuple[Statement, ...]:
    """The same statements, with doubts on both of every two that contradict each other; one doubt of a kind each."""
    doubts: dict[int, dict[str, Doubt]] = {}
    for indices in _places(statements):
        group = [statements[i] for i in indices]
        for i, j in combinations(indices, 2):
            a, b = statements[i], statements[j]
            doubt = (
                present_and_absent(a, b)
                or two_values(a, b, group, context)
                or normal_and_not(a, b, statements, context)
            )
            if doubt:
                doubts.setdefault(i, {}).setdefault(doubt.kind, doubt)
                doubts.setdefault(j, {}).setdefault(doubt.kind, doubt)
    return tuple(
        replace(s, doubts=(*s.doubts, *doubts[i].values())) if i in doubts else s for i, s in enumerate(statements)
    )


def _places(statements: Sequence[Statement]) -> Iterator[list[int]]:
    """The statements about one place, by their number."""
    places: dict[tuple[object, ...], list[int]] = {}
    for index, statement in enumerate(statements):
        places.setdefault((statement.site, statement.side, place_of(statement)), []).append(index)
    yield from places.values()


def present_and_absent(a: Statement, b: Statement) -> Doubt | None:
    """The same finding told as present and as absent, at the same location."""
    if a.finding is None or a.finding != b.finding or a.present == b.present:
        return None
    if a.qualifiers.get("location") != b.qualifiers.get("location"):
        return None
    message = f"{a.finding.capitalize()} is told both as present and as absent."
    return Doubt("contradiction", message, ("present", "absent"))


def two_values(a: Statement, b: Statement, group: Sequence[Statement], context: Context) -> Doubt | None:
    """Two different values of one measure, with nothing in the talk to say that the second was taken later.

    Three or more are a series of readings and no contradiction.
    """
    if a.value is None or b.value is None or a.value == b.value or dict(a.qualifiers) != dict(b.qualifiers):
        return None
    series = len({s.value for s in group if s.value is not None}) > 2
    if series or a.value.unit != b.value.unit or _taken_again(a, b, context):
        return None
    said = (measure_text(a.value), measure_text(b.value))
    return Doubt("contradiction", f"Two values were told: {said[0]} and {said[1]}.", (*said, "both"))


def _taken_again(a: Statement, b: Statement, context: Context) -> bool:
    if not a.evidence or not b.evidence:
        return False
    first, second = sorted((a, b), key=start_of)
    start, end = start_of(first), max(e.char_end for e in second.evidence)
    between = context.transcript.text[start:end] if end - start <= NEAR else " ".join(e.text for e in second.evidence)
    return _has_words(between, tuple(row.words for row in context.lexicon.repeat_words))


def normal_and_not(a: Statement, b: Statement, statements: Sequence[Statement], context: Context) -> Doubt | None:
    """Plain normal, and abnormal or not examined, told of one place with other regions of the body between.

    Praise of what is left over ("otherwise fine") contradicts nothing, and what is doubted already is looked at anyway.
    """
    if is_plain_normal(a) == is_plain_normal(b) or a.doubts or b.doubts:
        return None
    normal, other = (a, b) if is_plain_normal(a) else (b, a)
    if other.status == "normal" or a.qualifiers.get("location") != b.qualifiers.get("location"):
        return None
    praise = " ".join(e.text for e in normal.evidence)
    rest = tuple(row.words for row in context.lexicon.rest_words)
    if _has_words(praise, rest) or not _came_back(a, b, statements, context):
        return None
    told = "not examined" if other.status == "not_examined" else (other.finding or "abnormal")
    return Doubt("contradiction", f"Told as normal, and elsewhere as {told}.", ("normal", told, "both"))


def _came_back(a: Statement, b: Statement, statements: Sequence[Statement], context: Context) -> bool:
    """Whether enough other regions were spoken of between two statements. `statements` are in the order of the talk."""
    low, high = sorted((start_of(a), start_of(b)))
    between: set[str] = set()
    for s in islice(statements, bisect_right(statements, low, key=start_of), None):
        if start_of(s) >= high:
            return False
        if context.region(s.site) != context.region(a.site):
            between.add(context.region(s.site))
        if len(between) >= context.settings.regions_between:
            return True
    return False


def _has_words(text: str, phrases: tuple[str, ...]) -> bool:
    words = "|".join(re.escape(phrase) for phrase in phrases)
    return bool(words) and re.search(rf"\b(?:{words})\b", text, re.IGNORECASE) is not None


def measure_text(value: Measure) -> str:
    """A value as a reader sees it: comparator, number, unit."""
    parts = ((value.comparator or "") + f"{value.number:g}", value.unit or "")
    return " ".join(part for part in parts if part)
