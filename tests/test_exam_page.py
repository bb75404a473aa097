"""The page that a person reads."""

from __future__ import annotations

from exam_cases import LEXICON, recorded, said, written
from test_exam_record import TEXT, reading

from dictate.exam.page import WIDTH, page, pairs_joined
from dictate.exam.statements import Measure, Reading, Statement


def lines() -> list[str]:
    return page(recorded(reading(), written(TEXT)), LEXICON).splitlines()


def place_of(line: str) -> int:
    return next(n for n, text in enumerate(lines()) if text.startswith(line))


def test_page_reads_in_clinical_order() -> None:
    """Doubts come first, then patient, vital signs, regions of the body, sections, what is missing, cautions."""
    order = ["EXAM RECORD", "TO SETTLE", "HEARD BUT NOT PLACED", "PATIENT", "VITAL SIGNS", "EYES", "FORELIMBS"]
    order += ["GENERAL STATEMENTS", "HISTORY", "NOT RECORDED", "CAUTIONS"]
    assert [place_of(title) for title in order] == sorted(place_of(title) for title in order)


def test_doubt_is_listed_and_marked_in_place() -> None:
    """A doubted observation is listed with its choices and words, and carries [?] where it stands."""
    listed = lines()[place_of("TO SETTLE") + 1]
    assert "[?] elbow, left" in listed
    text = page(recorded(reading(), written(TEXT)), LEXICON)
    assert "a | b" in text
    assert any(line.strip().startswith("elbow, left") and line.endswith("[?]") for line in lines())
    assert not any("[?]" in line for line in lines() if line.strip().startswith("eye"))


def test_both_sides_alike_stand_in_one_line() -> None:
    """Left and right that say the same are printed once, as both; two alike masses on one site are printed twice."""
    assert any(line.split() == ["eye,", "both", "normal"] for line in lines())
    text = "A lump here and a lump there"
    two = Reading(
        statements=(
            said(text, "A lump here", "skin", status="abnormal", finding="mass", qualifiers={"location": "flank"}),
            said(text, "a lump there", "skin", status="abnormal", finding="mass", qualifiers={"location": "chin"}),
        )
    )
    assert len(pairs_joined(recorded(two, written(text)).observations)) == 2


def test_a_measured_value_is_printed_without_a_judgement() -> None:
    """A value stands alone: no "normal" is printed that was not spoken."""
    weight = next(line for line in lines() if line.strip().startswith("weight"))
    assert weight.split() == ["weight", "23.4", "kg"]


def test_conditions_stand_beside_the_values() -> None:
    """The conditions of the exam are printed at every block with values."""
    assert "VITAL SIGNS (sedated)" in lines()


def test_draft_says_that_it_is_one_and_ends_with_the_cautions() -> None:
    """The page names its status, and closes with the cautions."""
    text = page(recorded(reading(), written(TEXT)), LEXICON)
    assert "status: preliminary" in text
    for part in ("licensed veterinarian reviews and signs", "does not diagnose", "only raise doubts", "local law"):
        assert part in " ".join(text.split())


def test_not_examined_gives_the_reason() -> None:
    """A site that could not be examined stands in its own block with the reason, in the speaker's words."""
    one = Reading(statements=(Statement("eye", "both", "not_examined", qualifiers={"reason": "he will not let me"}),))
    text = page(recorded(one, written("")), LEXICON)
    assert "COULD NOT BE EXAMINED" in text
    assert "he will not let me" in text


def test_lines_are_of_readable_width() -> None:
    """No line is longer than the page's width, however long the talk."""
    long = "word " * 300
    told = Reading(statements=(said(long, long.strip(), "skin", value=Measure(385, None)),))
    assert max(len(line) for line in page(recorded(told, written(long)), LEXICON).splitlines()) <= WIDTH
