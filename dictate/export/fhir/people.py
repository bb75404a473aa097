"""Patient and Encounter. An animal is a Patient with HL7's extension patient-animal; what was not told is left out."""

from __future__ import annotations

from dictate.exam.record import Record
from dictate.export.fhir.codes import (
    ENCOUNTER,
    EXTENSION,
    OWN,
    TERMINOLOGY,
    Json,
    absent_extension,
    coded,
    date_time,
    own_code,
    quantity,
    refer,
    reference_id,
)
from dictate.export.harmless import clean
from dictate.export.standing import Standing, examined

ANIMAL = f"{EXTENSION}/patient-animal"
GENDER_STATUS = "http://hl7.org/fhir/animal-genderstatus"
NOT_KNOWN = {"system": f"{TERMINOLOGY}/v3-NullFlavor", "code": "UNK", "display": "unknown"}


def patient(record: Record, standing: Standing) -> Json:
    """The Patient. Its id is made of practice number and microchip where they are known, else of the record's id."""
    p, facts = record.patient, standing.patient
    identity = (facts.number, facts.microchip) if facts.number or facts.microchip else (record.id,)
    found: Json = {"resourceType": "Patient", "id": reference_id("patient", *identity)}
    extensions = [*animal(record), *age(record)]
    if extensions:
        found["extension"] = extensions
    identifiers = [(facts.number, "practice number"), (facts.microchip, "microchip")]
    if any(value for value, _ in identifiers):
        found["identifier"] = [{"type": {"text": text}, "value": clean(value)} for value, text in identifiers if value]
    if p.name and clean(p.name):
        found["name"] = [{"text": clean(p.name)}]
    if p.sex:
        found["gender"] = p.sex
    if facts.birth_date:
        found["birthDate"] = facts.birth_date.isoformat()
    if clean(facts.owner):
        found["contact"] = [{"relationship": [{"text": "owner"}], "name": {"text": clean(facts.owner)}}]
    return found


def animal(record: Record) -> list[Json]:
    """HL7's extension for animals: species, breed, gender status. Its species must be there: untold, it says so."""
    p = record.patient
    species = own_code("species", p.species) if p.species else absent_extension("unknown")
    parts = [{"url": "species", "valueCodeableConcept": species}]
    if p.breed:
        parts.append({"url": "breed", "valueCodeableConcept": own_code("breed", p.breed)})
    if p.neutered is not None:
        status = ("neutered", "Neutered") if p.neutered else ("intact", "Intact")
        parts.append(
            {"url": "genderStatus", "valueCodeableConcept": coded(GENDER_STATUS, status[0], display=status[1])}
        )
    told = p.species or p.breed or p.neutered is not None
    return [{"url": ANIMAL, "extension": parts}] if told else []


def age(record: Record) -> list[Json]:
    """The age as it was told, which is no birth date."""
    told = record.patient.age
    return [{"url": f"{OWN}:age-as-told", "valueAge": quantity(told)}] if told and told.unit else []


def encounter(record: Record, standing: Standing, patient: Json) -> Json:
    """The Encounter. FHIR wants a class; how the patient came is not in the record, so it is said to be unknown."""
    e = record.encounter
    found: Json = {
        "resourceType": "Encounter",
        "id": reference_id("encounter", record.id),
        "status": ENCOUNTER[record.status],
        "class": NOT_KNOWN,
        "subject": refer(patient),
    }
    if e.clinician and clean(e.clinician):
        found["participant"] = [{"individual": {"display": clean(e.clinician)}}]
    if time := examined(record, standing):
        found["period"] = {"start": date_time(time)}
    if e.reason and clean(e.reason):
        found["reasonCode"] = [{"text": clean(e.reason)}]
    return found
