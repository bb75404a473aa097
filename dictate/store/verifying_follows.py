"""What follows from the rows: words under their hash, the searchable lines of records, and what is true now."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from operator import itemgetter
from typing import Any

from sqlalchemy import Column, Connection, Select, Subquery, and_, func, literal, select

from dictate.store.canonical import sha256
from dictate.store.listing import listing_hash, values_hash
from dictate.store.patients import patient_from, patient_now_row
from dictate.store.tables import (
    decisions,
    drafts,
    erasures,
    patient_now,
    patient_states,
    record_sites,
    records,
    visit_now,
    visit_states,
    words,
)
from dictate.store.verifying_rows import Fault, streamed
from dictate.store.visits import JOINED, PLANNED, PRELIMINARY

EMPTY = listing_hash([])


def check_words(connection: Connection) -> Iterator[Fault]:
    """Each text of words is the one of its hash and belongs to a row; one that is missing was erased with a trace."""
    erased = set(connection.execute(select(erasures.c.visit_id)).scalars())
    owners: dict[str, tuple[str, int, int]] = {}
    for table in (drafts, decisions, records):
        named = select(literal(table.name), table.c.id, table.c.visit_id, table.c.words_hash)
        for name, row_id, visit_id, of in connection.execute(named.where(table.c.words_hash != "")):
            owners[of] = (name, row_id, visit_id)
    with streamed(connection, select(words.c.hash, words.c.visit_id, words.c.body)) as rows:
        for of, of_visit, body in rows:
            owner = owners.pop(of, None)
            if owner is None:
                yield Fault(f"words {str(of)[:16]}", "belong to no row: added or changed from outside")
            elif not isinstance(body, str) or sha256(body) != of or of_visit != owner[2]:
                yield Fault(f"words of {owner[0]} row {owner[1]} (visit {owner[2]})", "changed after they were written")
    for name, row_id, visit_id in owners.values():
        if visit_id not in erased:
            yield Fault(f"words of {name} row {row_id} (visit {visit_id})", "missing, and no erasure was entered")


def check_listing(connection: Connection) -> Iterator[Fault]:
    """The lines of each record are those whose hash stands in the record's row."""
    wanted = {
        row.id: row for row in connection.execute(select(records.c.id, records.c.visit_id, records.c.listing_hash))
    }
    every = select(record_sites).order_by(record_sites.c.record_id, record_sites.c.place)
    with streamed(connection, every) as lines:
        for record_id, group in groupby(lines, key=itemgetter(0)):
            made = [row[1:] for row in group]
            of = wanted.pop(record_id, None)
            if of is None:
                yield Fault(f"record_sites of record {record_id}", "belong to no record: added from outside")
            elif values_hash(made) != of.listing_hash:
                yield Fault(
                    f"record_sites of record {record_id} (visit {of.visit_id})", "changed after they were written"
                )
    for of in wanted.values():
        if of.listing_hash != EMPTY:
            yield Fault(f"record_sites of record {of.id} (visit {of.visit_id})", "missing")


def check_now(connection: Connection) -> Iterator[Fault]:
    """`patient_now` and `visit_now` say what follows from the states, drafts and records."""
    now = {row.patient_id: dict(row._mapping) for row in connection.execute(select(patient_now))}
    for row in connection.execute(_newest_patients()):
        wanted = patient_now_row(row.patient_id, row.version, patient_from(row).facts)
        if now.pop(row.patient_id, None) != wanted:
            yield Fault(f"patient_now of patient {row.patient_id}", "does not follow from the patient's states")
    for patient_id in now:
        yield Fault(f"patient_now of patient {patient_id}", "there is no such patient")
    columns = ("version", "patient_id", "date", "time", "status", "draft_id", "record_id", "record_version")
    asked = select(visit_now.c.visit_id, *(visit_now.c[name] for name in columns))
    visits = {row[0]: tuple(row[1:]) for row in connection.execute(asked)}
    for row in connection.execute(_newest_visits()):
        status = row.status or (PRELIMINARY if row.draft_id is not None else PLANNED)
        status = JOINED if row.joined_to is not None else status
        told = (row.version, row.patient_id, row.date, row.time, status, row.draft_id, row.record_id)
        if visits.pop(row.visit_id, None) != (*told, row.record_version or 0):
            yield Fault(
                f"visit_now of visit {row.visit_id}", "does not follow from the visit's states, drafts and records"
            )
    for visit_id in visits:
        yield Fault(f"visit_now of visit {visit_id}", "there is no such visit")


def _newest(key: Column[Any], version: Column[Any], *more: Column[Any]) -> Subquery:
    """The key, version and some columns of the newest row for each key."""
    table = key.table
    last = select(key, func.max(version).label("version")).group_by(key).subquery()
    same = and_(key == last.c[0], version == last.c.version)
    return select(key, version, *more).select_from(table).join(last, same).subquery(f"newest_{table}")


def _newest_patients() -> Select[Any]:
    last = _newest(patient_states.c.patient_id, patient_states.c.version)
    same = and_(patient_states.c.patient_id == last.c.patient_id, patient_states.c.version == last.c.version)
    return select(patient_states).join(last, same)


def _newest_visits() -> Select[Any]:
    s = visit_states.c
    state = _newest(s.visit_id, s.version, s.patient_id, s.date, s.time, s.joined_to)
    draft = select(drafts.c.visit_id, func.max(drafts.c.id).label("draft_id")).group_by(drafts.c.visit_id).subquery()
    record = _newest(records.c.visit_id, records.c.version, records.c.id, records.c.status)
    named = (record.c.id.label("record_id"), record.c.version.label("record_version"), record.c.status)
    return (
        select(state, draft.c.draft_id, *named)
        .select_from(state)
        .outerjoin(draft, draft.c.visit_id == state.c.visit_id)
        .outerjoin(record, record.c.visit_id == state.c.visit_id)
    )
