"""This visit beside the earlier ones: what is new, gone, changed or the same, by site and side, and values over time.

A finding is "gone" only where this visit says so: the finding absent, or the site plainly normal. Where nobody spoke of
it, it is "not told". A finding of a site that no earlier visit examined is "first looked at", which is not "new".
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from dictate.exam.record import Measured, Observation, Record
from dictate.exam.units import convert
from dictate.lexicon.tables import Lexicon
from dictate.review.choices import place

State = Literal["new", "changed", "gone", "unchanged", "not told", "first looked at"]
STATES: tuple[State, ...] = ("new", "changed", "gone", "first looked at", "not told", "unchanged")


@dataclass(frozen=True, slots=True)
class Change:
    """One finding now and before. `last` is the time of the visit that `before` is of, or that the site was last
    examined at; None where it never was."""

    site: str
    side: str | None
    finding: str
    state: State
    now: Observation | None = None
    before: Observation | None = None
    last: datetime | None = None


@dataclass(frozen=True, slots=True)
class Point:
    time: datetime
    number: float
    comparator: str | None = None


@dataclass(frozen=True, slots=True)
class Series:
    """The values of one measure, oldest first, in the unit (UCUM) in which it was told last."""

    name: str
    unit: str
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """`times` of the visits, oldest first; `changes` by state, in the order of the form; `series` likewise.

    `undated` is how many of the records do not hold the visit's own day: the day of their draft stands for it, which
    may be years later. Whoever shows times must say so.
    """

    times: tuple[datetime, ...]
    changes: tuple[Change, ...]
    series: tuple[Series, ...]
    undated: int = 0


def visit_time(record: Record) -> datetime:
    """When the visit was: its own time where it is known, else that of the draft."""
    return record.encounter.time or record.drafted


def compare(visits: Sequence[Record], lexicon: Lexicon) -> Comparison:
    """The last of the visits (oldest first) beside all others. Records entered in error are left out."""
    visits = [v for v in visits if v.status != "entered-in-error"]
    if not visits:
        return Comparison((), (), ())
    order = {site.site: rank for rank, site in enumerate(lexicon.sites)}
    changes = sorted(
        _changes(visits[-1], visits[:-1]), key=lambda c: (STATES.index(c.state), order.get(c.site, len(order)))
    )
    series = sorted(_series(visits), key=lambda s: order.get(s[0], len(order)))
    times = tuple(visit_time(v) for v in visits)
    undated = sum(v.encounter.time is None for v in visits)
    return Comparison(times, tuple(changes), tuple(one for _, one in series), undated)


def _changes(now: Record, earlier: Sequence[Record]) -> Iterator[Change]:
    found = [o for o in now.observations if _is_finding(o)]
    kept: set[str] = set()
    for key in dict.fromkeys((o.site, o.side) for o in found):
        here = [o for o in found if (o.site, o.side) == key]
        last = _last_look(*key, earlier)
        before = [o for o in last.observations if (o.site, o.side) == key and _is_finding(o)] if last else []
        time = visit_time(last) if last else None
        for one, match in _pairs(here, before):
            state: State = "first looked at" if last is None else "new"
            if match is not None:
                state = "unchanged" if _content(one) == _content(match) else "changed"
                kept.add(match.id)
            yield Change(one.site, one.side, _name(one), state, now=one, before=match, last=time)
    for last, one in _earlier_findings(earlier):
        if one.id not in kept:
            state = "gone" if _is_gone(one, now) else "not told"
            yield Change(one.site, one.side, _name(one), state, before=one, last=visit_time(last))


def _is_finding(o: Observation) -> bool:
    return o.status == "abnormal" and o.present


def _name(o: Observation) -> str:
    return o.finding or "abnormal"


def _last_look(site: str, side: str | None, earlier: Sequence[Record]) -> Record | None:
    """The newest earlier visit at which this site and side were examined."""
    for record in reversed(earlier):
        if any((o.site, o.side) == (site, side) and o.status != "not_examined" for o in record.observations):
            return record
    return None


def _earlier_findings(earlier: Sequence[Record]) -> Iterator[tuple[Record, Observation]]:
    """The findings that stood when their site and side were last examined before this visit."""
    for key in dict.fromkeys((o.site, o.side) for record in earlier for o in record.observations):
        last = _last_look(*key, earlier)
        for o in last.observations if last else ():
            if (o.site, o.side) == key and _is_finding(o):
                yield last, o  # type: ignore[misc]


def _pairs(
    now: Sequence[Observation], before: Sequence[Observation]
) -> Iterator[tuple[Observation, Observation | None]]:
    """Each finding with the one it was: of the same name, the same place and location first, then the same name."""
    left = list(before)
    matches: dict[str, Observation] = {}
    for same in (_where, _name):
        for one in now:
            if one.id in matches:
                continue
            match = next((b for b in left if same(b) == same(one) and _may_be(one, b)), None)
            if match is not None:
                matches[one.id] = match
                left.remove(match)
    for one in now:
        yield one, matches.get(one.id)


def _where(o: Observation) -> tuple[object, ...]:
    return (_name(o), place(o), str(o.qualifiers.get("location", "")).casefold())


def _may_be(a: Observation, b: Observation) -> bool:
    """Whether two may be the same finding: of another tooth or digit they are not."""
    return place(a) == place(b)


def _content(o: Observation) -> str:
    return o.model_copy(update={"id": "", "evidence": (), "doubts": ()}).model_dump_json()


def _is_gone(before: Observation, now: Record) -> bool:
    """Whether this visit says that the finding is not there: told absent, or its place plainly normal."""
    whole = place(before.model_copy(update={"qualifiers": {}}))
    for o in now.observations:
        if (o.site, o.side) != (before.site, before.side) or o.status != "normal" or o.untold:
            continue
        if o.finding == before.finding and not o.present:
            return True
        if o.finding is None and o.value is None and place(o) in (place(before), whole):
            return True
    return False


def _series(visits: Sequence[Record]) -> Iterator[tuple[str, Series]]:
    """Every measured site that has a value now or had one, with all its values that are certain.

    Both sides of a paired site are series of their own.
    """
    told: dict[tuple[str, str], list[tuple[datetime, Measured]]] = {}
    for record in visits:
        for o in record.observations:
            if o.value is not None and o.value.unit is not None and not o.untold:
                told.setdefault((o.site, _series_name(o)), []).append((visit_time(record), o.value))
    for (site, name), values in told.items():
        unit = values[-1][1].unit or ""
        numbers = [(time, convert(v.number, v.unit or "", unit), v.comparator) for time, v in values]
        yield site, Series(name, unit, tuple(Point(time, n, how) for time, n, how in numbers if n is not None))


def _series_name(o: Observation) -> str:
    scale = o.qualifiers.get("scale")
    parts = (
        o.site,
        f"of {scale:g}" if isinstance(scale, int | float) else f"of {scale}" if scale else "",
        o.side or "",
    )
    return " ".join(part for part in parts if part)
