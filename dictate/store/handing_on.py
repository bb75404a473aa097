"""What other rooms hand on: a record with its standing, for exports; a patient's records, for comparing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from sqlalchemy import and_, or_, select

from dictate.errors import InputError
from dictate.exam.record import Record
from dictate.export.standing import Amends, PatientFacts, Signature, Standing
from dictate.store.chain import Head, head_of
from dictate.store.keeping import bodies_of
from dictate.store.making import open_store
from dictate.store.opening import Store
from dictate.store.patients import Facts, Patient, find_patients
from dictate.store.reviewing import WITHDRAWN, newest_signed, working_of
from dictate.store.signing import SignedRecord, signed_from
from dictate.store.tables import records, visit_now
from dictate.store.visits import NEWEST, Visit, time_on, visit_of, visit_time


def standing_of(store: Store, visit_id: int, *, practice: str = "") -> tuple[Record, Standing]:
    """A visit's record as it stands, with who the patient is, who signed, what it amends, and the chain's head.

    Of a signed visit it is the newest signed state, whatever has been decided since; else the draft with its decisions.
    """
    with store.reading() as connection:
        visit = visit_of(connection, visit_id)
        facts = _facts(visit.patient.facts) if visit.patient else PatientFacts()
        if not visit.signed:
            return working_of(connection, visit).record, Standing(practice=practice, patient=facts, examined=visit.date)
        rows = connection.execute(
            select(records).where(records.c.visit_id == visit_id).order_by(records.c.version)
        ).all()
        states = [signed_from(connection, row) for row in rows]
        return states[-1].record, replace(_standing(states, facts, practice, head_of(connection)), examined=visit.date)


def _standing(states: Sequence[SignedRecord], facts: PatientFacts, practice: str, head: Head) -> Standing:
    newest = states[-1]
    withdrawn = newest.status == WITHDRAWN
    signed = states[:-1] if withdrawn else states
    amends = None
    if len(signed) > 1:
        earlier = tuple(_signature(s) for s in signed[:-1])
        amends = Amends(record=signed[-2].signature.record_hash, reason=signed[-1].why, earlier=earlier)
    return Standing(
        practice=practice,
        patient=facts,
        signature=_signature(signed[-1]),
        amends=amends,
        withdrawn=_signature(newest) if withdrawn else None,
        withdrawn_why=newest.why if withdrawn else "",
        chain_head=head.hash,
        chain_number=head.number,
    )


def _signature(of: SignedRecord) -> Signature:
    s = of.signature
    return Signature(by=s.by, time=s.at, role=s.title, record_hash=s.record_hash)


def _facts(facts: Facts) -> PatientFacts:
    return PatientFacts(
        number=facts.practice_number, microchip=facts.microchip, owner=facts.owner, birth_date=facts.born
    )


def records_of(place: str, patient: str) -> tuple[Record, ...]:
    """The records of one patient in the store at `place`, oldest first: of each visit the newest signed state.

    Raises:
        InputError: no patient or several fit the words, or none of the visits is signed.
    """
    with open_store(place) as store:
        return patient_records(store, _one(store, patient).id)


def patient_records(store: Store, patient_id: int, *, newest: int | None = None) -> tuple[Record, ...]:
    """The same of a patient by id, or only of the `newest` so many visits; none where nothing is signed.

    What was entered in error is left out. They are for comparing: a record without a time gets its
    visit's day (at midnight), which no signature is over.
    """
    c = visit_now.c
    same = c.patient_id == patient_id, c.record_version > 0, c.status != WITHDRAWN
    query = select(records.c.body, records.c.words_hash, c.date, c.time).join(records, records.c.id == c.record_id)
    with store.reading() as connection:
        rows = connection.execute(query.where(*same).order_by(*NEWEST).limit(newest)).all()
        bodies = bodies_of(connection, rows)
    found = zip(reversed(rows), reversed(bodies), strict=True)
    return tuple(_dated(Record.model_validate(body), time_on(row.date, row.time)) for row, body in found)


def _dated(record: Record, time: datetime) -> Record:
    if record.encounter.time is not None:
        return record
    return record.model_copy(update={"encounter": record.encounter.model_copy(update={"time": time})})


def earlier_record(store: Store, visit: Visit) -> Record | None:
    """The newest signed record of the same patient from before this visit; None where there is none."""
    if visit.patient is None:
        return None
    c = visit_now.c
    same = c.patient_id == visit.patient.id, c.visit_id != visit.id, c.record_version > 0, c.status != WITHDRAWN
    before = or_(c.date < visit.date.isoformat(), and_(c.date == visit.date.isoformat(), c.time < visit.time))
    with store.reading() as connection:
        found = connection.execute(select(c.visit_id).where(*same, before).order_by(*NEWEST).limit(1)).scalar()
        if found is None:
            return None
        last = visit_of(connection, found)
        return _dated(newest_signed(connection, last), visit_time(last))


def _one(store: Store, words: str) -> Patient:
    found = find_patients(store, words, limit=10) if words.strip() else ()
    exact = [p for p in found if words.strip() == p.facts.practice_number]
    if len(exact) == 1:
        return exact[0]
    if not found:
        raise InputError("there is no such patient", where=words)
    if len(found) > 1:
        several = "; ".join(f"{p.facts.name} ({p.facts.practice_number or 'no number'})" for p in found[:5])
        raise InputError(f"several patients fit: {several}; give the practice number", where=words)
    return found[0]
