"""Finding visits again: by patient, day, site and finding; the last two in signed records, as they stand now."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, Select, and_, or_, select

from dictate.errors import InputError
from dictate.store.opening import Store
from dictate.store.patients import words_begin
from dictate.store.tables import patient_now, record_sites, visit_now
from dictate.store.visits import JOINED, NEWEST, Visit, visit_from, visit_rows

MOST = 500
FEW = 500  # patients


@dataclass(frozen=True, slots=True)
class Hit:
    """A visit that was found, and the lines of its record that were asked for ("right eye: cataract")."""

    visit: Visit
    told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Found:
    """Hits, newest first. `next` is given to `search` again for those that follow; "" where there are no more."""

    hits: tuple[Hit, ...]
    next: str = ""


def search(
    store: Store,
    *,
    patient: str = "",
    since: date | None = None,
    until: date | None = None,
    site: str = "",
    finding: str = "",
    after: str = "",
    limit: int = 50,
) -> Found:
    """Visits for which all that is told holds.

    Args:
        patient: words that begin words of the patient's name, owner, practice number or microchip.
        since, until: first and last day.
        site, finding: names of the lexicon's tables. With a finding only observations where it is present count; with a
            site alone every abnormal one there.
        after: `Found.next` of the page before.
        limit: how many, at most 500.
    """
    limit = max(1, min(limit, MOST))
    with store.reading() as connection:
        if site or finding:
            return _by_site(connection, patient, since, until, site, finding, after, limit)
        query = visit_rows().where(visit_now.c.status != JOINED, *_days(visit_now.c.date, since, until))
        if patient:
            query = query.where(*_of_patient(connection, patient))
        if after:
            query = query.where(_after(visit_now.c.date, visit_now.c.time, visit_now.c.visit_id, _place(after)))
        rows = connection.execute(query.order_by(*NEWEST).limit(limit + 1)).all()
        visits = [visit_from(row) for row in rows]
        return Found(tuple(Hit(v) for v in visits[:limit]), _next(visits, limit))


def _by_site(
    connection: Connection,
    patient: str,
    since: date | None,
    until: date | None,
    site: str,
    finding: str,
    after: str,
    limit: int,
) -> Found:
    c = record_sites.c
    lines = [c.site == site] if site else []
    lines += [c.finding == finding, c.present == 1] if finding else [c.status == "abnormal", c.present == 1]
    query: Select[Any] = (
        select(c.date, c.record_id, visit_now.c.visit_id)
        .select_from(record_sites)
        .join(visit_now, visit_now.c.record_id == c.record_id)
        .where(*lines, *_days(c.date, since, until))
        .distinct()
        .order_by(c.date.desc(), c.record_id.desc())  # as the indices are, so that a page is read and no more
        .limit(limit + 1)
    )
    if patient:
        query = query.join(patient_now, patient_now.c.patient_id == visit_now.c.patient_id)
        query = query.where(*_of_patient(connection, patient, c.record_id))
    if after:
        day, _, record_id = _place(after)
        query = query.where(or_(c.date < day, and_(c.date == day, c.record_id < record_id)))
    rows = connection.execute(query).all()
    ids = [row.visit_id for row in rows[:limit]]
    visits = {v.id: v for v in _visits(connection, ids)}
    told: dict[int, list[str]] = {}
    of = select(c.record_id, c.site, c.side, c.told).where(c.record_id.in_([row.record_id for row in rows]), *lines)
    for line in connection.execute(of.order_by(c.record_id, c.place)):
        told.setdefault(line.record_id, []).append(f"{' '.join(filter(None, (line.side, line.site)))}: {line.told}")
    hits = tuple(Hit(visits[row.visit_id], tuple(told[row.record_id])) for row in rows[:limit])
    return Found(hits, f"{rows[limit - 1].date} - {rows[limit - 1].record_id}" if len(rows) > limit else "")


def _of_patient(connection: Connection, words: str, record_id: Any = None) -> list[Any]:
    """The condition on the patient. A few that fit are looked up first, so that only their visits (or, with
    `record_id`, their records) are read; where many fit, the newest soon give enough of them."""
    found = select(patient_now.c.patient_id).where(*words_begin(words)).limit(FEW + 1)
    ids = list(connection.execute(found).scalars())
    if len(ids) > FEW:
        return words_begin(words)
    theirs = visit_now.c.patient_id.in_(ids)
    if record_id is None:
        return [theirs]
    signed = select(visit_now.c.record_id).where(theirs, visit_now.c.record_id.is_not(None))
    return [record_id.in_(list(connection.execute(signed).scalars()))]


def _visits(connection: Connection, ids: Iterable[int]) -> list[Visit]:
    return [visit_from(row) for row in connection.execute(visit_rows().where(visit_now.c.visit_id.in_(list(ids))))]


def _days(column: Any, since: date | None, until: date | None) -> list[Any]:
    first = [column >= since.isoformat()] if since else []
    return first + ([column <= until.isoformat()] if until else [])


def _after(day: Any, time: Any, visit_id: Any, last: tuple[str, str, int]) -> Any:
    """Rows that come after this place, newest first."""
    return or_(
        day < last[0],
        and_(day == last[0], time < last[1]),
        and_(day == last[0], time == last[1], visit_id < last[2]),
    )


def _key(visit: Visit) -> str:
    return f"{visit.date.isoformat()} {visit.time or '-'} {visit.id}"


def _next(visits: list[Visit], limit: int) -> str:
    return _key(visits[limit - 1]) if len(visits) > limit else ""


def _place(after: str) -> tuple[str, str, int]:
    try:
        day, time, visit_id = after.split(" ")
        return date.fromisoformat(day).isoformat(), "" if time == "-" else time, int(visit_id)
    except ValueError:
        raise InputError("is no place in a list of visits", where=after[:40]) from None
