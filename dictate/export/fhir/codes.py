"""Code systems, status words and small data types of FHIR R4 (http://hl7.org/fhir/R4), and this project's own codes."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from dictate.exam.phrases import UNIT_SIGNS
from dictate.exam.record import Quantity
from dictate.export.harmless import clean

Json = dict[str, Any]

LOINC = "http://loinc.org"
UCUM = "http://unitsofmeasure.org"
TERMINOLOGY = "http://terminology.hl7.org/CodeSystem"
EXTENSION = "http://hl7.org/fhir/StructureDefinition"
ABSENT = f"{EXTENSION}/data-absent-reason"
OWN = "urn:exam-record"  # of our own code systems, identifiers and extensions

# The record's status words are those of FHIR's Composition; Observation and DiagnosticReport have the same four.
# A withdrawn encounter is entered in error too; else the exam that was talked through is over.
ENCOUNTER = {
    "preliminary": "finished",
    "final": "finished",
    "amended": "finished",
    "entered-in-error": "entered-in-error",
}


def reference_id(*parts: str) -> str:
    """An id made from what it is an id of: the same record gives the same ids."""
    return str(uuid5(NAMESPACE_URL, "/".join((OWN, *parts))))


def refer(resource: Json) -> Json:
    """A reference to a resource of the same bundle."""
    return {"reference": f"urn:uuid:{resource['id']}"}


def coded(system: str, code: str, text: str = "", display: str = "") -> Json:
    """A CodeableConcept of one coding."""
    code = clean(code) or "not named"
    coding = {"system": system, "code": code} | ({"display": display} if display else {})
    return {"coding": [coding], "text": clean(text or display) or code}


def own_code(kind: str, code: str, text: str = "") -> Json:
    """A concept of our own, of a kind ("site", "finding", "answer", "qualifier")."""
    return coded(f"{OWN}:{kind}", code, text)


def absent(reason: str) -> Json:
    """Why a value is missing (code system data-absent-reason)."""
    return {"coding": [{"system": f"{TERMINOLOGY}/data-absent-reason", "code": reason}]}


def absent_extension(reason: str) -> Json:
    """The same on an element that has no field for it."""
    return {"extension": [{"url": ABSENT, "valueCode": reason}]}


def quantity(value: Quantity, comparator: str | None = None) -> Json:
    """A Quantity with its UCUM code; without any where no unit was said."""
    found: Json = {"value": number(value.number)}
    if comparator:
        found["comparator"] = comparator
    if value.unit is not None:
        found |= {"unit": UNIT_SIGNS.get(value.unit) or value.unit, "system": UCUM, "code": value.unit}
    return found


def number(value: float) -> int | float:
    """38.0 as 38: FHIR's decimals keep the digits they are written with."""
    return int(value) if value == int(value) else value


def date_time(time: datetime | date) -> str:
    """A day, or a point in time with its zone."""
    return instant(time) if isinstance(time, datetime) else time.isoformat()


def instant(time: datetime) -> str:
    """A point in time with its zone; one without is taken for UTC, which all times of this program are."""
    return (time if time.tzinfo else time.replace(tzinfo=UTC)).isoformat(timespec="milliseconds")
