"""The owner's sheet and the sheet before anaesthesia: what the record holds, explained or in order, nothing more."""

from __future__ import annotations

import re

import pytest
from export_cases import STANDING, lexicon, record, seen, shown, signed, words

from dictate.exam.record import Coverage, Encounter, Evidence, Measured, Observation, Other, Patient
from dictate.export.anaesthesia import anaesthesia
from dictate.export.document import Document
from dictate.export.owner import ABOUT, owner
from dictate.export.parts import TITLES

# Words by which a text would judge or console where the record does not.
COMFORT = re.compile(
    r"\b(harmless|benign|healthy|fine|good news|no need to worry|don't worry|serious|dangerous)\b", re.I
)


def blocks(document: Document) -> dict[str, list[str]]:
    return {b.title: [f"{line.label}: {line.text}" for line in b.lines] for b in document.blocks}


def test_owner_sheet_puts_each_observation_in_one_group() -> None:
    """Found, measured, looked for and not found, called normal, could not be examined: each observation stands once."""
    told = blocks(owner(record(), lexicon(), STANDING))
    assert [line.split(":")[0] for line in told["What was found"]] == [
        "heart",
        "lens, left",
        "elbow, side not stated",
        "teeth",
    ]
    assert told["What was measured"] == ["weight: 8.6 kg", "heart rate: 96 /min"]
    assert told["Looked for and not found"] == ["heart: no arrhythmia"]
    assert told["Looked at and called normal"] == ["cornea, both: normal"]
    assert told["What could not be examined"] == ["kidney, left: she would not stand still"]


def test_owner_sheet_explains_terms_once() -> None:
    """A term of the trade is explained from the lexicon where it comes first; a tooth's number is put in words."""
    text = shown("owner-text", record((*record().observations, seen("lens", 9, side="right")), unplaced=()))
    assert text.count("nuclear sclerosis: a bluish haze in the middle of the lens") == 1
    assert text.count("lens: the clear lens inside the eye") == 1
    assert "tooth 108: right upper fourth premolar" in text


def test_owner_sheet_keeps_a_hedge() -> None:
    """What was called possible is possible on the sheet too."""
    assert "lens, left: possible: nuclear sclerosis" in blocks(owner(record(), lexicon(), STANDING))["What was found"]


def test_owner_sheet_gives_advice_word_for_word() -> None:
    """Advice and plan stand in the words that were spoken; the history is not part of the sheet."""
    told = blocks(owner(record(), lexicon(), STANDING))
    assert told[TITLES["advice"]] == [": “brush her teeth”"]
    assert TITLES["history"] not in told


def test_owner_sheet_says_what_is_not_in_the_record() -> None:
    """Sites that nobody spoke of are listed, and the sheet says that this is neither good nor bad."""
    document = owner(record(), lexicon(), STANDING)
    assert "mouth: tongue" in blocks(document)["Not in the record"]
    assert ABOUT in shown("owner-text", record())


def test_explanations_neither_judge_nor_console() -> None:
    """No explanation of the lexicon says how bad something is or where it comes from."""
    rows = lexicon().plain_words
    assert not [row for row in rows if COMFORT.search(row.plain) or "because" in row.plain or "caused" in row.plain]


def test_every_site_and_finding_has_its_plain_words() -> None:
    """Every name that a record can use has a row in the table of plain words, and no row names anything else."""
    plain = lexicon().plain_words
    assert {row.name for row in plain if row.kind == "site"} == {s.site for s in lexicon().sites}
    assert {row.name for row in plain if row.kind == "finding"} == {f.finding for f in lexicon().findings}
    assert all(row.source for row in plain)


@pytest.mark.parametrize("site", [row.site for row in lexicon().anaesthesia_sites])
def test_abnormal_findings_that_matter_come_first(site: str) -> None:
    """An abnormal finding at a site of the table stands in the first block of findings, framed."""
    given = record((seen(site, status="abnormal", finding="swelling"),), unplaced=())
    document = anaesthesia(given, lexicon(), STANDING)
    first = next(b for b in document.blocks if b.title == "Abnormal findings that bear on anaesthesia")
    assert [line.label.split(",")[0] for line in first.lines] == [site]
    assert first.weight == "attention"


def test_no_abnormal_finding_is_left_out() -> None:
    """Every abnormal observation of the record stands on the sheet, whatever its site; so does every value."""
    given = record()
    told = blocks(anaesthesia(given, lexicon(), STANDING))
    findings = told["Abnormal findings that bear on anaesthesia"] + told["Other abnormal findings"]
    abnormal = [o for o in given.observations if o.status == "abnormal"]
    assert len(findings) == len(abnormal)
    assert all(any(str(o.finding) in line for line in findings) for o in abnormal)
    assert told["Values, as they were measured"][:2] == ["weight: 8.6 kg", "heart rate: 96 /min"]


def test_missing_values_and_sites_are_named() -> None:
    """A value or site that matters and was not spoken of is named as such; one that was tried has its reason."""
    tried = seen("blood pressure", status="not_examined", qualifiers={"reason": "the cuff slipped"})
    given = record((tried,), unplaced=(), coverage=Coverage(recorded=("blood pressure",), not_recorded=("larynx",)))
    told = blocks(anaesthesia(given, lexicon(), STANDING))
    assert ": not spoken of" in "".join(told["Values, as they were measured"])
    assert not [line for line in told["Values, as they were measured"] if line.startswith("blood pressure")]
    assert told["Could not be examined"] == ["blood pressure: the cuff slipped"]
    assert told["Not recorded of what bears on anaesthesia"] == [": larynx"]


@pytest.mark.parametrize("said", ["ASA two", "ASA physical status class 3", "I would call her an A S A three"])
def test_physical_status_only_in_the_words_that_were_spoken(said: str) -> None:
    """A physical status class is quoted from wherever the record keeps it; nothing is derived from it."""
    for kept in (
        record((), unplaced=(), other=Other(assessment=(words(said),))),
        record((), unplaced=(), other=Other(plan=(words(said),))),
        record((seen("heart", evidence=(Evidence(text=said, char_start=5, char_end=9),)),), unplaced=()),
    ):
        assert blocks(anaesthesia(kept, lexicon(), STANDING))["Physical status class"] == [
            f"as it was spoken: “{said}”"
        ]


def test_no_physical_status_is_invented() -> None:
    """Where none was spoken, the sheet says so, however ill the patient is; "nasal" and the like are no class."""
    ill = (seen("heart", status="abnormal", finding="gallop"),)
    given = record(ill, unplaced=(), other=Other(history=(words("nasal wash, asap if you can"),)))
    assert blocks(anaesthesia(given, lexicon(), STANDING))["Physical status class"] == [": not spoken of"]


def test_conditions_of_the_exam_are_on_the_sheet() -> None:
    """That the patient was sedated, and what was told of its history, stands on the sheet."""
    given = record(encounter=Encounter(conditions=("sedated",), reason="dental cleaning"))
    told = blocks(anaesthesia(given, lexicon(), STANDING))
    assert "conditions of the exam: sedated" in told["Encounter"]
    assert told["History"] == [": “coughed last week”"]


def test_sheets_carry_the_signature() -> None:
    """Both sheets name who signed the record that they were made from."""
    for kind in ("owner-text", "anaesthesia-text"):
        assert "Dr Mira Holt (signer)" in shown(kind, signed())


def test_sheets_of_an_empty_record_are_made() -> None:
    """A record without any observation gives sheets that say so, and nothing is normal in them."""
    for kind in ("owner-text", "anaesthesia-text"):
        text = shown(kind, record((), unplaced=(), patient=Patient(), other=Other()))
        assert "patient's name not told" in text
        assert not re.search(r": normal", text)


def test_value_called_abnormal_is_shown_with_its_finding() -> None:
    """A value that was called fast stands with the finding that was spoken, among the findings and among the values."""
    fast: Observation = seen(
        "heart rate", status="abnormal", finding="tachycardia", value=Measured(number=210, unit="/min")
    )
    told = blocks(anaesthesia(record((fast,), unplaced=()), lexicon(), STANDING))
    assert told["Abnormal findings that bear on anaesthesia"] == ["heart rate: 210 /min, tachycardia"]
    assert told["Values, as they were measured"][0] == "heart rate: 210 /min, tachycardia"
