"""The FHIR bundle, checked in three ways (JSON schema, model classes, FHIRPath invariants), and what it says.

Each of the three misses faults that another finds; the first tests show that on faults made on purpose.
"""

from __future__ import annotations

import base64
import copy
import json
from collections.abc import Iterator
from typing import Any

import pytest
from export_cases import DOUBT, SIGNED, STANDING, lexicon, narration, record, seen, signed
from fhir_checks import invariant_faults, model_faults, profile_faults, schema_faults
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.cli.steps import read
from dictate.exam.drafting import make_record
from dictate.exam.record import Encounter, MadeBy, Measured, Patient, Quantity, Record, Source
from dictate.export import Amends, Signature, Standing, make
from dictate.speech.words import Transcript

Json = dict[str, Any]


def bundle(given: Record, standing: Standing = STANDING) -> Json:
    found: Json = json.loads(make("fhir", given, lexicon(), standing))
    return found


def resources(given: Json, kind: str) -> list[Json]:
    return [entry["resource"] for entry in given["entry"] if entry["resource"]["resourceType"] == kind]


def observation(**more: Any) -> Json:
    """The Observation of one observation of the record; `site` is the heart unless told."""
    (found,) = resources(bundle(record((seen(**{"site": "heart", **more}),), unplaced=())), "Observation")
    return found


def faults(given: Json) -> list[str]:
    return [*schema_faults(given), *model_faults(given), *invariant_faults(given), *_empty(given, "")]


def _empty(part: Any, path: str) -> Iterator[str]:
    """Parts without content, which FHIR's JSON does not allow (rule ele-1)."""
    if part in ("", [], {}, None):
        yield f"{path} is empty"
    for key, value in part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ():
        yield from _empty(value, f"{path}/{key}")


@pytest.mark.parametrize("number", range(1, 7))
def test_sample_exams_pass_all_three(number: int) -> None:
    """The bundle of each sample exam, as drafted, passes schema, models, invariants and its vital signs profiles."""
    text = narration(number)
    transcript = Transcript((), text, "0" * 64)
    source = Source(name=f"saltmarsh_{number:02}.txt", kind="text", sha256="0" * 64)
    made_by = MadeBy(program="dictate-exam", version="0", rule_set="test")
    drafted = make_record(
        read(transcript, lexicon()), transcript, lexicon(), source=source, made_by=made_by, drafted=SIGNED
    )
    found = bundle(drafted)
    assert faults(found) == []
    assert len(resources(found, "Observation")) == len(drafted.observations) > 10
    vital = [o for o in resources(found, "Observation") if "profile" in o.get("meta", {})]
    assert vital
    assert [fault for o in vital for profile in o["meta"]["profile"] for fault in profile_faults(o, profile)] == []


STANDINGS = {
    "bare": Standing(),
    "whole": STANDING,
    "amended": Standing(amends=Amends("cd" * 32, "the side was wrong", (Signature("Dr Ben Aro", SIGNED),))),
    "withdrawn": Standing(withdrawn=Signature("Dr Ben Aro", SIGNED), withdrawn_why="wrong patient", chain_head="ab"),
}


@pytest.mark.parametrize("standing", STANDINGS.values(), ids=STANDINGS)
@pytest.mark.parametrize("status", ["preliminary", "final", "amended", "entered-in-error"])
def test_every_status_and_standing_passes(status: str, standing: Standing) -> None:
    """Drafts, signed, amended and withdrawn records pass, with all or nothing known beside them."""
    assert faults(bundle(record() if status == "preliminary" else signed(status), standing)) == []


def test_an_empty_record_passes() -> None:
    """A record of which nothing is known gives a bundle that passes and says nothing that is not known."""
    found = bundle(record((), patient=Patient(), unplaced=()), Standing())
    assert faults(found) == []
    (patient,) = resources(found, "Patient")
    assert set(patient) == {"resourceType", "id"}
    assert resources(found, "Observation") == []


TEXT = st.text(max_size=20)


@settings(deadline=None, max_examples=40)
@given(
    name=TEXT,
    key=st.text(min_size=1, max_size=10),
    value=st.one_of(TEXT, st.integers(), st.floats(-1e6, 1e6), st.booleans()),
)
def test_any_words_pass(name: str, key: str, value: Any) -> None:
    """Whatever names, qualifiers and values hold, the bundle passes the schema and the models."""
    odd = seen("skin", status="abnormal", finding="mass", qualifiers={key: value})
    found = bundle(record((odd,), patient=Patient(name=name, breed=name), encounter=Encounter(reason=name)))
    assert [*schema_faults(found), *model_faults(found), *_empty(found, "")] == []


@pytest.mark.parametrize(
    ("fault", "found_by"),
    [
        (lambda o: o.update(dataAbsentReason={"text": "x"}), "invariant"),
        (lambda o: o.pop("status"), "model"),
        (lambda o: o.update(status="done"), "schema"),
        (lambda o: o.update(valueString="two values"), "model"),
        (lambda o: o.update(colour="red"), "schema"),
        (lambda o: o.update(note=[]), "empty"),
        (lambda o: o["valueQuantity"].pop("system"), "invariant"),
    ],
)
def test_faults_made_on_purpose_are_found(fault: Any, found_by: str) -> None:
    """Each fault is found by the check that is named; so no check passes everything."""
    broken = copy.deepcopy(bundle(record()))
    fault(resources(broken, "Observation")[0])
    told = {
        "schema": schema_faults(broken),
        "model": model_faults(broken),
        "invariant": invariant_faults(broken),
        "empty": list(_empty(broken, "")),
    }
    assert told[found_by]


@pytest.mark.parametrize(
    ("status", "report"), [("preliminary",) * 2, ("final",) * 2, ("amended",) * 2, ("entered-in-error",) * 2]
)
def test_status_words(status: str, report: str) -> None:
    """Report and observations carry the record's status; a withdrawn record's visit is withdrawn too."""
    found = bundle(record() if status == "preliminary" else signed(status))
    assert {o["status"] for o in [*resources(found, "Observation"), *resources(found, "DiagnosticReport")]} == {status}
    (visit,) = resources(found, "Encounter")
    assert visit["status"] == ("entered-in-error" if status == "entered-in-error" else "finished")


def test_animal() -> None:
    """Species, breed and gender status stand in HL7's extension for animals; the owner is a contact."""
    (patient,) = resources(bundle(record()), "Patient")
    (animal,) = [e for e in patient["extension"] if e["url"].endswith("StructureDefinition/patient-animal")]
    told = {part["url"]: part["valueCodeableConcept"]["text"] for part in animal["extension"]}
    assert told == {"species": "dog", "breed": "Border Terrier", "genderStatus": "Neutered"}
    assert patient["gender"] == "female"
    assert patient["contact"][0]["name"] == {"text": "Ines Ode"}
    assert [i["value"] for i in patient["identifier"]] == ["S-1042", "900012000345678"]


def test_absence_can_not_be_read_as_presence() -> None:
    """A finding's answer says whether it is there: present, absent, possibly present; the code alone never does."""
    answers = {
        "present": observation(status="abnormal", finding="murmur"),
        "absent": observation(finding="murmur", present=False),
        "possibly-present": observation(status="abnormal", finding="murmur", stated_as="possible"),
        "possibly-absent": observation(finding="murmur", present=False, stated_as="possible"),
        "normal": observation(),
        "abnormal": observation(status="abnormal"),
    }
    for answer, found in answers.items():
        assert found["valueCodeableConcept"]["coding"][0]["code"] == answer
    assert "interpretation" not in answers["absent"]
    assert answers["present"]["bodySite"]["text"] == "heart"


def test_not_examined_has_a_reason_and_no_value() -> None:
    """What could not be examined has dataAbsentReason not-performed, the reason as a note, and no value."""
    found = observation(status="not_examined", qualifiers={"reason": "she growled"})
    assert found["dataAbsentReason"]["coding"][0]["code"] == "not-performed"
    assert not [key for key in found if key.startswith("value")]
    assert any("she growled" in note["text"] for note in found["note"])


def test_not_recorded_gives_nothing() -> None:
    """A site that nobody spoke of has no Observation, and stands in no other resource but the text of the report."""
    found = bundle(record())
    assert not [o for o in resources(found, "Observation") if "tongue" in json.dumps(o)]


def test_open_doubts_are_marked() -> None:
    """An Observation with an open doubt carries a tag and the doubt's words."""
    found = observation(status="abnormal", finding="murmur", doubts=(DOUBT,))
    assert found["meta"]["tag"][0]["code"] == "open-doubt"
    assert any(DOUBT.message in note["text"] for note in found["note"])


def test_values_are_not_judged() -> None:
    """A value with status normal has no interpretation; one that was called abnormal has its finding beside it."""
    plain = observation(site="heart rate", value=Measured(number=333, unit="/min"))
    assert "interpretation" not in plain
    called = observation(
        site="heart rate", status="abnormal", finding="tachycardia", value=Measured(number=210, unit="/min")
    )
    assert called["interpretation"][0]["coding"][0]["code"] == "A"
    assert called["component"][0]["code"]["text"] == "tachycardia"


def test_a_unit_outside_the_profile_claims_none() -> None:
    """A weight in ounces, or a value without a unit, keeps our own code alone and claims no profile."""
    for value in (Measured(number=12, unit="[oz_av]"), Measured(number=12, unit=None)):
        found = observation(site="weight", value=value)
        assert [c["system"] for c in found["code"]["coding"]] == ["urn:exam-record:site"]
        assert "profile" not in found.get("meta", {})


def test_without_a_day_no_profile_is_claimed() -> None:
    """The profiles want the day of the exam; where nobody knows it, that is said and no profile is claimed."""
    found = bundle(record(), Standing())
    weight = resources(found, "Observation")[0]
    assert "effectiveDateTime" not in weight
    assert weight["_effectiveDateTime"]["extension"][0]["valueCode"] == "unknown"
    assert "profile" not in weight.get("meta", {})
    assert faults(found) == []


def test_qualifiers_and_sides_are_kept() -> None:
    """Qualifiers are components with their type; the side stands in the body site."""
    found = observation(
        site="elbow",
        side="left",
        status="abnormal",
        finding="mass",
        qualifiers={"size": Quantity(number=2, unit="cm"), "count": 2},
    )
    assert found["bodySite"]["text"] == "elbow, left"
    size, count = found["component"]
    assert (size["valueQuantity"]["value"], size["valueQuantity"]["code"]) == (2, "cm")
    assert count["valueInteger"] == 2


def test_report_carries_the_whole_record_as_text() -> None:
    """History, advice and unplaced words, which are no findings, are handed on in the report's text."""
    (report,) = resources(bundle(record()), "DiagnosticReport")
    text = base64.b64decode(report["presentedForm"][0]["data"]).decode()
    assert text == make("text", record(), lexicon(), STANDING).decode()
    for part in ("coughed last week", "brush her teeth", "something stifle", "DRAFT"):
        assert part in text


def test_provenance_names_program_and_signer() -> None:
    """A draft has the program as its only agent; a signed record also the signer, what was signed, the chain's head."""
    assert [p["agent"][0]["who"]["type"] for p in resources(bundle(record()), "Provenance")] == ["Device"]
    final = signed()
    drafted, signing = resources(bundle(final), "Provenance")
    assert drafted["entity"][0]["what"]["identifier"]["value"] == "0" * 64
    assert signing["agent"][0]["who"]["display"] == "Dr Mira Holt"
    assert final.signature is not None
    assert signing["entity"][0]["what"]["identifier"]["value"] == final.signature.over
    assert signing["extension"][0]["valueString"] == "ab" * 32


def test_references_stay_inside() -> None:
    """Every reference of a bundle is to one of its own entries."""
    found = bundle(signed())
    own = {entry["fullUrl"] for entry in found["entry"]}
    assert len(own) == len(found["entry"])
    assert set(_references(found)) <= own


def _references(part: Any) -> Iterator[str]:
    if isinstance(part, dict):
        if isinstance(part.get("reference"), str):
            yield part["reference"]
        for value in part.values():
            yield from _references(value)
    if isinstance(part, list):
        for value in part:
            yield from _references(value)
