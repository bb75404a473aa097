"""What was said twice of one site, side and finding becomes one statement with the evidence of both."""

from __future__ import annotations

from dataclasses import replace

from dictate.exam.context import Context, place_of, start_of
from dictate.exam.statements import Doubt, Evidence, Statement

# A doubt of these kinds says that the statement may belong elsewhere, so a second, sure statement does not settle it.
ABOUT_PLACE = ("side", "carried over", "site")


def merge_repeated(statements: tuple[Statement, ...], context: Context) -> tuple[Statement, ...]:
    """The statements in the order of the talk, repeated ones merged.

    Two merge when they say the same of the same place and no qualifier that both have differs. Two different values of
    one measure are two statements. The later of two says how sure the speaker is.
    """
    merged: list[Statement] = []
    alike: dict[tuple[object, ...], list[int]] = {}
    for statement in sorted(statements, key=start_of):
        known = alike.setdefault(_said(statement), [])
        for index in known:
            if _agree(merged[index], statement):
                merged[index] = join(merged[index], statement)
                break
        else:
            known.append(len(merged))
            merged.append(statement)
    return tuple(merged)


def _said(s: Statement) -> tuple[object, ...]:
    return (s.site, s.side, s.status, s.finding, s.present, s.value, place_of(s))


def _agree(a: Statement, b: Statement) -> bool:
    shared = a.qualifiers.keys() & b.qualifiers.keys()
    return all(a.qualifiers[key] == b.qualifiers[key] for key in shared)


def join(earlier: Statement, later: Statement) -> Statement:
    """One statement for two that say the same; the evidence of both in the order of the talk."""
    return replace(
        earlier,
        stated_as=later.stated_as,
        qualifiers={**earlier.qualifiers, **later.qualifiers},
        doubts=_joined_doubts(earlier, later),
        evidence=_joined_evidence((*earlier.evidence, *later.evidence)),
        probability=max(earlier.probability, later.probability),
    )


def _joined_doubts(a: Statement, b: Statement) -> tuple[Doubt, ...]:
    if bool(a.doubts) != bool(b.doubts):  # one of the two stands undoubted and bears the other out
        return tuple(d for d in (*a.doubts, *b.doubts) if d.kind in ABOUT_PLACE)
    return tuple(dict.fromkeys((*a.doubts, *b.doubts)))


def _joined_evidence(evidence: tuple[Evidence, ...]) -> tuple[Evidence, ...]:
    return tuple(sorted(dict.fromkeys(evidence), key=lambda e: (e.char_start, e.char_end)))
