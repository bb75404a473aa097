"""A visit that was entered for the wrong patient is moved to the right one: signed, with the reason, and traced."""

from __future__ import annotations

from datetime import UTC, datetime

from dictate.errors import InputError
from dictate.exam.content import content_hash
from dictate.exam.record import Amends
from dictate.store.canonical import canonical
from dictate.store.chain import Writer
from dictate.store.opening import Store
from dictate.store.patients import for_record, patient_of
from dictate.store.people import Account, account_of, need
from dictate.store.proving import prove
from dictate.store.reviewing import WITHDRAWN, decided_of, newest_signed
from dictate.store.signing import Signing
from dictate.store.texts import clean
from dictate.store.visits import Visit, enter_state, unchanged, visit_of


def move_visit(
    store: Store, visit_id: int, patient_id: int, *, by: Account, secret: str, why: str, expected: int
) -> Visit:
    """Move a visit to another patient. Where its record is signed, an amended state with the right patient is signed
    with it, and the older states stay. `expected` is the version of the visit that was shown.

    Raises:
        Refused: the account may not sign, or the password or PIN is wrong.
        Conflict: the visit was changed meanwhile.
        InputError: the visit has no patient yet, is this patient's already, or its record was entered in error.
    """
    why = clean(why, what="reason of the move", longest=1000, needed=True)
    need(by, "signer")
    how = prove(store, by.id, secret, pin=True)
    with store.changing() as connection:
        signer = account_of(connection, by.id)
        need(signer, "signer")
        visit = unchanged(connection, visit_id, expected)
        where = f"visit {visit_id}"
        to = patient_of(connection, patient_id)
        if visit.patient is None:
            raise InputError("has no patient yet; tell its patient instead of moving it", where=where)
        if visit.patient.id == patient_id:
            raise InputError(f"is {to.facts.name}'s already", where=where)
        if visit.status == WITHDRAWN:
            raise InputError("was entered in error and is not changed any more", where=where)
        if visit.signed and decided_of(connection, visit):
            raise InputError("has changes that nobody signed; sign or undo them before it is moved", where=where)
        told = {"by": signer.name, "title": signer.title, "how": how, "at": datetime.now(UTC).isoformat()}
        told |= {"from": str(visit.patient), "to": str(to)}
        writer = Writer(connection, by_id=by.id)
        enter_state(writer, visit, {"patient_id": patient_id}, why=why, signature=canonical(told))
        moved = visit_of(connection, visit_id)
        if moved.signed:
            was = newest_signed(connection, moved)
            reason = f"moved from {visit.patient} to {to}: {why}"
            record = was.model_copy(update={"patient": for_record(to.facts, was.patient)})
            Signing(signer, how).enter(writer, moved, record, amends=Amends(over=content_hash(was), reason=reason))
        return visit_of(connection, visit_id)
