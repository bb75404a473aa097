"""What each answer does to the record."""

from __future__ import annotations

import pytest
from exam_cases import LEXICON
from review_cases import (
    IMPLAUSIBLE,
    NOT_OF,
    NOW,
    PRESENCE,
    READING,
    REPAIRED,
    SCALE,
    SIDE,
    STATUS,
    UNIT,
    UNSURE,
    WHICH_VALUE,
    WHO,
    by_key,
    drafted,
    phrase,
    seen,
)

from dictate.exam.phrases import told
from dictate.exam.record import Doubt, Measured, Observation, Patient, Record
from dictate.review import (
    Add,
    EditPatient,
    EditSection,
    NotExamined,
    OfferAnswered,
    Place,
    Remove,
    Replace,
    apply,
    edit_patient,
    observation,
    questions,
    replay,
    typed,
)


def after(record: Record, key: str) -> tuple[Observation, ...]:
    return apply(record, [by_key(record, key)]).observations


@pytest.mark.parametrize(("key", "sides"), [("1", ["left"]), ("2", ["right"]), ("3", ["left", "right"])])
def test_side_is_settled(key: str, sides: list[str]) -> None:
    """One key gives the side that was left open; "both" gives one observation a side."""
    found = after(drafted(seen("a", "elbow", doubts=(SIDE,))), key)
    assert [o.side for o in found] == sides
    assert not any(o.doubts for o in found)


def test_side_that_cannot_be_told_is_printed() -> None:
    """A side that nobody can tell stays open in the record, which says so in words."""
    (elbow,) = after(drafted(seen("a", "elbow", status="abnormal", finding="mass", doubts=(SIDE,))), "t")
    assert elbow.side is None and told(elbow) == "mass, side not stated"


@pytest.mark.parametrize(
    ("number", "doubt", "key", "value"),
    [
        (Measured(number=385, unit="Cel"), IMPLAUSIBLE, "2", Measured(number=38.5, unit="Cel")),
        (Measured(number=26, unit="kg"), UNIT, "1", Measured(number=26, unit="kg")),
        (Measured(number=26, unit="kg"), UNIT, "2", Measured(number=26, unit="[lb_av]")),
        (Measured(number=26, unit="kg"), UNIT, "t", Measured(number=26)),
    ],
)
def test_value_is_settled(number: Measured, doubt: Doubt, key: str, value: Measured) -> None:
    """The chosen value stands in the record; a unit that cannot be told is none."""
    (one,) = after(drafted(seen("a", "weight", value=number, doubts=(doubt,))), key)
    assert one.value == value and not one.doubts


def test_value_that_cannot_be_told_is_no_number() -> None:
    """A value nobody is sure of is kept in words, so that no chart or other program takes it for a measurement."""
    (one,) = after(
        drafted(seen("a", "temperature", value=Measured(number=385, unit="Cel"), doubts=(IMPLAUSIBLE,))), "t"
    )
    assert one.value is None and one.status == "not_examined"
    assert one.qualifiers["reason"] == "value not certain: 385 °C"


def test_scale_and_status_are_settled() -> None:
    """A score gets its scale; "not normal" becomes abnormal or normal."""
    (score,) = after(drafted(seen("a", "weight", value=Measured(number=4, unit="{score}"), doubts=(SCALE,))), "2")
    assert score.qualifiers["scale"] == 5
    assert [after(drafted(seen("a", "gait", doubts=(STATUS,))), key)[0].status for key in "12"] == [
        "abnormal",
        "normal",
    ]


@pytest.mark.parametrize(("key", "numbers"), [("1", [26]), ("2", [2]), ("3", [26, 2])])
def test_of_two_values_the_chosen_one_stays(key: str, numbers: list[float]) -> None:
    """Two values that contradict each other are one question; what was not chosen leaves the record."""
    record = drafted(
        seen("a", "weight", value=Measured(number=26, unit="kg"), doubts=(WHICH_VALUE,)),
        seen("b", "weight", value=Measured(number=2, unit="kg"), doubts=(WHICH_VALUE,)),
    )
    assert len(questions(record)) == 1
    assert [o.value.number for o in after(record, key) if o.value] == numbers


def test_which_of_two_values_cannot_be_told() -> None:
    """Where nobody can tell which of two values holds, the record has neither as a number, and says both once."""
    record = drafted(
        seen("a", "weight", value=Measured(number=26, unit="kg"), doubts=(WHICH_VALUE,)),
        seen("b", "weight", value=Measured(number=2, unit="kg"), doubts=(WHICH_VALUE,)),
    )
    (one,) = after(record, "t")
    assert one.value is None and one.qualifiers["reason"] == "value not certain: 26 kg, 2 kg"


def test_presence_is_settled() -> None:
    """Of a finding told as present and absent the chosen one stays; where it is gone, the other is turned."""
    there = seen("a", "elbow", status="abnormal", finding="mass", doubts=(PRESENCE,))
    absent = seen("b", "elbow", finding="mass", present=False, doubts=(PRESENCE,))
    assert [o.id for o in after(drafted(there, absent), "2")] == ["b"]
    (turned,) = after(drafted(there), "2")
    assert (turned.status, turned.present) == ("normal", False)


def test_contradictions_of_two_teeth_are_two_questions() -> None:
    """The same contradiction told of two teeth is asked for each tooth: one answer never settles the other's."""

    def tooth(identity: str, number: str, *, present: bool) -> Observation:
        status = "abnormal" if present else "normal"
        said = {"status": status, "finding": "mass", "present": present, "qualifiers": {"tooth": number}}
        return seen(identity, "teeth", doubts=(PRESENCE,), **said)

    record = drafted(*(tooth(f"{n}{p}", n, present=p) for n in ("104", "208") for p in (True, False)))
    assert [[o.id for o in q.observations] for q in questions(record)] == [
        ["104True", "104False"],
        ["208True", "208False"],
    ]
    assert [o.id for o in after(record, "1")] == ["104True", "208True", "208False"]


def test_contradiction_can_be_kept() -> None:
    """Where neither choice keeps both statements, one key does: both stand, and nothing is asked any more."""
    there = seen("a", "elbow", status="abnormal", finding="mass", doubts=(PRESENCE,))
    absent = seen("b", "elbow", finding="mass", present=False, doubts=(PRESENCE,))
    kept = after(drafted(there, absent), "k")
    assert [(o.id, o.present, o.doubts) for o in kept] == [("a", True, ()), ("b", False, ())]


@pytest.mark.parametrize("doubt", [READING, REPAIRED, UNSURE, NOT_OF])
def test_draft_can_be_kept(doubt: Doubt) -> None:
    """Every doubt about what was meant has a key that leaves the observation as drafted, without the doubt."""
    one = seen("a", "lung", doubts=(doubt,))
    key = "3" if doubt is NOT_OF else "1"
    assert after(drafted(one), key) == (one.model_copy(update={"doubts": ()}),)


def test_not_meant_is_taken_out_and_its_site_is_not_recorded() -> None:
    """A statement that was not meant leaves the record, and nobody spoke of its site any more."""
    record = apply(draft := drafted(seen("a", "lung", doubts=(READING,))), [by_key(draft, "2")])
    assert record.observations == () and "lung" in record.coverage.not_recorded


def test_not_examined_leaves_nothing_of_what_was_said() -> None:
    """A site that turns out not to have been examined keeps its side and the reason, and no finding or value."""
    one = seen("a", "elbow", side="left", status="abnormal", finding="mass", qualifiers={"severity": "mild"})
    decision = NotExamined(by=WHO, time=NOW, observations=("a",), reason="would not hold still")
    (changed,) = apply(drafted(one), [decision]).observations
    assert told(changed) == "could not be examined, reason would not hold still"
    assert (changed.side, changed.finding, changed.evidence) == ("left", None, one.evidence)


def test_one_word_is_one_question() -> None:
    """The doubts of several observations over the same words are one question, which can be asked for each apart."""
    record = drafted(*(seen(i, site, doubts=(REPAIRED,)) for i, site in (("a", "lung"), ("b", "elbow"))))
    (question,) = questions(record)
    assert [o.id for o in question.observations] == ["a", "b"]
    assert question.answer("o") is not None
    assert not any(o.doubts for o in after(record, "1"))


def test_most_weighty_comes_first() -> None:
    """Values and abnormal findings are asked about before what was drafted as normal, phrases after all doubts."""
    record = drafted(
        seen("a", "lung", "lungs clear", doubts=(READING,)),
        seen("b", "elbow", status="abnormal", finding="mass", doubts=(READING,)),
        seen("c", "weight", "no pain", value=Measured(number=26, unit="kg"), doubts=(UNIT,)),
        unplaced=(phrase("something odd"),),
    )
    assert [q.observations[0].id if q.observations else q.title for q in questions(record)] == [
        "c", "b", "a", "“something odd”",
    ]  # fmt: skip


def test_dismissed_phrase_is_kept() -> None:
    """A phrase that was looked at and dismissed stays in the record, among the dismissed."""
    draft = drafted(unplaced=(phrase("something odd"),))
    record = apply(draft, [by_key(draft, "d")])
    assert record.unplaced == () and record.dismissed == draft.unplaced


def test_phrase_is_placed_or_kept_in_a_section() -> None:
    """A phrase becomes an observation with its words as evidence, or is kept word for word in a section."""
    draft = drafted(unplaced=(phrase("something odd"), phrase("today")))
    one = observation("skin", by=WHO, status="abnormal", finding="mass", evidence=(draft.unplaced[0],))
    place = Place(by=WHO, time=NOW, phrase=draft.unplaced[0], observations=(one,))
    record = apply(draft, [place, by_key(draft, "1", number=1)])
    assert record.observations[0].evidence[0].text == "something odd" and "skin" in record.coverage.recorded
    assert [e.text for e in record.other.history] == ["today"] and record.unplaced == ()


def test_correction_stands_in_place() -> None:
    """A corrected observation stands where the old one stood, and its doubts are gone with it."""
    draft = drafted(seen("a", "eye"), seen("b", "lung", doubts=(UNSURE,)), seen("c", "skin"))
    better = observation("heart rate", by=WHO, words="heart rate fine")
    record = apply(draft, [Replace(by=WHO, time=NOW, observations=("b",), becomes=(better,))])
    assert [o.site for o in record.observations] == ["eye", "heart rate", "skin"]
    assert record.observations[1].evidence[-1].by == WHO


def test_decision_about_what_is_gone_is_named() -> None:
    """Two reviewers at once: a decision about an observation that the other took out is named as idle, not lost."""
    draft = drafted(seen("a", "lung", doubts=(READING,)))
    first, second = by_key(draft, "n"), by_key(draft, "1")
    after_both = replay(draft, [first, second])
    assert after_both.idle == (second.id,) and after_both.record.observations == ()


def test_patient_is_edited_with_its_form() -> None:
    """Another sex brings other sites onto the form; what was recorded stays."""
    draft = drafted(seen("a", "elbow"))
    decision = edit_patient(Patient(name="Moss", species="dog", sex="female"), LEXICON, by=WHO, time=NOW)
    record = apply(draft, [decision])
    assert record.patient.sex == "female"
    assert "prostate" not in record.coverage.not_recorded and "vulva" in record.coverage.not_recorded
    assert isinstance(decision, EditPatient) and record.coverage.recorded == ("elbow",)


def test_section_is_edited() -> None:
    """Typed words stand in a section under the name of who typed them."""
    record = apply(drafted(), [EditSection(by=WHO, time=NOW, section="plan", parts=(typed("  rest   a week ", WHO),))])
    assert [(e.text, e.by) for e in record.other.plan] == [("rest a week", WHO)]


def test_answered_offer_changes_no_record() -> None:
    """Taking an offered word into the lexicon is no decision about the record."""
    draft = drafted(seen("a", "lung"))
    assert apply(draft, [OfferAnswered(by=WHO, time=NOW, heard="luns", meant="lungs", taken=True)]) == draft


def test_changed_signed_record_is_unsigned_again() -> None:
    """A decision on a signed record takes its signature away until the amendment is signed."""
    from dictate.exam.record import Amends
    from dictate.review import is_signed, sign

    signed = sign(drafted(seen("a", "lung")), by=WHO, role="signer", time=NOW)
    changed = apply(signed, [Remove(by=WHO, time=NOW, observations=("a",))])
    assert (changed.status, changed.signature) == ("preliminary", None)
    assert signed.signature is not None
    amended = sign(changed, by=WHO, role="signer", time=NOW, amends=Amends(over=signed.signature.over, reason="slip"))
    assert amended.status == "amended" and is_signed(amended) and is_signed(signed)


def test_same_new_observation_twice_gets_its_own_id() -> None:
    """An observation entered with an id that is taken gets another; no id stands twice in a record."""
    one = seen("a", "lung")
    record = apply(drafted(one), [Add(by=WHO, time=NOW, observation=one)])
    assert [o.id for o in record.observations] == ["a", "a-2"]
