"""Visits: a patient on a day, what there is of it, and what the day holds. Each change is one more state."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from datetime import time as clock_time
from typing import Any

from sqlalchemy import Connection, Row, Select, and_, select

from dictate.errors import InputError
from dictate.store.chain import Writer
from dictate.store.opening import Store
from dictate.store.patients import Patient, patient_from, patient_of
from dictate.store.people import Account, need, need_person
from dictate.store.refusals import Conflict
from dictate.store.tables import patient_now, patient_states, visit_now, visit_states, visits
from dictate.store.texts import clean, read_time

PLANNED, PRELIMINARY, JOINED = "planned", "preliminary", "joined"


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A visit as it stands now. `status` is "planned" until there is a draft, then the record's; a planned visit that
    turned out to be another one is "joined" and stands in no list.

    `version` counts the changes of the visit itself (day, patient ...), `record_version` the signed states (0: none).
    `open_doubts` and `unplaced` count what a reviewer still has to look at. `told_name` is the patient's name in the
    draft, `source` the file that it was made from.
    """

    id: int
    version: int
    patient: Patient | None
    date: date
    time: str
    reason: str
    clinician: str
    status: str
    draft_id: int | None
    record_id: int | None
    record_version: int
    open_doubts: int
    unplaced: int
    not_recorded: int
    told_name: str
    source: str

    @property
    def open(self) -> int:
        """How many things a reviewer still has to look at."""
        return self.open_doubts + self.unplaced

    @property
    def signed(self) -> bool:
        return self.record_version > 0


def add_visit(
    store: Store,
    *,
    day: date,
    by: Account,
    patient_id: int | None = None,
    time: str = "",
    reason: str = "",
    clinician: str = "",
) -> Visit:
    """A new visit; its patient may be told later. InputError for a patient that there is not."""
    with store.changing() as connection:
        writer = Writer(connection, by_id=by.id)
        visit_id = enter_visit(writer, day=day, patient_id=patient_id, time=time, reason=reason, clinician=clinician)
        return visit_of(connection, visit_id)


def enter_visit(
    writer: Writer, *, day: date, patient_id: int | None, time: str, reason: str, clinician: str, why: str = ""
) -> int:
    if patient_id is not None:
        patient_of(writer.connection, patient_id)
    visit_id = writer.add(visits, made=writer.at, why=why)
    state = {
        "patient_id": patient_id,
        "date": day.isoformat(),
        "time": read_time(time, what="time of the visit"),
        "reason": clean(reason, what="reason of the visit"),
        "clinician": clean(clinician, what="clinician", longest=80),
    }
    writer.add(visit_states, why=why, visit_id=visit_id, version=1, joined_to=None, signature="", **state)
    now = {"patient_id": patient_id, "date": state["date"], "time": state["time"], "status": PLANNED}
    zero = {"version": 1, "record_version": 0, "open_doubts": 0, "unplaced": 0, "not_recorded": 0}
    none = {"told_name": "", "source": ""}
    writer.connection.execute(visit_now.insert(), {"visit_id": visit_id, **zero, **none, **now})
    return visit_id


def change_visit(
    store: Store,
    visit_id: int,
    *,
    by: Account,
    expected: int,
    day: date | None = None,
    time: str | None = None,
    reason: str | None = None,
    clinician: str | None = None,
    why: str = "",
) -> Visit:
    """Another day, time, reason or clinician of a visit that is not signed yet."""
    need_person(by)
    told: dict[str, Any] = {}
    if day is not None:
        told["date"] = day.isoformat()
    if time is not None:
        told["time"] = read_time(time, what="time of the visit")
    if reason is not None:
        told["reason"] = clean(reason, what="reason of the visit")
    if clinician is not None:
        told["clinician"] = clean(clinician, what="clinician", longest=80)
    with store.changing() as connection:
        visit = unchanged(connection, visit_id, expected)
        if visit.signed:
            raise InputError("is signed; amend the record", where=f"visit {visit_id}")
        enter_state(Writer(connection, by_id=by.id), visit, told, why=why)
        return visit_of(connection, visit_id)


def assign_patient(store: Store, visit_id: int, patient_id: int, *, by: Account, expected: int, why: str = "") -> Visit:
    """Tell whose visit it is, while it has no patient. A visit that has one is moved (`move_visit`), signed."""
    need(by, "reviewer", "signer")
    with store.changing() as connection:
        visit = unchanged(connection, visit_id, expected)
        if visit.patient is not None:
            raise InputError(f"belongs to {visit.patient.facts.name}; it can only be moved", where=f"visit {visit_id}")
        patient_of(connection, patient_id)
        enter_state(Writer(connection, by_id=by.id), visit, {"patient_id": patient_id}, why=why or "patient told")
        return visit_of(connection, visit_id)


def unchanged(connection: Connection, visit_id: int, expected: int) -> Visit:
    """The visit, still at version `expected`; Conflict otherwise."""
    visit = visit_of(connection, visit_id)
    if visit.version != expected:
        raise Conflict("was changed by somebody else meanwhile; look again", where=f"visit {visit_id}")
    if visit.status == JOINED:
        raise InputError("was planned and turned out to be another visit", where=f"visit {visit_id}")
    return visit


def enter_state(writer: Writer, visit: Visit, told: dict[str, Any], *, why: str, signature: str = "") -> None:
    """One more state of a visit, with these columns changed."""
    state = {
        "patient_id": visit.patient.id if visit.patient else None,
        "date": visit.date.isoformat(),
        "time": visit.time,
        "reason": visit.reason,
        "clinician": visit.clinician,
        "joined_to": None,
        **told,
    }
    version = visit.version + 1
    writer.add(visit_states, why=why, visit_id=visit.id, version=version, signature=signature, **state)
    set_now(writer.connection, visit.id, version=version, **{k: state[k] for k in ("patient_id", "date", "time")})


def set_now(connection: Connection, visit_id: int, **told: Any) -> None:
    connection.execute(visit_now.update().where(visit_now.c.visit_id == visit_id).values(**told))


def visit_time(visit: Visit) -> datetime:
    """Day and time of a visit on this machine's clock; midnight where only the day is known."""
    return time_on(visit.date.isoformat(), visit.time)


def time_on(day: str, time: str) -> datetime:
    """The same of the columns of a visit."""
    clock = clock_time.fromisoformat(time) if time else clock_time.min
    return datetime.combine(date.fromisoformat(day), clock).astimezone()


def visit(store: Store, visit_id: int) -> Visit:
    """The visit of this id. InputError where there is none."""
    with store.reading() as connection:
        return visit_of(connection, visit_id)


def day_list(store: Store, day: date) -> tuple[Visit, ...]:
    """The visits of a day, by time; those without a time last."""
    with store.reading() as connection:
        found = visit_rows().where(visit_now.c.date == day.isoformat(), visit_now.c.status != JOINED)
        order = (visit_now.c.time == "", visit_now.c.time, visit_now.c.visit_id)
        return tuple(visit_from(row) for row in connection.execute(found.order_by(*order)))


def visits_of(store: Store, patient_id: int) -> tuple[Visit, ...]:
    """A patient's visits, newest first. InputError where there is no such patient."""
    with store.reading() as connection:
        patient_of(connection, patient_id)
        found = visit_rows().where(visit_now.c.patient_id == patient_id, visit_now.c.status != JOINED)
        return tuple(visit_from(row) for row in connection.execute(found.order_by(*NEWEST)))


def waiting(store: Store, *, after: int = 0, limit: int = 50) -> tuple[Visit, ...]:
    """Visits with a draft that nobody has signed yet, the most to look at first; without the first `after` of them."""
    with store.reading() as connection:
        most = (visit_now.c.open_doubts + visit_now.c.unplaced).desc()
        found = visit_rows().where(visit_now.c.status == PRELIMINARY).order_by(most, visit_now.c.visit_id)
        return tuple(visit_from(row) for row in connection.execute(found.limit(limit).offset(after)))


def namesakes(store: Store, visit_id: int) -> tuple[Visit, ...]:
    """The visits of other patients of the same name on the same day: here a record goes astray most easily."""
    with store.reading() as connection:
        return namesakes_of(connection, visit_of(connection, visit_id))


def namesakes_of(connection: Connection, visit: Visit) -> tuple[Visit, ...]:
    if visit.patient is None:
        return ()
    of = select(patient_now.c.name_folded).where(patient_now.c.patient_id == visit.patient.id).scalar_subquery()
    other = and_(patient_now.c.name_folded == of, patient_now.c.patient_id != visit.patient.id)
    other = and_(other, visit_now.c.status != JOINED)
    found = visit_rows().where(visit_now.c.date == visit.date.isoformat(), other).order_by(visit_now.c.visit_id)
    return tuple(visit_from(row) for row in connection.execute(found))


def visit_of(connection: Connection, visit_id: int) -> Visit:
    row = connection.execute(visit_rows().where(visit_now.c.visit_id == visit_id)).first()
    if row is None:
        raise InputError("there is no visit of this number", where=str(visit_id))
    return visit_from(row)


NEWEST = (visit_now.c.date.desc(), visit_now.c.time.desc(), visit_now.c.visit_id.desc())


def visit_rows() -> Select[Any]:
    """Visits as they stand now, with their patients; `visit_from` reads a row."""
    state = and_(visit_states.c.visit_id == visit_now.c.visit_id, visit_states.c.version == visit_now.c.version)
    facts = and_(
        patient_states.c.patient_id == patient_now.c.patient_id, patient_states.c.version == patient_now.c.version
    )
    return (
        select(
            visit_now,
            visit_now.c.version.label("visit_version"),
            visit_states.c.reason,
            visit_states.c.clinician,
            *(c for c in patient_states.c if c.name not in ("id", "version", "patient_id")),
            patient_states.c.version.label("facts_version"),
        )
        .join(visit_states, state)
        .outerjoin(patient_now, patient_now.c.patient_id == visit_now.c.patient_id)
        .outerjoin(patient_states, facts)
    )


def visit_from(row: Row[Any]) -> Visit:
    return Visit(
        id=row.visit_id,
        version=row.visit_version,
        patient=patient_from(row, version=row.facts_version) if row.patient_id is not None else None,
        date=date.fromisoformat(row.date),
        time=row.time,
        reason=row.reason,
        clinician=row.clinician,
        status=row.status,
        draft_id=row.draft_id,
        record_id=row.record_id,
        record_version=row.record_version,
        open_doubts=row.open_doubts,
        unplaced=row.unplaced,
        not_recorded=row.not_recorded,
        told_name=row.told_name,
        source=row.source,
    )
