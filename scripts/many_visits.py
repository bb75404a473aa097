"""A store with many visits of invented patients, made in a few large transactions, for walks and measurements."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, timedelta

from dictate.exam.record import Coverage, Evidence, MadeBy, Measured, Observation, Record, Source
from dictate.exam.record import Patient as Told
from dictate.store import Account, Facts, Store
from dictate.store.chain import Writer
from dictate.store.drafts import _enter
from dictate.store.patients import enter_patient
from dictate.store.signing import Signing
from dictate.store.visits import enter_visit, visit_of

NAMES = (
    "Bramble",
    "Pickle",
    "Tansy",
    "Moss",
    "Juniper",
    "Otter",
    "Sorrel",
    "Biscuit",
    "Wren",
    "Clover",
    "Fen",
    "Teasel",
)
OWNERS = ("Sedge", "Marsh", "Reeve", "Holm", "Tarn", "Brook", "Lade", "Staithe")
FINDINGS = (
    ("teeth", None, "dental calculus"),
    ("lens", "left", "nuclear sclerosis"),
    ("skin", None, "mass"),
    ("ear canal", "right", "debris"),
)
EACH = 4  # visits of one patient
AT_ONCE = 500  # patients in one transaction
OPEN = 20  # of so many visits one is not signed yet


def fill(store: Store, visits: int, *, by: Account, until: date) -> None:
    """Add so many visits, the last ones on the day `until`, four of each patient; nineteen of twenty are signed."""
    patients = visits // EACH
    for begin in range(0, patients, AT_ONCE):
        with store.changing() as connection:
            writer = Writer(connection, by_id=by.id)
            for number in range(begin, min(begin + AT_ONCE, patients)):
                _patient_with_visits(writer, number, by, until - timedelta(days=(patients - number) // 8))


def _patient_with_visits(writer: Writer, number: int, by: Account, last: date) -> None:
    facts = Facts(
        name=NAMES[number % len(NAMES)],
        species="dog" if number % 3 else "cat",
        practice_number=f"{100_000 + number}",
        owner=f"{chr(65 + number % 26)}. {OWNERS[number % len(OWNERS)]}",
    )
    patient = enter_patient(writer, facts)
    for nth in range(EACH):
        day = last - timedelta(days=180 * (EACH - 1 - nth))
        visit_id = enter_visit(
            writer, day=day, patient_id=patient.id, time=f"{8 + number % 9:02}:30", reason="", clinician=""
        )
        is_open = (number * EACH + nth) % OPEN == 0
        record = _record(number, nth, facts, day)
        _enter(writer, record, visit_id, None, given=False)
        if not is_open:
            signing = Signing(by, "password")
            signing.enter(writer, visit_of(writer.connection, visit_id), record, amends=None)


def _record(number: int, nth: int, facts: Facts, day: date) -> Record:
    site, side, finding = FINDINGS[(number + nth) % len(FINDINGS)]
    said = (
        Observation(id="a", site=site, side=side, status="abnormal", finding=finding, evidence=(_heard(finding),)),  # type: ignore[arg-type]
        Observation(id="b", site="heart", status="normal", evidence=(_heard("heart sounds normal"),)),
        Observation(
            id="c",
            site="weight",
            status="normal",
            value=Measured(number=5 + number % 40 + nth / 4, unit="kg"),
            evidence=(_heard("weight"),),
        ),
    )
    source = hashlib.sha256(f"{number}.{nth}".encode()).hexdigest()
    return Record(
        id=source[:16],
        drafted=datetime(day.year, day.month, day.day, 9, tzinfo=UTC),
        patient=Told(name=facts.name, species=facts.species),  # type: ignore[arg-type]
        observations=said,
        coverage=Coverage(recorded=tuple(o.site for o in said), not_recorded=("gait", "hydration")),
        source=Source(name=f"visit_{number}_{nth}.txt", kind="text", sha256=source),
        made_by=MadeBy(program="dictate-exam", version="0", rule_set="made"),
    )


def _heard(words: str) -> Evidence:
    return Evidence(text=words, char_start=0, char_end=len(words))
