"""The record as a whole: models, schema, ids, coverage, seal."""

from __future__ import annotations

import json
from datetime import timedelta

import jsonschema
import pytest
from exam_cases import LEXICON, NOW, recorded, said, spoken, written
from pydantic import ValidationError

from dictate.exam.record import Observation, from_json, is_untouched, json_schema, to_json
from dictate.exam.statements import (
    Doubt,
    EncounterTold,
    Evidence,
    Measure,
    PatientTold,
    Reading,
    Remark,
    Unplaced,
)

TEXT = "Both eyes clear. Left elbow thick. Weight 23.4 kilos. Owner says he limps. Something odd. All else normal."


def reading() -> Reading:
    def remark(section: str, quote: str) -> Remark:
        start = TEXT.index(quote)
        return Remark(section, Evidence(quote, start, start + len(quote)))  # type: ignore[arg-type]

    return Reading(
        patient=PatientTold("Moss", "dog", "Collie", "male", True, Measure(4, "a")),
        encounter=EncounterTold("lame", None, ("sedated",)),
        statements=(
            said(TEXT, "Both eyes clear", "eye", "both"),
            said(TEXT, "Left elbow thick", "elbow", "left", status="abnormal", finding="thickening",
                 qualifiers={"size": Measure(2, "cm"), "count": 1}, doubts=(Doubt("mis-hearing", "?", ("a", "b")),)),
            said(TEXT, "Weight 23.4 kilos", "weight", value=Measure(23.4, "kg")),
        ),
        unplaced=(Unplaced(remark("plan", "Something odd").evidence, "no site"),),
        remarks=(remark("general", "All else normal"), remark("history", "Owner says he limps")),
    )  # fmt: skip


def test_record_has_the_fields_of_the_contract() -> None:
    """Every field name of the record's contract stands in the written JSON, and the JSON fits the published schema."""
    data = json.loads(to_json(recorded(reading(), written(TEXT))))
    jsonschema.Draft202012Validator.check_schema(json_schema())
    jsonschema.validate(data, json_schema())
    assert data["schema"] == "exam-record/1"
    assert data["status"] == "preliminary"
    assert data["patient"] == {
        "name": "Moss", "species": "dog", "breed": "Collie", "sex": "male", "neutered": True,
        "age": {"number": 4.0, "unit": "a"},
    }  # fmt: skip
    assert set(data["encounter"]) == {"time", "reason", "clinician", "conditions"}
    assert set(data["observations"][0]) == {
        "id", "site", "side", "status", "finding", "present", "stated_as", "qualifiers", "value", "doubts", "untold",
        "evidence",
    }  # fmt: skip
    assert set(data["unplaced"][0]) >= {"text", "start", "end", "char_start", "char_end", "why"}
    assert [e["text"] for e in data["other"]["general"]] == ["All else normal"]
    assert [e["text"] for e in data["other"]["history"]] == ["Owner says he limps"]
    elbow = next(o for o in data["observations"] if o["site"] == "elbow")
    assert elbow["qualifiers"] == {"size": {"number": 2.0, "unit": "cm"}, "count": 1}
    assert next(o for o in data["observations"] if o["site"] == "weight")["value"]["unit"] == "kg"


def test_written_record_reads_back_the_same() -> None:
    """Writing a record and reading it gives an equal record."""
    record = recorded(reading(), written(TEXT))
    assert from_json(to_json(record)) == record


def test_a_second_run_differs_only_in_the_drafting_time() -> None:
    """Drafting again later gives the same JSON but for `drafted`; another source gives other ids."""
    first = json.loads(to_json(recorded(reading(), written(TEXT))))
    second = json.loads(to_json(recorded(reading(), written(TEXT), drafted=NOW + timedelta(hours=1))))
    assert first.pop("drafted") != second.pop("drafted")
    assert first == second
    other = recorded(reading(), spoken(TEXT).__class__((), TEXT, "1" * 64))
    assert not {o.id for o in other.observations} & {o["id"] for o in first["observations"]}


def test_ids_are_unique_even_for_the_same_words() -> None:
    """Two observations from one stretch of talk have two ids."""
    text = "Two lumps on the flank"
    twice = tuple(
        said(text, text, "skin", status="abnormal", finding="mass", qualifiers={"size": Measure(n, "cm")})
        for n in (1, 2)
    )
    ids = [o.id for o in recorded(Reading(statements=twice), written(text)).observations]
    assert len(ids) == len(set(ids)) == 2


def test_evidence_of_sound_has_seconds() -> None:
    """Evidence of a sound names the seconds of its words; evidence of a text has null there."""
    heard = recorded(reading(), spoken(TEXT)).observations[0].evidence[0]
    assert (heard.start, heard.end, heard.text) == (0.0, 3.0, "Both eyes clear")
    assert recorded(reading(), written(TEXT)).observations[0].evidence[0].start is None


def test_coverage_counts_what_was_not_spoken_of() -> None:
    """A site nobody spoke of is not recorded; a site that this sex does not have is not missed; no site is both."""
    coverage = recorded(reading(), written(TEXT)).coverage
    assert coverage.recorded == ("weight", "eye", "elbow")
    assert "abdomen" in coverage.not_recorded
    assert "prostate" in coverage.not_recorded
    assert "vulva" not in coverage.not_recorded
    assert not set(coverage.recorded) & set(coverage.not_recorded)
    assert set(coverage.recorded) | set(coverage.not_recorded) == {s.site for s in LEXICON.sites} - {"vulva"}


def test_models_refuse_unknown_fields_and_words() -> None:
    """A field or a status that the contract does not know is refused, and a record cannot be changed in place."""
    with pytest.raises(ValidationError):
        Observation(id="1", site="eye", status="fine")  # type: ignore[arg-type]
    with pytest.raises(ValidationError):
        Observation(id="1", site="eye", status="normal", colour="red")  # type: ignore[call-arg]
    with pytest.raises(ValidationError):
        recorded(reading(), written(TEXT)).status = "final"  # type: ignore[misc]


@pytest.mark.parametrize(
    "change",
    [{"status": "final"}, {"patient": {"name": "Fern"}}, {"review": [{"by": "A. Vet"}]}, {"seal": "0"}],
)
def test_any_touch_by_a_person_shows(change: dict[str, object]) -> None:
    """A draft as written is untouched; with another status, a review mark or any edited field it is not."""
    data = json.loads(to_json(recorded(reading(), written(TEXT))))
    assert is_untouched(data)
    assert not is_untouched({**data, **change})
