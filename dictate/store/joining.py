"""A drafted visit and a planned one of the day list turn out to be the same: they are joined by a person."""

from __future__ import annotations

from pathlib import Path

from dictate.errors import InputError
from dictate.store.chain import Writer
from dictate.store.consents import REFUSED, consent_of
from dictate.store.erasing import delete_erased, enter_erasure
from dictate.store.opening import Store
from dictate.store.people import Account, need
from dictate.store.reviewing import working
from dictate.store.tables import consents
from dictate.store.texts import folded
from dictate.store.visits import JOINED, PLANNED, Visit, day_list, enter_state, set_now, unchanged, visit, visit_of


def planned_for(store: Store, visit_id: int) -> tuple[Visit, ...]:
    """The planned visits of that day that a draft may be of; those of a patient with the name in the draft first."""
    at = visit(store, visit_id)
    heard = folded(working(store, visit_id).base.patient.name or "") if at.draft_id else ""
    planned = [v for v in day_list(store, at.date) if v.status == PLANNED and v.patient and v.id != visit_id]
    return tuple(sorted(planned, key=lambda v: folded(v.patient.facts.name if v.patient else "") != heard))


def join_planned(
    store: Store, visit_id: int, planned_id: int, *, by: Account, expected: int, cache: Path | None = None
) -> Visit:
    """Make a drafted visit the planned one: its patient, time, reason, clinician and consent are taken over.

    Raises:
        Conflict: the visit was changed since version `expected`.
        InputError: it has a patient already, or the other one is not planned.
    """
    need(by, "reviewer", "signer")
    sounds: tuple[str, ...] = ()
    with store.changing() as connection:
        at, planned = unchanged(connection, visit_id, expected), visit_of(connection, planned_id)
        if at.patient is not None:
            raise InputError(f"belongs to {at.patient.facts.name} already", where=f"visit {visit_id}")
        if planned.status != PLANNED or planned.patient is None or planned_id == visit_id:
            raise InputError("is no planned visit with a patient", where=f"visit {planned_id}")
        writer = Writer(connection, by_id=by.id)
        enter_state(writer, planned, {"joined_to": visit_id}, why=f"is visit {visit_id}")
        set_now(connection, planned_id, status=JOINED)
        told = {"patient_id": planned.patient.id, "date": planned.date.isoformat(), "time": planned.time}
        told |= {"reason": planned.reason or at.reason, "clinician": planned.clinician or at.clinician}
        enter_state(writer, at, told, why=f"is the planned visit {planned_id}")
        answer = consent_of(connection, planned_id)
        if answer is not None and consent_of(connection, visit_id) is None:
            writer.add(consents, why=f"asked for visit {planned_id}", visit_id=visit_id, given=int(answer))
            if not answer:
                sounds = enter_erasure(writer, visit_id, REFUSED)
        joined = visit_of(connection, visit_id)
    if sounds:
        delete_erased(store, sounds, cache=cache)
    return joined
