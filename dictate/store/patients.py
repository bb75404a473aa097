"""Patients: who they are, beside the name, and finding them. Each change is one more state; the older ones stay."""

from __future__ import annotations

import re
from dataclasses import dataclass, fields
from datetime import date
from typing import Any, get_args

from sqlalchemy import Connection, Row, and_, select

from dictate.errors import InputError
from dictate.exam.record import Patient as RecordPatient
from dictate.store.chain import Writer
from dictate.store.opening import Store
from dictate.store.people import Account, need_person
from dictate.store.refusals import Conflict
from dictate.store.tables import patient_now, patient_states, patients
from dictate.store.texts import clean, folded

SPECIES, SEXES = (
    get_args(get_args(RecordPatient.model_fields[name].annotation)[0]) for name in ("species", "sex")
)  # the words that a record has for them
CHIP = re.compile(r"[0-9A-Z]{9,15}")  # ISO 11784: 15 digits; older chips have 9 or 10 signs


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Who a patient is. What is not known is "" or None."""

    name: str
    species: str = ""
    breed: str = ""
    sex: str = ""
    neutered: bool | None = None
    born: date | None = None
    practice_number: str = ""
    microchip: str = ""
    owner: str = ""


@dataclass(frozen=True, slots=True)
class Patient:
    """A patient as it stands now; `version` counts the changes of its facts."""

    id: int
    version: int
    facts: Facts

    def __str__(self) -> str:
        return "; ".join(told(self.facts))


def told(facts: Facts) -> list[str]:
    """The facts that tell one patient from another of the same name, as short texts."""
    parts = [facts.name, " ".join(w for w in (facts.breed, facts.species) if w)]
    parts += [f"number {facts.practice_number}"] if facts.practice_number else []
    parts += [f"microchip {facts.microchip}"] if facts.microchip else []
    parts += [f"owner {facts.owner}"] if facts.owner else []
    parts += [f"born {facts.born.isoformat()}"] if facts.born else []
    return [part for part in parts if part]


def add_patient(store: Store, facts: Facts, *, by: Account) -> Patient:
    """A new patient. InputError where the practice number or microchip is another patient's."""
    with store.changing() as connection:
        return enter_patient(Writer(connection, by_id=by.id), facts)


def change_patient(store: Store, patient_id: int, facts: Facts, *, by: Account, why: str, expected: int) -> Patient:
    """Other facts of the same patient. Conflict where it was changed since version `expected`.

    Signed records stay as they were signed.
    """
    need_person(by)
    why = clean(why, what="reason of the change", needed=True)
    with store.changing() as connection:
        now = patient_of(connection, patient_id)
        if now.version != expected:
            raise Conflict("was changed by somebody else meanwhile; look again", where=now.facts.name)
        return _enter_state(Writer(connection, by_id=by.id), patient_id, now.version + 1, checked(facts), why=why)


def enter_patient(writer: Writer, facts: Facts, *, why: str = "") -> Patient:
    facts = checked(facts)
    patient_id = writer.add(patients, made=writer.at, why=why)
    return _enter_state(writer, patient_id, 1, facts, why=why)


def patient(store: Store, patient_id: int) -> Patient:
    """The patient of this id. InputError where there is none."""
    with store.reading() as connection:
        return patient_of(connection, patient_id)


def patient_numbered(store: Store, practice_number: str) -> Patient:
    """The patient with this practice number. InputError where there is none."""
    with store.reading() as connection:
        found = _by(connection, practice_number=practice_number.strip())
        if found is None:
            raise InputError("there is no patient with this practice number", where=practice_number)
        return patient_of(connection, found)


def find_patients(store: Store, words: str, *, limit: int = 50) -> tuple[Patient, ...]:
    """Patients in whose name, owner, practice number and microchip each of the words begins a word; by name."""
    with store.reading() as connection:
        query = _newest().order_by(patient_now.c.name_folded, patient_now.c.patient_id).limit(limit)
        return tuple(patient_from(row) for row in connection.execute(query.where(*words_begin(words))))


def words_begin(words: str) -> list[Any]:
    """Conditions on `patient_now`, one for each word."""
    return [patient_now.c.words.contains(f" {word}", autoescape=True) for word in folded(words).split()]


def patient_of(connection: Connection, patient_id: int) -> Patient:
    row = connection.execute(_newest().where(patient_now.c.patient_id == patient_id)).first()
    if row is None:
        raise InputError("there is no patient of this id", where=str(patient_id))
    return patient_from(row)


def patient_from(row: Row[Any], *, version: int | None = None) -> Patient:
    neutered = {"yes": True, "no": False, "": None}[row.neutered]
    born = date.fromisoformat(row.born) if row.born else None
    same = {f.name: getattr(row, f.name) for f in fields(Facts) if f.name not in ("neutered", "born")}
    return Patient(row.patient_id, version or row.version, Facts(neutered=neutered, born=born, **same))


def checked(facts: Facts) -> Facts:
    """The facts, cleaned. InputError names the one that cannot be used."""
    for value, allowed, what in ((facts.species, SPECIES, "species"), (facts.sex, SEXES, "sex")):
        if value and value not in allowed:
            raise InputError(f"{value!r} is none of {', '.join(allowed)}", where=what)
    chip = re.sub(r"[\s.-]", "", facts.microchip).upper()
    if chip and not CHIP.fullmatch(chip):
        raise InputError(
            f"{facts.microchip[:40]!r} is no microchip number (9 to 15 digits or letters)", where="microchip"
        )
    return Facts(
        name=clean(facts.name, what="name of the patient", longest=80, needed=True),
        species=facts.species,
        breed=clean(facts.breed, what="breed", longest=80),
        sex=facts.sex,
        neutered=facts.neutered,
        born=facts.born,
        practice_number=clean(facts.practice_number, what="practice number", longest=40),
        microchip=chip,
        owner=clean(facts.owner, what="owner", longest=120),
    )


def for_record(facts: Facts, told_of: RecordPatient) -> RecordPatient:
    """A record's patient with the facts of the practice's files; what they do not know stays as it was told."""
    update: dict[str, Any] = {"name": facts.name}
    update |= {key: value for key in ("species", "breed", "sex") if (value := getattr(facts, key))}
    if facts.neutered is not None:
        update["neutered"] = facts.neutered
    return told_of.model_copy(update=update)


def facts_of_record(told_of: RecordPatient) -> Facts | None:
    """What a draft tells of its patient; None where it tells no name."""
    if not told_of.name:
        return None
    return Facts(
        name=told_of.name,
        species=told_of.species or "",
        breed=told_of.breed or "",
        sex=told_of.sex or "",
        neutered=told_of.neutered,
    )


def _enter_state(writer: Writer, patient_id: int, version: int, facts: Facts, *, why: str) -> Patient:
    connection = writer.connection
    for what, value in (("practice_number", facts.practice_number), ("microchip", facts.microchip)):
        other = _by(connection, **{what: value}) if value else None
        if other is not None and other != patient_id:
            name = patient_of(connection, other).facts.name
            raise InputError(f"belongs to another patient, {name}", where=f"{what.replace('_', ' ')} {value}")
    row = {f.name: getattr(facts, f.name) for f in fields(Facts)}
    row["neutered"] = {True: "yes", False: "no", None: ""}[facts.neutered]
    row["born"] = facts.born.isoformat() if facts.born else ""
    writer.add(patient_states, why=why, patient_id=patient_id, version=version, **row)
    now = patient_now_row(patient_id, version, facts)
    if version > 1:
        connection.execute(patient_now.delete().where(patient_now.c.patient_id == patient_id))
    connection.execute(patient_now.insert(), now)
    return Patient(patient_id, version, facts)


def patient_now_row(patient_id: int, version: int, facts: Facts) -> dict[str, Any]:
    """The row of `patient_now` that follows from a patient's newest facts."""
    words = folded(" ".join((facts.name, facts.owner, facts.practice_number, facts.microchip)))
    return {
        "patient_id": patient_id,
        "version": version,
        "name_folded": folded(facts.name),
        "words": f" {words}",
        "practice_number": facts.practice_number or None,
        "microchip": facts.microchip or None,
    }


def _by(connection: Connection, **known: str) -> int | None:
    ((name, value),) = known.items()
    found = connection.execute(select(patient_now.c.patient_id).where(patient_now.c[name] == value)).scalar()
    return None if found is None else int(found)


def _newest() -> Any:
    same = and_(
        patient_states.c.patient_id == patient_now.c.patient_id, patient_states.c.version == patient_now.c.version
    )
    return select(patient_states).join(patient_now, same)
