"""The review of a visit: a draft, or a signed record that is being amended, and the decisions about it so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, select

from dictate.errors import InputError
from dictate.exam.record import Record
from dictate.review import Decision, apply, decision_from_json
from dictate.store.chain import Writer, time_of
from dictate.store.consents import consent_of
from dictate.store.drafts import counts, draft_of
from dictate.store.keeping import bodies_of, keep_body, record_of
from dictate.store.opening import Store
from dictate.store.patients import for_record
from dictate.store.people import Account, names_of, need
from dictate.store.refusals import Conflict
from dictate.store.tables import chain, decisions, records
from dictate.store.visits import Visit, set_now, visit_of, visit_time

WITHDRAWN = "entered-in-error"


@dataclass(frozen=True, slots=True)
class Decided:
    """A decision as it was entered: its number in this review, by whom and when."""

    number: int
    by: str
    at: datetime
    decision: Decision


@dataclass(frozen=True, slots=True)
class Working:
    """What is reviewed. `base` is the draft, or the newest signed record; `record` is it after the decisions, with what
    the practice's files tell of the patient. `state` names exactly this state; a page sends it back with its answer."""

    visit: Visit
    base: Record
    decisions: tuple[Decided, ...]
    record: Record
    state: str


def working(store: Store, visit_id: int) -> Working:
    """The review as it stands. InputError where the visit has no draft."""
    with store.reading() as connection:
        return working_of(connection, visit_of(connection, visit_id))


def working_of(connection: Connection, visit: Visit) -> Working:
    if visit.draft_id is None:
        raise InputError("has no draft yet", where=f"visit {visit.id}")
    base = draft_of(connection, visit.draft_id) if visit.record_id is None else newest_signed(connection, visit)
    decided = decided_of(connection, visit)
    record = apply(base, [d.decision for d in decided])
    if not visit.signed or record is not base:
        record = as_filed(record, visit)
    return Working(visit, base, decided, record, f"{visit.draft_id}.{visit.record_version}.{len(decided)}")


def as_filed(record: Record, visit: Visit) -> Record:
    """The record with the patient as the practice's files tell; the visit's time, reason and clinician if it has none.

    A visit of which only the day is known gives no time: none is made up.
    """
    told = record.encounter
    update = {
        "time": told.time or (visit_time(visit) if visit.time else None),
        "reason": told.reason or visit.reason or None,
        "clinician": told.clinician or visit.clinician or None,
    }
    encounter = told.model_copy(update=update)
    patient = for_record(visit.patient.facts, record.patient) if visit.patient else record.patient
    return record.model_copy(update={"patient": patient, "encounter": encounter})


def decide(store: Store, visit_id: int, made: Sequence[Decision], *, by: Account, state: str) -> Working:
    """Enter decisions about the state that was shown; the review after them. They are entered under the account's name.

    Raises:
        Refused: the account may not review.
        Conflict: somebody decided, signed or drafted anew meanwhile. Nothing was written; `since` has what the page had
            not seen and `working` the review as it is now. Send again with its state what still holds.
        InputError: the record was entered in error, or there is no draft.
    """
    need(by, "reviewer", "signer")
    with store.changing() as connection:
        now = working_of(connection, visit_of(connection, visit_id))
        check_state(now, state)
        if now.visit.status == WITHDRAWN:
            raise InputError("was entered in error and is not changed any more", where=f"visit {visit_id}")
        writer = Writer(connection, by_id=by.id)
        keep_words = consent_of(connection, visit_id) is not False
        for number, decision in enumerate(made, start=len(now.decisions) + 1):
            data = decision.model_copy(update={"by": by.name}).model_dump(mode="json")
            writer.add(
                decisions,
                visit_id=visit_id,
                draft_id=now.visit.draft_id,
                base_version=now.visit.record_version,
                number=number,
                **keep_body(writer, visit_id, data, words_too=keep_words),
            )
        after = working_of(connection, now.visit)
        if not now.visit.signed:
            set_now(connection, visit_id, **counts(after.record))
            after = working_of(connection, visit_of(connection, visit_id))
        return after


def check_state(now: Working, state: str) -> None:
    """Conflict where `state` is not the present one; it says who did what meanwhile."""
    if state == now.state:
        return
    where = f"visit {now.visit.id}"
    try:
        draft, version, seen = (int(part) for part in state.split("."))
    except ValueError:
        raise InputError("this is no state of a review", where=where) from None
    if version != now.visit.record_version:
        raise Conflict(f"was signed meanwhile (it is {now.visit.status} now)", where=where, working=now)
    if draft != now.visit.draft_id:
        raise Conflict("was drafted anew meanwhile; look again", where=where, working=now)
    since = now.decisions[seen:]
    names = ", ".join(dict.fromkeys(d.by for d in since)) or "somebody"
    what = f"{names} decided meanwhile ({len(since)}); nothing of yours was written, look again"
    raise Conflict(what, where=where, since=since, working=now)


def decided_of(connection: Connection, visit: Visit) -> tuple[Decided, ...]:
    """The decisions since the draft, or since the newest signed state."""
    same = decisions.c.draft_id == visit.draft_id, decisions.c.base_version == visit.record_version
    return _decided(connection, *same)


def decided_about(connection: Connection, draft_id: int) -> tuple[Decision, ...]:
    """The decisions about a draft, up to its first signature."""
    found = _decided(connection, decisions.c.draft_id == draft_id, decisions.c.base_version == 0)
    return tuple(d.decision for d in found)


def _decided(connection: Connection, *conditions: object) -> tuple[Decided, ...]:
    entry = (chain.c.table_name == "decisions") & (chain.c.row_id == decisions.c.id)
    query = select(decisions, chain.c.at, chain.c.by_id).join(chain, entry).where(*conditions)  # type: ignore[arg-type]
    rows = connection.execute(query.order_by(decisions.c.id)).all()
    names = names_of(connection) if rows else {}
    return tuple(
        Decided(row.number, names[row.by_id], time_of(row.at), decision_from_json(data))
        for row, data in zip(rows, bodies_of(connection, rows), strict=True)
    )


def newest_signed(connection: Connection, visit: Visit) -> Record:
    row = connection.execute(select(records).where(records.c.id == visit.record_id)).one()
    return record_of(connection, row.body, row.words_hash)
