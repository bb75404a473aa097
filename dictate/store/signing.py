"""Signing: only a person signs, proved for this very signature, and only what that person was shown."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Connection, Row, select

from dictate import review
from dictate.errors import InputError
from dictate.exam.content import content_hash
from dictate.exam.record import Amends, Record
from dictate.exam.record import Signature as RecordSignature
from dictate.store.canonical import canonical, sha256
from dictate.store.chain import Writer
from dictate.store.consents import consent_of
from dictate.store.keeping import keep_body, record_data, record_of
from dictate.store.listing import enter_rows, listing_hash, rows_of
from dictate.store.opening import Store
from dictate.store.people import Account, account_of, need
from dictate.store.proving import How, prove
from dictate.store.refusals import Conflict
from dictate.store.reviewing import WITHDRAWN, Working, newest_signed, working_of
from dictate.store.tables import records
from dictate.store.texts import clean, folded
from dictate.store.visits import Visit, namesakes_of, set_now, visit_of


@dataclass(frozen=True, slots=True)
class Signature:
    """Who signed, as what, when and by which secret, over which content (`dictate.exam.content.content_hash`)."""

    by: str
    title: str
    at: datetime
    how: How
    record_hash: str


@dataclass(frozen=True, slots=True)
class SignedRecord:
    """A signed state of a visit's record. `version` counts from 1; `amends` is the version whose place it takes."""

    id: int
    visit_id: int
    version: int
    status: str
    record: Record
    signature: Signature
    amends: int | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Before:
    """What is looked at before one signs: `blocks` must be empty, warnings and namesakes are shown, and `seen` goes
    back with the signature, so that exactly this is signed or nothing."""

    working: Working
    blocks: tuple[str, ...]
    warnings: tuple[str, ...]
    namesakes: tuple[Visit, ...]
    seen: str


def before_signing(store: Store, visit_id: int) -> Before:
    """The record as it would be signed now, and what stands in the way."""
    with store.reading() as connection:
        return _before(connection, visit_of(connection, visit_id))


def _before(connection: Connection, visit: Visit) -> Before:
    now = working_of(connection, visit)
    unsigned = _unsigned(now.record)
    blocks = [str(block) for block in review.blocks(unsigned)]
    if visit.patient is None:
        blocks.insert(0, "Nobody told yet which patient this is.")
    elif (told := now.base.patient.species) and visit.patient.facts.species not in ("", told):
        blocks += _other_species(now, told)
    if visit.status == WITHDRAWN:
        blocks.insert(0, "The record was entered in error; nothing more is signed.")
    who = [visit.patient.id, visit.patient.version] if visit.patient else []
    seen = sha256(canonical([now.state, visit.version, who, content_hash(unsigned)]))
    others = namesakes_of(connection, visit)
    return Before(now, tuple(blocks), tuple(_warnings(now, others)), others, seen)


def _warnings(now: Working, others: tuple[Visit, ...]) -> Iterator[str]:
    """Signs of a wrong patient: another name in the talk, another patient of this name on the same day."""
    patient, heard = now.visit.patient, now.base.patient.name
    if patient and heard and folded(heard) != folded(patient.facts.name):
        yield f"The talk names {heard}; the visit is {patient.facts.name}'s."
    for other in others:
        yield f"There is another {other.patient.facts.name if other.patient else ''} on this day: {other.patient}."


def _other_species(now: Working, told: str) -> list[str]:
    """A talk of a cat in a dog's visit is most likely a wrong patient; editing the patient in the review clears it."""
    if any(d.decision.kind == "edit patient" for d in now.decisions) or now.visit.signed:
        return []
    facts = now.visit.patient.facts if now.visit.patient else None
    return [
        f"The talk is of a {told}, and {facts.name if facts else 'the patient'} is a {facts.species if facts else ''}."
    ]


def sign(store: Store, visit_id: int, *, by: Account, secret: str, seen: str, patient_id: int) -> SignedRecord:
    """Sign the draft with its decisions: status final. `seen` and `patient_id` are what the signer was shown.

    Raises:
        Refused: the account may not sign, or the password or PIN is wrong.
        Conflict: what would be signed is not what was shown, or somebody has signed already.
        InputError: something still stands in the way.
    """
    return _sign(store, visit_id, by=by, secret=secret, seen=seen, patient_id=patient_id, why=None)


def amend(
    store: Store, visit_id: int, *, by: Account, secret: str, seen: str, patient_id: int, why: str
) -> SignedRecord:
    """Sign the decisions that were made since the last signature: status amended, with the reason. Raises as `sign`."""
    why = clean(why, what="reason of the amendment", longest=1000, needed=True)
    return _sign(store, visit_id, by=by, secret=secret, seen=seen, patient_id=patient_id, why=why)


def _sign(
    store: Store, visit_id: int, *, by: Account, secret: str, seen: str, patient_id: int, why: str | None
) -> SignedRecord:
    need(by, "signer")
    how = prove(store, by.id, secret, pin=True)
    with store.changing() as connection:
        signer = account_of(connection, by.id)
        need(signer, "signer")
        visit = visit_of(connection, visit_id)
        where = f"visit {visit_id}"
        if visit.signed and why is None:
            raise Conflict(f"is signed already (it is {visit.status})", where=where)
        if not visit.signed and why is not None:
            raise InputError("is not signed yet, so there is nothing to amend", where=where)
        before = _before(connection, visit)
        if visit.patient is not None and visit.patient.id != patient_id:
            raise Conflict(f"belongs to {visit.patient} now; look again", where=where, working=before.working)
        if seen != before.seen:
            raise Conflict("is not any more what was shown; look again", where=where, working=before.working)
        if before.blocks:
            more = f" ({len(before.blocks) - 1} more)" if len(before.blocks) > 1 else ""
            raise InputError(f"cannot be signed: {before.blocks[0]}{more}", where=where)
        amends = None
        if why is not None:
            same = content_hash(_unsigned(before.working.record)) == content_hash(_unsigned(before.working.base))
            if same:
                raise InputError("nothing was changed since it was signed", where=where)
            amends = Amends(over=content_hash(before.working.base), reason=why)
        signing = Signing(signer, how)
        return signing.enter(Writer(connection, by_id=by.id), visit, before.working.record, amends=amends)


def enter_in_error(store: Store, visit_id: int, *, by: Account, secret: str, why: str, version: int) -> SignedRecord:
    """Declare the signed record entered in error; it stays readable. `version` is the one that was shown."""
    why = clean(why, what="reason", longest=1000, needed=True)
    need(by, "signer")
    how = prove(store, by.id, secret, pin=True)
    with store.changing() as connection:
        signer = account_of(connection, by.id)
        need(signer, "signer")
        visit = visit_of(connection, visit_id)
        if not visit.signed or visit.status == WITHDRAWN:
            raise InputError(f"is {visit.status}; only a signed record is entered in error", where=f"visit {visit_id}")
        if visit.record_version != version:
            raise Conflict("was signed anew meanwhile; look again", where=f"visit {visit_id}")
        was = newest_signed(connection, visit)
        amends = Amends(over=content_hash(was), reason=why)
        return Signing(signer, how).enter(Writer(connection, by_id=by.id), visit, was, amends=amends, withdrawn=True)


@dataclass(frozen=True, slots=True)
class Signing:
    """A signer who has just proved who they are, and how."""

    signer: Account
    how: How

    def enter(
        self, writer: Writer, visit: Visit, record: Record, *, amends: Amends | None, withdrawn: bool = False
    ) -> SignedRecord:
        """Sign the record and keep it as the visit's newest state."""
        time = datetime.now(UTC).replace(microsecond=0)
        signed = _withdrawn(record, self.signer, time, amends) if withdrawn else self._signed(record, time, amends)
        connection = writer.connection
        assert signed.signature is not None and visit.patient is not None
        signature = Signature(self.signer.name, self.signer.title, time, self.how, signed.signature.over)
        rows = rows_of(signed, date=visit.date.isoformat())
        words_too = consent_of(connection, visit.id) is not False
        version = visit.record_version + 1
        why = amends.reason if amends else "signed"
        record_id = writer.add(
            records,
            why=why,
            visit_id=visit.id,
            version=version,
            status=signed.status,
            draft_id=visit.draft_id,
            patient_id=visit.patient.id,
            amends=visit.record_id,
            signature=_as_text(signature),
            listing_hash=listing_hash(rows),
            **keep_body(writer, visit.id, record_data(signed), words_too=words_too),
        )
        enter_rows(connection, record_id, rows)
        now = {"record_id": record_id, "record_version": version, "status": signed.status}
        set_now(connection, visit.id, **now, open_doubts=0, unplaced=0)
        was = visit.record_version or None
        return SignedRecord(record_id, visit.id, version, signed.status, signed, signature, was, why if amends else "")

    def _signed(self, record: Record, time: datetime, amends: Amends | None) -> Record:
        return review.sign(_unsigned(record), by=self.signer.name, role=self.signer.title, time=time, amends=amends)


def signed(store: Store, visit_id: int) -> tuple[SignedRecord, ...]:
    """All signed states of a visit's record, oldest first."""
    with store.reading() as connection:
        visit_of(connection, visit_id)
        found = connection.execute(select(records).where(records.c.visit_id == visit_id).order_by(records.c.version))
        return tuple(signed_from(connection, row) for row in found.all())


def signed_from(connection: Connection, row: Row[tuple[object, ...]]) -> SignedRecord:
    record = record_of(connection, row.body, row.words_hash)
    reason = record.amends.reason if record.amends else ""
    was = row.version - 1 if row.amends is not None else None
    signature = _from_text(row.signature)
    return SignedRecord(row.id, row.visit_id, row.version, row.status, record, signature, was, reason)


def _unsigned(record: Record) -> Record:
    return record.model_copy(update={"status": "preliminary", "signature": None, "amends": None})


def _withdrawn(record: Record, signer: Account, time: datetime, amends: Amends | None) -> Record:
    final = record.model_copy(update={"status": WITHDRAWN, "amends": amends, "signature": None})
    signature = RecordSignature(by=signer.name, role=signer.title, time=time, over=content_hash(final))
    return final.model_copy(update={"signature": signature})


def _as_text(signature: Signature) -> str:
    told = {"by": signature.by, "title": signature.title, "at": signature.at.isoformat(), "how": signature.how}
    return canonical({**told, "record_hash": signature.record_hash})


def _from_text(text: str) -> Signature:
    told = json.loads(text)
    return Signature(**{**told, "at": datetime.fromisoformat(told["at"])})
