"""What is handed on with a record and need not stand in it: whose patient it is, who signed, what it amends."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from dictate.exam.record import Record


@dataclass(frozen=True, slots=True)
class PatientFacts:
    """Who the patient is, from the practice's own files."""

    number: str = ""
    microchip: str = ""
    owner: str = ""
    birth_date: date | None = None


@dataclass(frozen=True, slots=True)
class Signature:
    """Who signed, when, and over which content. `record_hash`: SHA-256 in hexadecimal digits."""

    by: str
    time: datetime
    role: str = ""
    record_hash: str = ""


@dataclass(frozen=True, slots=True)
class Amends:
    """What an amended record takes the place of. `record`: id or hash of the state before; `earlier`: who signed it."""

    record: str
    reason: str
    earlier: tuple[Signature, ...] = ()


@dataclass(frozen=True, slots=True)
class Standing:
    """All of this for one record; what is not known is left out.

    `examined`: the day of the visit, where the talk did not tell the time of the exam.
    `chain_head`: the newest hash of the store's chain, and `chain_number` its place in it. Printed on every signed
    export, it is the outside witness that the chain's end was not cut off.
    """

    practice: str = ""
    examined: date | None = None
    patient: PatientFacts = PatientFacts()
    signature: Signature | None = None
    amends: Amends | None = None
    withdrawn: Signature | None = None
    withdrawn_why: str = ""
    chain_head: str = ""
    chain_number: int | None = None


def signature_of(record: Record, standing: Standing) -> Signature | None:
    """The signature handed over beside the record, else its own; None for a draft: a draft is not signed."""
    if record.status == "preliminary":
        return None
    own = record.signature
    return standing.signature or (Signature(own.by, own.time, own.role, own.over) if own else None)


def examined(record: Record, standing: Standing) -> datetime | date | None:
    """When the patient was examined: as the record says, else the day of the visit; None where nobody knows."""
    return record.encounter.time or standing.examined


def amends_of(record: Record, standing: Standing) -> Amends | None:
    """What the record amends: who signed before is known to the store alone."""
    if standing.amends or not record.amends:
        return standing.amends
    return Amends(record.amends.over, record.amends.reason)
