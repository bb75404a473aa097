"""From what was read to what the exam step takes: statements, remarks and unplaced phrases with their evidence.

All positions of the reading are of the repaired text; evidence is given in positions of the text as it was heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictate.exam.statements import Doubt, Evidence, Remark, Statement, Unplaced
from dictate.language.clauses import Stretch
from dictate.language.doubting import Thresholds
from dictate.language.marking import Marked
from dictate.language.repair import Change, Repaired
from dictate.language.roles import SECTIONS, Role
from dictate.language.second_reader import StretchReading
from dictate.language.values import Said

KEPT_FROM = 0.33  # the second reader's probability of a section from which a stretch is kept there
AGREED_FROM = 0.15  # and where a cue of the same section agrees
BY_CUE = ("assessment", "general")  # sections that the second reader was not taught
SURE_REPAIR = 0.9  # a repair less sure than this is asked about


@dataclass(frozen=True, slots=True)
class Heard:
    """The text as it was heard, and as it was read after repair."""

    original: str
    repaired: Repaired

    def evidence(self, start: int, end: int) -> Evidence:
        """Characters of the repaired text as evidence from the original."""
        first, last = self.repaired.back(start), self.repaired.back(end, end=True)
        return Evidence(self.original[first:last], first, last)

    def changes(self, start: int, end: int) -> tuple[Change, ...]:
        """The repairs within characters of the repaired text."""
        return tuple(c for c in self.repaired.changes if c.new_start < end and start < c.new_end)


def statement(heard: Heard, marked: Marked, said: Said) -> Statement:
    """A statement of the reading as the exam step takes it."""
    start, end = marked.tokens[said.first].start, marked.tokens[said.last - 1].end
    repairs = tuple(
        Doubt("repaired", f"heard as “{c.heard}”, read as “{c.meant}”", (c.meant, c.heard))
        for c in heard.changes(start, end)
        if c.sure < SURE_REPAIR
    )
    return Statement(
        site=said.site,
        side=said.side,  # type: ignore[arg-type]
        status=said.status,  # type: ignore[arg-type]
        finding=said.finding,
        present=said.present,
        stated_as="possible" if said.hedged else "certain",
        qualifiers=said.qualifiers,
        value=said.value,
        doubts=(*said.doubts, *repairs[:1]),
        evidence=(heard.evidence(start, end),),
        probability=said.sure,
    )


def section(role: Role, reading: StretchReading | None) -> str:
    """The section a stretch is kept in, or "" for none: the second reader's word where there is one."""
    if reading is None:
        return role.name if role.name in SECTIONS else ""
    if role.name in BY_CUE:
        return role.name
    best = max(SECTIONS, key=lambda s: reading.roles.get(s, 0.0))
    p = reading.roles.get(best, 0.0)
    return best if p >= KEPT_FROM or (role.name == best and p >= AGREED_FROM) else ""


def remarks(
    heard: Heard, marked: Marked, told: Sequence[Role], readings: Sequence[StretchReading | None]
) -> tuple[Remark, ...]:
    """Talk that is kept in a section: neighbouring stretches of one role and sentence are one remark."""
    out: list[Remark] = []
    previous: tuple[str, int] | None = None
    first = 0
    for stretch, role, reading in zip(marked.stretches, told, readings, strict=True):
        name = section(role, reading)
        if not name:
            previous = None
            continue
        if (name, stretch.sentence) == previous:
            out.pop()
        else:
            first = stretch.start
        out.append(Remark(name, heard.evidence(first, stretch.end)))  # type: ignore[arg-type]
        previous = (name, stretch.sentence)
    return tuple(out)


def unplaced(
    heard: Heard,
    marked: Marked,
    told: Sequence[Role],
    readings: Sequence[StretchReading | None],
    kept: Sequence[Said],
    thresholds: Thresholds,
) -> tuple[Unplaced, ...]:
    """Stretches that sound like an observation and of which no statement was kept; neighbours are one phrase."""
    spoken = {s.stretch for s in kept}
    out: list[tuple[int, int]] = []
    previous = -2
    for i, (stretch, role, reading) in enumerate(zip(marked.stretches, told, readings, strict=True)):
        if i in spoken or not _clinical(marked, stretch, role, reading, thresholds):
            continue
        if previous == i - 1 and marked.stretches[previous].sentence == stretch.sentence:
            out[-1] = (out[-1][0], stretch.end)
        else:
            out.append((stretch.start, stretch.end))
        previous = i
    why = "sounds like an observation, and no place was found for it"
    return tuple(Unplaced(heard.evidence(start, end), why) for start, end in out)


def _clinical(
    marked: Marked, stretch: Stretch, role: Role, reading: StretchReading | None, thresholds: Thresholds
) -> bool:
    if reading is None:
        return role.is_fact and bool(stretch.of("finding_words"))
    if reading.roles.get("fact", 0.0) < thresholds.show:
        return False
    if stretch.of("finding_words", "normal_words", "not_examined"):
        return True
    if len(marked.words(stretch.first, stretch.last).split()) < 2:
        return False  # a unit or a side left over from what was read beside it
    return bool(stretch.of("quantity") or any(r.outcomes for r in reading.sites))
