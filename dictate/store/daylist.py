"""The day list of the practice's own calendar, as CSV: visits that are planned, with who the patient is.

The first row names the columns: `date` and `patient` are needed; `time`, `number`, `species`, `breed`, `sex`,
`neutered`, `born`, `microchip`, `owner`, `reason`, `clinician` may be there. Comma, semicolon or tab between them.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import Connection, select

from dictate.errors import InputError
from dictate.store.chain import Writer
from dictate.store.opening import Store
from dictate.store.patients import Facts, Patient, checked, enter_patient, patient_of
from dictate.store.people import Account
from dictate.store.tables import patient_now, visit_now
from dictate.store.texts import clean, folded, read_date, read_time
from dictate.store.visits import JOINED, enter_visit

NEEDED = ("date", "patient")
KNOWN = (
    *NEEDED,
    "time",
    "number",
    "species",
    "breed",
    "sex",
    "neutered",
    "born",
    "microchip",
    "owner",
    "reason",
    "clinician",
)
MOST_BYTES, MOST_ROWS = 5_000_000, 5_000
YES_NO = {"": None, "yes": True, "no": False, "true": True, "false": False, "1": True, "0": False}


@dataclass(frozen=True, slots=True)
class Brought:
    """How many visits and patients are new, how many visits were there already, and what a person must look at."""

    visits: int = 0
    patients: int = 0
    known: int = 0
    notes: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.visits} visits new, {self.known} known already; {self.patients} patients new"


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    day: date
    time: str
    reason: str
    clinician: str
    facts: Facts


def import_day_list(store: Store, content: bytes, *, by: Account) -> Brought:
    """Enter the visits of a day list, all of them or none. A visit of the same patient, day and time is not made twice.

    A patient is the known one where the practice number or the microchip is the same and the name fits; where neither
    is told, only where name, owner and species fit exactly one. Else a new patient is entered.

    Raises:
        InputError: names the row and column that cannot be used.
    """
    rows = read_day_list(content)
    with store.changing() as connection:
        writer = Writer(connection, by_id=by.id)
        done = Brought()
        for row in rows:
            done = _enter(writer, row, done)
        return done


def read_day_list(content: bytes) -> list[_Row]:
    """The rows of a day list, checked. InputError names the row and column that cannot be used."""
    if len(content) > MOST_BYTES:
        raise InputError(f"more than {MOST_BYTES // 1_000_000} MB are no day list")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("is not UTF-8 text; save it as CSV in UTF-8") from None
    first = text.split("\n", 1)[0]
    mark = max(",;\t", key=first.count)
    reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        names = [name.strip().lower() for name in reader.fieldnames or []]
        _check_columns(names)
        reader.fieldnames = names
        rows = [_row(raw, reader.line_num) for raw in reader]
    except csv.Error as error:
        raise InputError(f"is no CSV that can be read ({error})", where=f"line {reader.line_num}") from None
    if len(rows) > MOST_ROWS:
        raise InputError(f"{len(rows)} rows are more than a day list has (limit {MOST_ROWS})")
    return rows


def _check_columns(names: list[str]) -> None:
    if missing := [name for name in NEEDED if name not in names]:
        raise InputError(
            f"has no column {' and no column '.join(missing)}; known are {', '.join(KNOWN)}", where="row 1"
        )
    if unknown := [name for name in names if name not in KNOWN]:
        raise InputError(f"has an unknown column {unknown[0]!r}; known are {', '.join(KNOWN)}", where="row 1")
    if len(set(names)) < len(names):
        raise InputError("names a column twice", where="row 1")


def _row(raw: dict[str | None, str | None], line: int) -> _Row:
    where = f"line {line}"
    if None in raw or None in raw.values():
        raise InputError("has more or fewer cells than the first row", where=where)
    cell = {str(name): (value or "").strip() for name, value in raw.items()}
    try:
        neutered = cell.get("neutered", "").lower()
        if neutered not in YES_NO:
            raise InputError(f"{neutered!r} is neither yes nor no", where="neutered")
        facts = Facts(
            name=cell["patient"],
            species=cell.get("species", "").lower(),
            breed=cell.get("breed", ""),
            sex=cell.get("sex", "").lower(),
            neutered=YES_NO[neutered],
            born=read_date(cell["born"], what="born") if cell.get("born") else None,
            practice_number=cell.get("number", ""),
            microchip=cell.get("microchip", ""),
            owner=cell.get("owner", ""),
        )
        return _Row(
            line,
            read_date(cell["date"], what="date"),
            read_time(cell.get("time", ""), what="time"),
            clean(cell.get("reason", ""), what="reason"),
            clean(cell.get("clinician", ""), what="clinician", longest=80),
            checked(facts),
        )
    except InputError as error:
        raise InputError(error.what, where=f"{where}, {error.where}") from None


def _enter(writer: Writer, row: _Row, done: Brought) -> Brought:
    connection = writer.connection
    try:
        patient, note = _known(connection, row)
        new = patient is None
        patient = patient or enter_patient(writer, row.facts, why="day list")
    except InputError as error:
        raise InputError(str(error), where=f"line {row.line}") from None
    same = (
        visit_now.c.patient_id == patient.id,
        visit_now.c.date == row.day.isoformat(),
        visit_now.c.time == row.time,
        visit_now.c.status != JOINED,
    )
    notes = (*done.notes, *([note] if note else []))
    if connection.execute(select(visit_now.c.visit_id).where(*same)).first():
        return replace(done, known=done.known + 1, notes=notes)
    enter_visit(
        writer,
        day=row.day,
        patient_id=patient.id,
        time=row.time,
        reason=row.reason,
        clinician=row.clinician,
        why="day list",
    )
    return replace(done, visits=done.visits + 1, patients=done.patients + new, notes=notes)


def _known(connection: Connection, row: _Row) -> tuple[Patient | None, str]:
    """The patient that a row is of, or None for a new one; and what a person must look at, or ""."""
    facts = row.facts
    for what, value in (("practice_number", facts.practice_number), ("microchip", facts.microchip)):
        found = (
            value and connection.execute(select(patient_now.c.patient_id).where(patient_now.c[what] == value)).scalar()
        )
        if found:
            patient = patient_of(connection, found)
            if folded(patient.facts.name) != folded(facts.name):
                name = what.replace("_", " ")
                raise InputError(f"the {name} {value} is {patient.facts.name}'s, not {facts.name}'s")
            return patient, _differs(row, patient)
    if facts.practice_number or facts.microchip:
        return None, ""
    same = select(patient_now.c.patient_id).where(patient_now.c.name_folded == folded(facts.name))
    named = [patient_of(connection, found) for found in connection.execute(same).scalars().all()]
    fit = [p for p in named if folded(p.facts.owner) == folded(facts.owner) and facts.species in ("", p.facts.species)]
    if len(fit) == 1 and facts.owner:
        return fit[0], ""
    note = f"line {row.line}: there is another {facts.name} already; see that they are not one" if named else ""
    return None, note


def _differs(row: _Row, patient: Patient) -> str:
    """What the list tells otherwise than the files; the files are not changed by a list."""
    ours, theirs = patient.facts, row.facts
    pairs = {"owner": (folded(ours.owner), folded(theirs.owner)), "species": (ours.species, theirs.species)}
    pairs["born"] = (str(ours.born or ""), str(theirs.born or ""))
    pairs["microchip"] = (ours.microchip, theirs.microchip)
    other = [what for what, (a, b) in pairs.items() if b and a != b]
    return f"line {row.line}: {', '.join(other)} of {ours.name} differ from the files, which stay" if other else ""
