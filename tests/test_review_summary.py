"""The screen before a signature, the comparison of visits, and the entries offered to the lexicon."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from exam_cases import LEXICON
from review_cases import NOW, SIDE, WHO, by_key, drafted, phrase, seen

from dictate.errors import InputError
from dictate.exam.record import Encounter, Measured, Observation, Patient, Record
from dictate.lexicon import load
from dictate.review import (
    Decision,
    Offer,
    OfferAnswered,
    Place,
    add_own_word,
    apply,
    before_you_sign,
    compare,
    find_findings,
    find_sites,
    observation,
    offers,
    summary_text,
)
from dictate.review.comparing_text import comparison_text


def kg(number: float) -> dict[str, Any]:
    return {"value": Measured(number=number, unit="kg")}


def test_every_observation_stands_on_the_screen() -> None:
    """Each observation is in one of the lists: abnormal, values, absent, not examined or normal."""
    record = drafted(
        seen("a", "elbow", side="left", status="abnormal", finding="mass"),
        seen("b", "weight", **kg(26)),
        seen("c", "lung", finding="crackles", present=False),
        seen("d", "prostate", status="not_examined", qualifiers={"reason": "would not hold still"}),
        seen("e", "skin"),
    )
    summary = before_you_sign(record, LEXICON)
    lists = (summary.abnormal, summary.values, summary.absent, summary.not_examined, summary.normal)
    assert [[i for line in lines for i in line.observations] for lines in lists] == [[c] for c in "abcde"]
    assert summary.not_examined[0].text == "would not hold still"


def test_other_side_and_last_visit_stand_beside() -> None:
    """A one-sided finding shows what is recorded of the other side; a value shows that of the last visit."""
    earlier = drafted(seen("x", "weight", **kg(25)))
    record = drafted(
        seen("a", "elbow", side="left", status="abnormal", finding="mass"),
        seen("b", "eye", side="right", status="abnormal", finding="discharge"),
        seen("c", "eye", side="left"),
        seen("d", "weight", **kg(26)),
    )
    summary = before_you_sign(record, LEXICON, earlier=earlier)
    notes = {line.name: line.note for line in (*summary.abnormal, *summary.values)}
    assert notes == {"elbow, left": "right: not recorded", "eye, right": "left: normal", "weight": "last visit: 25 kg"}
    assert [line.name for line in summary.one_side] == ["elbow"]


def test_what_cannot_be_told_has_its_list() -> None:
    """A side that nobody could tell stands on the screen under its own heading, and in the text of it."""
    draft = drafted(seen("a", "elbow", status="abnormal", finding="mass", doubts=(SIDE,)))
    summary = before_you_sign(apply(draft, [by_key(draft, "t")]), LEXICON)
    assert [line.text for line in summary.untold] == ["mass, side not stated"]
    assert "side not stated" in summary_text(summary)


def test_words_of_a_finding_that_nothing_tells_stand_on_the_screen() -> None:
    """A finding that was dropped, turned into a normal or into an absence shows by the words that were spoken of it."""
    told = seen("a", "elbow", side="left", status="abnormal", finding="thickening")
    normal = seen("a", "elbow", side="left")
    absent = seen("a", "elbow", side="left", finding="thickening", present=False)

    def shown(*observations: Observation) -> list[str]:
        return [line.text for line in before_you_sign(drafted(*observations), LEXICON).unclaimed]

    assert shown(told) == []
    assert shown() == shown(normal) == ["“left elbow thick and no pain and the”"]
    assert shown(absent) == ["“left elbow thick”"]
    assert shown(seen("a", "elbow", "thick and no", finding="thickening", present=False)) == []


def test_words_in_a_section_are_no_finding() -> None:
    """What is kept as history, or was looked at and dismissed, is not listed as a finding that nothing tells."""
    draft = drafted(unplaced=(phrase("left elbow thick"), phrase("today")))
    assert before_you_sign(draft, LEXICON).unclaimed == ()
    for key in "1d":
        assert before_you_sign(apply(draft, [by_key(draft, key)]), LEXICON).unclaimed == ()


def visit(day: int, *observations: Observation) -> Record:
    return drafted(*observations, encounter=Encounter(time=NOW + timedelta(days=day)), id=f"v{day}")


def mass(identity: str, **said: Any) -> Observation:
    return seen(identity, "elbow", **{"side": "left", "status": "abnormal", "finding": "mass", **said})


@pytest.mark.parametrize(
    ("before", "now", "state"),
    [
        ((seen("a", "elbow", side="left"),), (mass("b"),), "new"),
        ((), (mass("b"),), "first looked at"),
        ((mass("a"),), (mass("b"),), "unchanged"),
        ((mass("a", qualifiers={"severity": "mild"}),), (mass("b", qualifiers={"severity": "severe"}),), "changed"),
        ((mass("a"),), (seen("b", "elbow", side="left"),), "gone"),
        ((mass("a"),), (seen("b", "elbow", side="left", finding="mass", present=False),), "gone"),
        ((mass("a"),), (seen("b", "skin"),), "not told"),
        ((mass("a"),), (seen("b", "elbow", side="right"),), "not told"),
        ((mass("a"),), (seen("b", "elbow", side="left", status="not_examined"),), "not told"),
    ],
)
def test_findings_are_compared_by_site_and_side(
    before: tuple[Observation, ...], now: tuple[Observation, ...], state: str
) -> None:
    """A finding is gone only where this visit says so, and new only where an earlier one examined the site."""
    (change,) = compare([visit(0, *before), visit(30, *now)], LEXICON).changes
    assert change.state == state


def test_finding_is_compared_with_when_its_site_was_last_examined() -> None:
    """A visit at which nobody examined the site is passed over; records in error are left out."""
    wrong = visit(20).model_copy(
        update={"status": "entered-in-error", "observations": (seen("x", "elbow", side="left"),)}
    )
    comparison = compare([visit(0, mass("a")), visit(10, seen("b", "skin")), wrong, visit(30, mass("c"))], LEXICON)
    (change,) = comparison.changes
    assert (change.state, change.last, len(comparison.times)) == ("unchanged", NOW, 3)


def test_values_of_all_visits_are_one_series_in_one_unit() -> None:
    """Values told in other units are converted; one that nobody could tell is no point; the text shows them."""
    pounds = seen("b", "weight", value=Measured(number=50, unit="[lb_av]"))
    comparison = compare(
        [
            visit(0, pounds),
            visit(9, seen("u", "weight", **kg(1), untold=("?",))),
            visit(30, seen("a", "weight", **kg(24))),
        ],
        LEXICON,
    )
    (series,) = comparison.series
    assert [(round(p.number, 2), p.time) for p in series.points] == [(22.68, NOW), (24, NOW + timedelta(days=30))]
    assert "▁█" in comparison_text(comparison)


def test_day_of_a_draft_is_never_passed_off_as_that_of_the_visit() -> None:
    """Where a record does not hold the visit's day, the comparison counts it and its text says whose day is shown."""
    undated = compare([drafted(mass("a")), visit(30, mass("b"))], LEXICON)
    assert undated.undated == 1 and "1 of 2 records do not hold the day of the visit" in comparison_text(undated)
    dated = compare([visit(0, mass("a")), visit(30, mass("b"))], LEXICON)
    assert dated.undated == 0 and "day of the draft" not in comparison_text(dated)


def heard_as(quote: str, words: str) -> tuple[Record, list[Decision]]:
    draft = drafted(unplaced=(phrase(quote),))
    one = observation("elbow", by=WHO, side="left", words=words)
    return draft, [Place(by=WHO, time=NOW, phrase=draft.unplaced[0], observations=(one,), words=words)]


def test_mis_hearing_corrected_twice_is_offered() -> None:
    """The same strange word corrected in two reviews is offered, once is not enough, and an answer is remembered."""
    once = heard_as("something odd", "elbow thick")
    assert offers([once], LEXICON) == ()
    twice = [heard_as("odd and", "elbow and"), heard_as("odd and", "elbow and")]
    assert offers(twice, LEXICON) == (Offer("odd", "elbow", 2),)
    no = OfferAnswered(by=WHO, time=NOW, heard="odd", meant="elbow", taken=False)
    assert offers([*twice, (drafted(), [no])], LEXICON) == ()


def test_word_of_the_trade_is_never_offered_as_another() -> None:
    """A corrected side or site is a slip of one exam, not a mis-hearing: no entry would turn "left" into "right"."""
    assert offers([heard_as("left elbow thick", "right elbow thick")] * 3, LEXICON) == ()


def test_phrase_placed_by_its_site_is_offered_too() -> None:
    """A strange word that was twice placed on one site is offered as that site's name."""

    def placed() -> tuple[Record, list[Decision]]:
        draft = drafted(unplaced=(phrase("odd"),))
        one = observation("elbow", by=WHO, side="left")
        return draft, [Place(by=WHO, time=NOW, phrase=draft.unplaced[0], observations=(one,))]

    assert offers([placed(), placed()], LEXICON) == (Offer("odd", "elbow", 2),)


def test_taken_offer_is_written_and_read(tmp_path: Path) -> None:
    """A taken entry stands in the practice's own table, which stays in order; a wrong table is left as it was."""
    add_own_word(tmp_path, Offer("pine all", "spine", 2))
    add_own_word(tmp_path, Offer("patsy, a", "patella", 2))
    assert {row.heard: row.meant for row in load(tmp_path).mishearings}["patsy, a"] == "patella"
    table = tmp_path / "mishearings.csv"
    stood = table.read_text()
    with pytest.raises(InputError):
        add_own_word(tmp_path, Offer("pine all", "spine", 2))
    assert table.read_text() == stood


@pytest.mark.parametrize(
    ("letters", "first"), [("elb", "elbow"), ("pulse", "femoral pulse"), ("elbwo", "elbow"), ("can", "ear canal")]
)
def test_site_is_found_by_a_few_letters(letters: str, first: str) -> None:
    """Beginnings of any word of a name and misspelt names find the site."""
    assert find_sites(letters, LEXICON)[0] == first


def test_sites_of_the_words_come_first_and_others_patient_s_never() -> None:
    """Without letters the sites that a phrase names are offered; sites that the patient cannot have never are."""
    assert find_sites("", LEXICON, near="the elbow again") == ("elbow",)
    assert "prostate" not in find_sites("p", LEXICON, patient=Patient(sex="female"))
    assert find_findings("thi", "elbow", LEXICON) == ("thickening",)
