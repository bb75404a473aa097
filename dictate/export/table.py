"""Many records as one table, a row for each observation. The columns are the same for every record."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from datetime import date, datetime

from dictate.exam.record import Observation, Record
from dictate.export.harmless import clean
from dictate.export.standing import Standing, examined, signature_of

Cell = str | float | bool | datetime | date | None

# Name of each column, and what it holds.
COLUMNS: dict[str, type] = {
    "record": str,
    "status": str,
    "open_doubts": str,
    "practice_number": str,
    "microchip": str,
    "owner": str,
    "patient": str,
    "species": str,
    "breed": str,
    "sex": str,
    "neutered": bool,
    "age": float,
    "age_unit": str,
    "birth_date": date,
    "examined": datetime,
    "day": date,
    "drafted": datetime,
    "signed_by": str,
    "signed": datetime,
    "content_sha256": str,
    "chain_head": str,
    "observation": str,
    "site": str,
    "side": str,
    "observation_status": str,
    "finding": str,
    "present": bool,
    "stated_as": str,
    "value": float,
    "comparator": str,
    "unit": str,
    "qualifiers": str,
    "could_not_be_told": str,
    "heard": str,
}


def rows(records: Sequence[tuple[Record, Standing]]) -> Iterator[dict[str, Cell]]:
    """The rows in the order of the records and their observations; a record without any gives one row.

    `open_doubts` names what is not settled about this observation. What is unknown is None. `present` is None where no
    finding is named.
    """
    for record, standing in records:
        about = of_record(record, standing)
        for observation in record.observations or (None,):
            yield {**dict.fromkeys(COLUMNS), **about, **(of_observation(observation) if observation else {})}


def of_record(record: Record, standing: Standing) -> dict[str, Cell]:
    p, facts = record.patient, standing.patient
    signature = signature_of(record, standing)
    return {
        "record": record.id,
        "status": record.status,
        "practice_number": clean(facts.number) or None,
        "microchip": clean(facts.microchip) or None,
        "owner": clean(facts.owner) or None,
        "patient": clean(p.name or "") or None,
        "species": p.species,
        "breed": clean(p.breed or "") or None,
        "sex": p.sex,
        "neutered": p.neutered,
        "age": p.age.number if p.age else None,
        "age_unit": p.age.unit if p.age else None,
        "birth_date": facts.birth_date,
        "examined": record.encounter.time,
        "day": day(record, standing),
        "drafted": record.drafted,
        "signed_by": clean(signature.by) if signature else None,
        "signed": signature.time if signature else None,
        "content_sha256": signature.record_hash or None if signature else None,
        "chain_head": standing.chain_head or None if signature else None,
    }


def day(record: Record, standing: Standing) -> date | None:
    time = examined(record, standing)
    return time.date() if isinstance(time, datetime) else time


def of_observation(o: Observation) -> dict[str, Cell]:
    qualifiers = json.dumps(o.model_dump(mode="json")["qualifiers"], ensure_ascii=False, sort_keys=True)
    return {
        "open_doubts": "; ".join(clean(doubt.message) for doubt in o.doubts) or None,
        "observation": o.id,
        "site": clean(o.site),
        "side": o.side,
        "observation_status": o.status,
        "finding": clean(o.finding) if o.finding else None,
        "present": o.present if o.finding else None,
        "stated_as": o.stated_as,
        "value": o.value.number if o.value else None,
        "comparator": o.value.comparator if o.value else None,
        "unit": o.value.unit if o.value else None,
        "qualifiers": qualifiers if o.qualifiers else None,
        "could_not_be_told": "; ".join(clean(text) for text in o.untold) or None,
        "heard": " / ".join(clean(e.text) for e in o.evidence) or None,
    }
