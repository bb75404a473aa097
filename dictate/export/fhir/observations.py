"""Observations: one for each observation of the record, and none for what was not recorded.

A measured value has a quantity. A statement about a site has the site as its code and an answer ("normal",
"abnormal"). A finding has the finding as its code, the site as body site and an answer that says whether it is there
("present", "absent", "possibly present"), so that an absence can never be read as a presence.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from dictate.exam.phrases import told
from dictate.exam.record import Observation, Quantity, Record
from dictate.export.fhir.codes import (
    OWN,
    TERMINOLOGY,
    Json,
    absent,
    date_time,
    own_code,
    quantity,
    refer,
    reference_id,
)
from dictate.export.fhir.vital_signs import as_vital_sign
from dictate.export.harmless import clean
from dictate.export.parts import heard, sided
from dictate.lexicon.tables import Lexicon

INTEGER = 2**31 - 1  # the largest that FHIR's type integer holds; a larger one is written as text


@dataclass(frozen=True, slots=True)
class Exam:
    """What all observations of one record share."""

    record: Record
    lexicon: Lexicon
    examined: datetime | date | None
    patient: Json
    encounter: Json


def observation(o: Observation, exam: Exam) -> Json:
    """One Observation. A finding with a value beside it, such as a rate that was called fast, is a component."""
    record, lexicon = exam.record, exam.lexicon
    found: Json = {
        "resourceType": "Observation",
        "id": reference_id("observation", record.id, o.id),
        "identifier": [{"system": f"{OWN}:observation", "value": o.id}],
        "status": record.status,
        "code": own_code("site", o.site),
        "subject": refer(exam.patient),
        "encounter": refer(exam.encounter),
    }
    if o.doubts:
        found["meta"] = {"tag": [{"system": f"{OWN}:tag", "code": "open-doubt"}]}
    if exam.examined:
        found["effectiveDateTime"] = date_time(exam.examined)
    parts = [component(key, value) for key, value in o.qualifiers.items()]
    if o.status == "not_examined":
        found["dataAbsentReason"] = absent("not-performed")
    elif o.value is not None:
        found["valueQuantity"] = quantity(o.value, o.value.comparator)
        if o.finding:
            parts.insert(0, {"code": own_code("finding", o.finding), "valueCodeableConcept": answer(o)})
        if o.stated_as == "possible":
            parts.insert(0, component("stated as", "possible"))
    else:
        if o.finding:
            found["code"] = own_code("finding", o.finding)
        found["valueCodeableConcept"] = answer(o)
    if o.status == "abnormal":
        found["interpretation"] = [{"coding": [{"system": f"{TERMINOLOGY}/v3-ObservationInterpretation", "code": "A"}]}]
    place = body_site(o, lexicon)
    if place:
        found["bodySite"] = place
    if parts:
        found["component"] = parts
    found["note"] = [{"text": text} for text in notes(o, record, lexicon)]
    return as_vital_sign(found, o, lexicon)


def answer(o: Observation) -> Json:
    """What was found, in a code of our own: "normal", "abnormal", "present", "absent", with "possibly-" if hedged."""
    code = o.status if o.finding is None else "present" if o.present else "absent"
    if o.stated_as == "possible":
        return own_code("answer", f"possibly-{code}", f"possibly {code}")
    return own_code("answer", code)


def body_site(o: Observation, lexicon: Lexicon) -> Json | None:
    """Site and side; for a measure its side alone, if it has one."""
    if o.site in {row.site for row in lexicon.measures} and not o.side:
        return None
    code = f"{o.site}, {o.side}" if o.side else o.site
    return own_code("body-site", code, sided([o], lexicon))


def component(name: str, value: object) -> Json:
    """A qualifier: grade, severity, tooth, size and the like."""
    code = own_code("qualifier", name)
    if isinstance(value, Quantity):
        return {"code": code, "valueQuantity": quantity(value)}
    if isinstance(value, bool):
        return {"code": code, "valueBoolean": value}
    if isinstance(value, int) and abs(value) <= INTEGER:
        return {"code": code, "valueInteger": value}
    text = ", ".join(value) if isinstance(value, tuple) else f"{value:.10g}" if isinstance(value, float) else str(value)
    text = clean(text)
    return {"code": code, "valueString": text} if text else {"code": code, "dataAbsentReason": absent("unknown")}


def notes(o: Observation, record: Record, lexicon: Lexicon) -> list[str]:
    """The statement in words, how sure it is, what is open, the exam's conditions, and the words that were heard."""
    lines = [f"{sided([o], lexicon)}: {told(o)}"]
    lines += [f"To settle before signing: {doubt.message}" for doubt in o.doubts]
    if o.value is not None and record.encounter.conditions:
        lines.append(f"Conditions of the exam: {', '.join(record.encounter.conditions)}")
    if o.evidence:
        lines.append(f"Heard: {heard(o.evidence)}")
    return [clean(line) for line in lines]
