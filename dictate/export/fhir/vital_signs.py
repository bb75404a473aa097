"""Vital signs by FHIR's vital signs profiles (http://hl7.org/fhir/R4/observation-vitalsigns.html): LOINC codes, units.

The codes and the units that a profile allows stand in the lexicon (`vital_sign_codes`). A value in another unit, or
without one, keeps our own code alone: nothing is converted, and no profile is claimed that does not hold.
"""

from __future__ import annotations

from dictate.exam.record import Observation, Quantity
from dictate.export.fhir.codes import EXTENSION, LOINC, TERMINOLOGY, Json, absent, absent_extension, quantity
from dictate.lexicon.tables import Lexicon, VitalSignCode

CATEGORY = {
    "coding": [{"system": f"{TERMINOLOGY}/observation-category", "code": "vital-signs", "display": "Vital Signs"}],
    "text": "Vital Signs",
}
EXAM = {"coding": [{"system": f"{TERMINOLOGY}/observation-category", "code": "exam", "display": "Exam"}]}


def as_vital_sign(found: Json, o: Observation, lexicon: Lexicon) -> Json:
    """The Observation with code, category and components of its profile, or as one of the exam where it has none."""
    rows = {row.part: row for row in lexicon.vital_sign_codes if row.site == o.site}
    whole = rows.get("")
    if whole is None or not fits(o, whole):
        return {**found, "category": [EXAM]}
    code = {**found["code"], "coding": [loinc(whole), *found["code"]["coding"]]}
    found = {**found, "category": [CATEGORY], "code": code}
    if "effectiveDateTime" in found:
        profiles = [f"{EXTENSION}/{name}" for name in ("vitalsigns", whole.profile)]
        found["meta"] = {**found.get("meta", {}), "profile": profiles}
    else:  # the profiles want a time; that none is known is said in its place
        found["_effectiveDateTime"] = absent_extension("unknown")
    return with_parts(found, o, rows) if len(rows) > 1 else found


def fits(o: Observation, row: VitalSignCode) -> bool:
    """Whether the value has a unit that the profile allows; what was not examined has no value, and fits."""
    return o.status == "not_examined" or (o.value is not None and o.value.unit in row.units)


def with_parts(found: Json, o: Observation, rows: dict[str, VitalSignCode]) -> Json:
    """A panel (blood pressure): its value and the values among the qualifiers are components.

    A part that the profile asks for and nobody told has a reason in its place.
    """
    value = found.pop("valueQuantity", None)
    parts = []
    for name, row in rows.items():
        told = o.value if name == "value" else o.qualifiers.get(name)
        if name == "":
            continue
        if value is not None and name == "value":
            parts.append({"code": {"coding": [loinc(row)]}, "valueQuantity": value})
        elif isinstance(told, Quantity | int | float | str) and (amount := as_quantity(told, row)):
            parts.append({"code": {"coding": [loinc(row)]}, "valueQuantity": amount})
        elif row.profile:
            reason = "not-performed" if o.status == "not_examined" else "unknown"
            parts.append({"code": {"coding": [loinc(row)]}, "dataAbsentReason": absent(reason)})
    own = [c for c in found.get("component", []) if c["code"]["coding"][0]["code"] not in rows]
    return {**found, "component": [*parts, *own]}


def as_quantity(told: Quantity | int | float | str, row: VitalSignCode) -> Json | None:
    """A part's value in the unit of its row; None where what was told is no number or in another unit."""
    if isinstance(told, Quantity):
        return quantity(told) if told.unit in row.units else None
    try:
        return quantity(Quantity(number=float(told), unit=row.units[0]))
    except ValueError:
        return None


def loinc(row: VitalSignCode) -> Json:
    return {"system": LOINC, "code": row.code, "display": row.display}
