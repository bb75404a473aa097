"""Statements that cannot both hold: both are kept, and both are doubted.

Praise beside a finding is usual talk ("ears are clean, bit of hair in the left"), so a plain normal statement and an
abnormal one are doubted only where the talk came back to the site after others. In the narrations used for work this
holds for 3 of some 80 such pairs, 2 of which their truth marks for review.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

from dictate.exam.context import Context, is_plain_normal, place_of, start_of
from dictate.exam.statements import Doubt, Measure, Statement


def doubt_contradictions(statements: tuple[Statement, ...], context: Context) -> tuple[Statement, ...]:
    """The same statements, with doubts on both of every two that contradict each other."""
    doubts: dict[int, list[Doubt]] = {}
    for i, j in _pairs_of_one_place(statements):
        a, b = statements[i], statements[j]
        doubt = present_and_absent(a, b) or two_values(a, b, context) or normal_and_not(a, b, statements, context)
        if doubt:
            doubts.setdefault(i, []).append(doubt)
            doubts.setdefault(j, []).append(doubt)
    return tuple(
        replace(s, doubts=tuple(dict.fromkeys((*s.doubts, *doubts[i])))) if i in doubts else s
        for i, s in enumerate(statements)
    )


def _pairs_of_one_place(statements: Sequence[Statement]) -> Iterator[tuple[int, int]]:
    places: dict[tuple[object, ...], list[int]] = {}
    for index, statement in enumerate(statements):
        places.setdefault((statement.site, statement.side, place_of(statement)), []).append(index)
    for indices in places.values():
        yield from combinations(indices, 2)


def present_and_absent(a: Statement, b: Statement) -> Doubt | None:
    """The same finding told as present and as absent, at the same location."""
    if a.finding is None or a.finding != b.finding or a.present == b.present:
        return None
    if a.qualifiers.get("location") != b.qualifiers.get("location"):
        return None
    message = f"{a.finding.capitalize()} is told both as present and as absent."
    return Doubt("contradiction", message, ("present", "absent"))


def two_values(a: Statement, b: Statement, context: Context) -> Doubt | None:
    """Two different values of one measure, with nothing in the talk to say that the second was taken later."""
    if a.value is None or b.value is None or a.value == b.value or dict(a.qualifiers) != dict(b.qualifiers):
        return None
    if a.value.unit != b.value.unit or _taken_again(a, b, context):
        return None
    said = (measure_text(a.value), measure_text(b.value))
    return Doubt("contradiction", f"Two values were told: {said[0]} and {said[1]}.", (*said, "both"))


def _taken_again(a: Statement, b: Statement, context: Context) -> bool:
    if not a.evidence or not b.evidence:
        return False
    first, second = sorted((a, b), key=start_of)
    start, end = start_of(first), max(e.char_end for e in second.evidence)
    between = context.transcript.text[start:end] if end - start <= 200 else " ".join(e.text for e in second.evidence)
    words = "|".join(re.escape(row.words) for row in context.lexicon.repeat_words)
    return bool(words) and re.search(rf"\b(?:{words})\b", between, re.IGNORECASE) is not None


def normal_and_not(a: Statement, b: Statement, statements: Sequence[Statement], context: Context) -> Doubt | None:
    """Plain normal, and abnormal or not examined, told of one place with other regions of the body between."""
    if is_plain_normal(a) == is_plain_normal(b):
        return None
    other = b if is_plain_normal(a) else a
    if other.status == "normal" or a.qualifiers.get("location") != b.qualifiers.get("location"):
        return None
    low, high = sorted((start_of(a), start_of(b)))
    between = {context.region(s.site) for s in statements if low < start_of(s) < high} - {context.region(a.site)}
    if len(between) < context.settings.regions_between:
        return None
    told = "not examined" if other.status == "not_examined" else (other.finding or "abnormal")
    return Doubt("contradiction", f"Told as normal, and elsewhere as {told}.", ("normal", told, "both"))


def measure_text(value: Measure) -> str:
    """A value as a reader sees it: comparator, number, unit."""
    parts = ((value.comparator or "") + f"{value.number:g}", value.unit or "")
    return " ".join(part for part in parts if part)
