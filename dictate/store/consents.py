"""Consent to record people's voices: given or refused for a visit, each answer kept. Refused, no word of it stays."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, select

from dictate.store.chain import Writer
from dictate.store.erasing import delete_erased, enter_erasure
from dictate.store.opening import Store
from dictate.store.people import Account, need_person
from dictate.store.tables import consents
from dictate.store.texts import clean
from dictate.store.visits import Visit, visit_of

REFUSED = "consent was refused"


def set_consent(
    store: Store, visit_id: int, given: bool, *, by: Account, why: str = "", cache: Path | None = None
) -> Visit:
    """Keep the answer. When it is no, sound and words that are kept of the visit are erased at once; the draft's
    observations stay, and later sound of this visit is not kept."""
    need_person(by)
    why = clean(why, what="note on the consent")
    sounds: tuple[str, ...] = ()
    with store.changing() as connection:
        visit = visit_of(connection, visit_id)
        writer = Writer(connection, by_id=by.id)
        writer.add(consents, why=why, visit_id=visit_id, given=int(given))
        if not given:
            sounds = enter_erasure(writer, visit_id, REFUSED)
    if not given:
        delete_erased(store, sounds, cache=cache)
    return visit


def consent(store: Store, visit_id: int) -> bool | None:
    """The newest answer: given, refused, or None where nobody was asked."""
    with store.reading() as connection:
        visit_of(connection, visit_id)
        return consent_of(connection, visit_id)


def consent_of(connection: Connection, visit_id: int) -> bool | None:
    newest = select(consents.c.given).where(consents.c.visit_id == visit_id).order_by(consents.c.id.desc()).limit(1)
    found = connection.execute(newest).scalar()
    return None if found is None else bool(found)
