"""From the reading of a talk to its drafted record: a list of plain functions over the statements, then the models."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from datetime import datetime
from functools import reduce
from typing import Any

from dictate.exam import record as form
from dictate.exam.anatomy import doubt_anatomy
from dictate.exam.context import Context, ExamSettings, Step
from dictate.exam.contradictions import doubt_contradictions
from dictate.exam.coverage import count_coverage
from dictate.exam.hearing import Hearing, doubt_unsure_words
from dictate.exam.merge import merge_repeated
from dictate.exam.sides import settle_sides
from dictate.exam.sparing import spare_general_doubts
from dictate.exam.statements import EncounterTold, Evidence, Measure, PatientTold, Reading, Statement
from dictate.exam.values import doubt_values
from dictate.lexicon.tables import Lexicon
from dictate.speech.words import Transcript

# In this order: sides first, since only statements of one side merge; doubts last, on what will stand in the record.
STEPS: tuple[Step, ...] = (
    settle_sides,
    merge_repeated,
    doubt_values,
    doubt_anatomy,
    doubt_contradictions,
    doubt_unsure_words,
    spare_general_doubts,
)


def settle(
    reading: Reading, transcript: Transcript, lexicon: Lexicon, *, settings: ExamSettings | None = None
) -> tuple[Statement, ...]:
    """The statements of a reading as they will stand in the record: a side each, merged, doubted."""
    context = Context(transcript, lexicon, reading.patient, settings or ExamSettings())
    return reduce(lambda statements, step: step(statements, context), STEPS, reading.statements)


def make_record(
    reading: Reading,
    transcript: Transcript,
    lexicon: Lexicon,
    *,
    source: form.Source,
    made_by: form.MadeBy,
    drafted: datetime,
    settings: ExamSettings | None = None,
) -> form.Record:
    """The drafted record. Apart from `drafted` it follows from the arguments alone, ids included."""
    statements = settle(reading, transcript, lexicon, settings=settings)
    context = Context(transcript, lexicon, reading.patient)
    hearing = Hearing(transcript.words)
    ids = make_ids(transcript.source_hash, statements)
    sections: dict[str, list[form.Evidence]] = {}
    for remark in sorted(reading.remarks, key=lambda r: r.evidence.char_start):
        sections.setdefault(remark.section, []).append(_evidence(remark.evidence, hearing))
    return form.Record(
        id=_short_hash(transcript.source_hash, "record"),
        drafted=drafted,
        patient=_patient(reading.patient),
        encounter=_encounter(reading.encounter),
        observations=tuple(_observation(i, s, hearing) for i, s in zip(ids, statements, strict=True)),
        unplaced=tuple(
            form.Unplaced(**_evidence(u.evidence, hearing).model_dump(), why=u.why)
            for u in sorted(reading.unplaced, key=lambda u: u.evidence.char_start)
        ),
        other=form.Other(**{name: tuple(kept) for name, kept in sections.items()}),
        coverage=count_coverage(statements, context),
        source=source,
        sound=_sound(transcript),
        made_by=made_by,
        talk=transcript.text,
    )


def make_ids(source_hash: str, statements: Iterable[Statement]) -> tuple[str, ...]:
    """An id for each statement, from the source's hash, the position and what is stated; no two are the same."""
    seen: dict[str, int] = {}
    ids = []
    for s in statements:
        place = ";".join(f"{e.char_start}-{e.char_end}" for e in s.evidence[:1])
        key = _short_hash(source_hash, place, s.site, s.side, s.status, s.finding, s.present)
        seen[key] = seen.get(key, 0) + 1
        ids.append(key if seen[key] == 1 else f"{key}-{seen[key]}")
    return tuple(ids)


def _short_hash(*parts: object) -> str:
    return hashlib.sha256("\x1f".join(str(p) for p in parts).encode()).hexdigest()[:16]


def _observation(identity: str, s: Statement, hearing: Hearing) -> form.Observation:
    return form.Observation(
        id=identity,
        site=s.site,
        side=None if s.side == "both" else s.side,
        status=s.status,
        finding=s.finding,
        present=s.present,
        stated_as=s.stated_as,
        qualifiers=_qualifiers(s.qualifiers),
        value=form.Measured(number=s.value.number, unit=s.value.unit, comparator=s.value.comparator)  # type: ignore[arg-type]
        if s.value
        else None,
        doubts=tuple(form.Doubt(kind=d.kind, message=d.message, choices=d.choices) for d in s.doubts),
        evidence=tuple(_evidence(e, hearing) for e in s.evidence),
    )


def _qualifiers(told: Mapping[str, Any]) -> dict[str, Any]:
    return {
        key: {"number": value.number, "unit": value.unit} if isinstance(value, Measure) else value
        for key, value in told.items()
        if value is not None
    }


def _evidence(e: Evidence, hearing: Hearing) -> form.Evidence:
    start, end = hearing.seconds(e.char_start, e.char_end)
    return form.Evidence(text=e.text, start=start, end=end, char_start=e.char_start, char_end=e.char_end)


def _patient(told: PatientTold) -> form.Patient:
    age = form.Quantity(number=told.age.number, unit=told.age.unit) if told.age else None
    return form.Patient(
        name=told.name, species=told.species, breed=told.breed, sex=told.sex, neutered=told.neutered, age=age
    )


def _encounter(told: EncounterTold) -> form.Encounter:
    return form.Encounter(reason=told.reason, clinician=told.clinician, conditions=told.conditions)


def _sound(transcript: Transcript) -> form.Sound | None:
    note = transcript.sound
    if note is None:
        return None
    gaps = tuple(form.Gap(start=g.start, end=g.end, why=g.why) for g in note.gaps)
    unheard = tuple(form.Unheard(start=u.start, end=u.end, kind=u.kind, text=u.text) for u in transcript.unheard)
    return form.Sound(seconds=note.seconds, gaps=gaps, unheard=unheard, warnings=note.warnings)
