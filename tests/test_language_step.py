"""The language step as a whole, on invented talks."""

from __future__ import annotations

from functools import lru_cache

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from language_cases import KNOW, WORDS

from dictate.exam.statements import Measure, Reading, Statement
from dictate.language import read
from dictate.speech.words import Transcript

EXAM = (
    "Bella, seven year old spayed Labrador. Weight twenty-eight point four kilos. Temperature thirty-eight point six. "
    "Heart regular, no murmur. Left ear canal is red, right ear canal is clean. "
    "I couldn't get a look at the tonsils. We'll take blood next week."
)
BARE = "".join(c for c in EXAM.lower().replace("-", " ") if c not in ".,")


@lru_cache(maxsize=32)
def reading(text: str) -> Reading:
    return read(Transcript((), text, "0" * 64), WORDS.lexicon)


def only(found: Reading, site: str, finding: str | None = None, side: str | None = None) -> Statement:
    """The one statement of a site, finding and side."""
    (one,) = [s for s in found.statements if (s.site, s.finding, s.side) == (site, finding, side)]
    return one


def certain(found: Reading) -> list[Statement]:
    return [s for s in found.statements if not s.doubts and s.stated_as == "certain"]


@pytest.mark.parametrize("text", [EXAM, BARE], ids=["written", "without marks and capitals"])
def test_a_whole_talk(text: str) -> None:
    """Values, sides, findings, absences and what was not examined are read, with and without marks."""
    found = reading(text)
    assert only(found, "weight").value == Measure(28.4, "kg")
    assert only(found, "temperature").value == Measure(38.6, "Cel")
    assert only(found, "heart").status == "normal"
    assert only(found, "heart", "murmur").present is False
    assert only(found, "ear canal", "erythema", "left").status == "abnormal"
    assert only(found, "ear canal", None, "right").status == "normal"
    assert only(found, "tonsil", None, "both").status == "not_examined"
    assert [r.section for r in found.remarks] == ["plan"]
    assert (found.patient.species, found.patient.age) == ("dog", Measure(7.0, "a"))


def test_same_on_the_right() -> None:
    """A whole side carried over is repeated on the other."""
    found = reading("Left shoulder normal, left elbow thickened, left carpus normal. Same on the right.")
    for side in ("left", "right"):
        assert only(found, "shoulder", None, side).status == "normal"
        assert only(found, "elbow", "thickening", side).status == "abnormal"
        assert only(found, "carpus", None, side).status == "normal"


def test_taken_back() -> None:
    """What was taken back is not in the reading."""
    assert only(reading("Weight 4.2 kilos. Sorry, 4.6 kilos."), "weight").value == Measure(4.6, "kg")


@pytest.mark.parametrize(
    "text",
    [
        "Owner says he has been limping on the left hind since Sunday.",
        "Cats often get inflamed gums as they age.",
        "We will take a blood sample next week and recheck the ears.",
        "Give one tablet twice daily with food.",
    ],
)
def test_talk_that_is_no_observation_claims_nothing(text: str) -> None:
    """History, teaching, plans and advice make no certain statement."""
    assert certain(reading(text)) == []


@pytest.mark.parametrize("text", ["", " \n ", "...", "?!"])
def test_text_without_words(text: str) -> None:
    """A text without words says nothing and is no error."""
    assert reading(text) == Reading()


@pytest.mark.parametrize(
    "text",
    [
        "Der Hund ist heute munter, das linke Ohr ist rot und das Herz schlägt ruhig. Die Lunge ist frei.",
        "Le chien va bien aujourd'hui, l'oreille gauche est rouge et le coeur est calme.",
        "El perro está bien. La oreja izquierda está roja y el corazón late tranquilo.",
        "犬は元気です。左の耳が赤いです。",
    ],
)
def test_another_language_claims_nothing(text: str) -> None:
    """A talk in another language makes no certain statement."""
    assert certain(reading(text)) == []


@pytest.mark.parametrize("text", ["Carpus, elbow and shoulder normal.", "The cornea is clear."])
def test_side_that_nobody_said_is_asked_about(text: str) -> None:
    """A side that no word of the talk tells is never given for certain."""
    assert [s for s in certain(reading(text)) if s.side in ("left", "right")] == []


@pytest.mark.parametrize("text", ["There's dandruff.", "Some dandruff along the back."])
def test_first_word_is_not_the_name(text: str) -> None:
    """A word that opens a text without an introduction is not the patient's name."""
    assert reading(text).patient.name is None


PHRASES = st.sampled_from(
    [row.words for table in ("site_words", "finding_words", "normal_words", "not_examined", "sides", "carry", "edits")
     for row in getattr(WORDS.lexicon, table)]
)  # fmt: skip
SMALL = st.sampled_from(["no", "the", "and", "but", ",", ".", "?", "(", ")", "not", "is", "three", "38.6", "104", "kg"])
TALK = st.lists(st.one_of(PHRASES, SMALL), max_size=25).map(" ".join)
ANY = st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=120)
SLOW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@SLOW
@given(st.one_of(TALK, ANY))
def test_evidence_is_a_slice_of_the_text(text: str) -> None:
    """Reading never fails, and the evidence of all that is read is copied letter for letter from the text."""
    found = reading(text)
    evidence = [e for s in found.statements for e in s.evidence]
    evidence += [u.evidence for u in found.unplaced] + [r.evidence for r in found.remarks]
    assert all(e.text == text[e.char_start : e.char_end] and e.text for e in evidence)
    assert all(s.evidence for s in found.statements)


@SLOW
@given(TALK)
def test_statements_use_names_of_the_lexicon(text: str) -> None:
    """Sites and findings are names of the tables, an unpaired site has no side, and a probability is none beyond 1."""
    findings = {f.finding for f in WORDS.lexicon.findings}
    for s in reading(text).statements:
        assert s.site in KNOW.region
        assert s.finding is None or s.finding in findings
        assert s.side is None or s.site in KNOW.paired
        assert 0.0 <= s.probability <= 1.0


def test_reading_twice_is_the_same() -> None:
    """The same text is read the same way each time."""
    transcript = Transcript((), EXAM, "0" * 64)
    assert read(transcript) == read(transcript)
