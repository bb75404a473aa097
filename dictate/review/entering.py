"""What a reviewer enters becomes observations: from fields, or from words that the language step reads."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Literal
from uuid import uuid4

from dictate.draft import Reader
from dictate.exam.anatomy import applies
from dictate.exam.drafting import make_record
from dictate.exam.record import Evidence, Measured, Observation, Patient, Qualifier, Record
from dictate.exam.statements import Measure, PatientTold
from dictate.lexicon.tables import Lexicon
from dictate.review.decisions import EditPatient, typed
from dictate.speech.words import Transcript

# Doubts about what the words were meant to say; of words that the reviewer has just typed and seen read, they are idle.
OF_READING = ("reading", "repaired")


def observation(
    site: str,
    *,
    by: str,
    side: Literal["left", "right"] | None = None,
    status: Literal["normal", "abnormal", "not_examined"] = "normal",
    finding: str | None = None,
    present: bool = True,
    value: Measured | None = None,
    qualifiers: Mapping[str, Qualifier] | None = None,
    words: str = "",
    evidence: tuple[Evidence, ...] = (),
) -> Observation:
    """An observation that a person enters, with an id of its own. Its evidence is what it is made from (an unplaced
    phrase) and the words that were typed, or the note that it was entered."""
    return Observation(
        id=f"entered-{uuid4().hex[:12]}",
        site=site,
        side=side,
        status=status,
        finding=finding,
        present=present,
        value=value,
        qualifiers=dict(qualifiers or {}),
        evidence=(*(spoken(e) for e in evidence), typed(words or "entered at review", by)),
    )


def spoken(evidence: Evidence) -> Evidence:
    """The evidence without what a phrase has besides (why it was not placed)."""
    return Evidence(**evidence.model_dump(exclude={"why"}))


def read_words(
    text: str, record: Record, lexicon: Lexicon, read: Reader, *, by: str, evidence: tuple[Evidence, ...] = ()
) -> tuple[Observation, ...]:
    """The observations that the language step reads in typed words, of the record's patient. Empty where it finds none.

    A doubt about the content (a side not told, a value that is implausible) stays and is asked.
    """
    transcript = Transcript((), text, hashlib.sha256(text.encode()).hexdigest())
    reading = replace(read(transcript, lexicon), patient=_told(record.patient))
    drafted = make_record(
        reading, transcript, lexicon, source=record.source, made_by=record.made_by, drafted=record.drafted
    )
    stood = (*(spoken(e) for e in evidence), typed(text, by))
    return tuple(
        o.model_copy(
            update={
                "id": f"entered-{uuid4().hex[:12]}",
                "doubts": tuple(d for d in o.doubts if d.kind not in OF_READING),
                "evidence": stood,
            }
        )
        for o in drafted.observations
    )


def _told(patient: Patient) -> PatientTold:
    age = Measure(patient.age.number, patient.age.unit) if patient.age else None
    return PatientTold(patient.name, patient.species, patient.breed, patient.sex, patient.neutered, age)


def edit_patient(patient: Patient, lexicon: Lexicon, *, by: str, time: datetime) -> EditPatient:
    """The decision that the patient is this one; the sites of the form follow its species and sex."""
    due = tuple(site.site for site in lexicon.sites if applies(site, _told(patient)))
    return EditPatient(by=by, time=time, patient=patient, due=due)
