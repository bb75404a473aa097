"""Questions in the room, and what is said to them."""

from __future__ import annotations

import pytest
from live_cases import doubtful, record

from dictate.exam.record import Measured, Record
from dictate.lexicon import load
from dictate.live.events import event_now
from dictate.live.questions import Answered, Asking, Unclear, answer_heard, answer_table, ask, leave
from dictate.live.replay import question_told, replayed
from dictate.review import Undo, apply, questions
from dictate.web.views import Line, Sounds, regions

TABLE = answer_table(load())
ELBOW = doubtful("elbow")
STIFLE = doubtful("stifle", start=9.0)
TEMPERATURE = doubtful(
    "temperature",
    kind="value",
    choices=("384 Cel", "38.4 Cel"),
    status="normal",
    finding=None,
    value=Measured(number=384, unit="Cel"),
)


def answers(text: str, *observations: object) -> Answered | Unclear | None:
    return answer_heard(text, ask(Asking(), record(*observations)).shown, TABLE)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "choice"),
    [
        ("Left.", "left"),
        ("the right one", "right"),
        ("Both sides.", "both"),
        ("second one", "right"),
        ("Um, left.", "left"),
    ],
)
def test_a_whole_utterance_settles_the_only_question(text: str, choice: str) -> None:
    """The side, however it is said, or the place of the choice."""
    found = answers(text, ELBOW)
    assert isinstance(found, Answered)
    assert (found.does, found.choice) == ("settle", choice)


@pytest.mark.parametrize("text", ["Thirty-eight point four.", "38.4", "38.4 degrees", "second one"])
def test_a_value_is_answered_by_a_value(text: str) -> None:
    """The number alone, with its unit or by its place."""
    found = answers(text, TEMPERATURE)
    assert isinstance(found, Answered)
    assert found.choice == "38.4 Cel"


@pytest.mark.parametrize(
    "text",
    [
        "Left elbow fine.",
        "left elbow",
        "The left ear is clean",
        "Right, next.",
        "No.",
        "Thirty-eight point four kilos",
        "left right",
        "Okay.",
    ],
)
def test_ordinary_speech_answers_nothing(text: str) -> None:
    """What is more than an answer, or none, closes no question."""
    assert answers(text, ELBOW, TEMPERATURE) is None


def test_an_answer_that_fits_two_questions_settles_neither() -> None:
    """Two sides are asked for: a bare side is unclear, one with the number is not."""
    found = answers("left", ELBOW, STIFLE)
    assert isinstance(found, Unclear)
    assert found.numbers == (1, 2)
    for text in ("Number two, left.", "question 2 left", "number two the left one"):
        found = answers(text, ELBOW, STIFLE)
        assert isinstance(found, Answered)
        assert (found.asked.number, found.choice) == (2, "left")
    assert answers("Number nine, left.", ELBOW, STIFLE) is None


def test_numbers_stay_with_their_questions() -> None:
    """A question keeps its number while others come and go, and no number is given twice."""
    first = ask(Asking(), record(ELBOW, STIFLE))
    by_site = {a.question.observations[0].site: a.number for a in first.shown}
    second = ask(first, record(STIFLE, TEMPERATURE))
    assert {a.question.observations[0].site: a.number for a in second.shown} == {
        "stifle": by_site["stifle"],
        "temperature": 3,
    }


def test_at_most_three_are_shown_and_one_that_is_left_makes_room() -> None:
    """Three stand in large type; a question that is left for the review gives its place to the next."""
    sites = [doubtful(s, start=float(i * 5)) for i, s in enumerate(("elbow", "stifle", "hip", "carpus"))]
    asking = ask(Asking(), record(*sites))
    assert (len(asking.shown), asking.waiting) == (3, 1)
    assert len(ask(Asking(), record(*sites), most=2).shown) == 2
    after = ask(leave(asking, asking.shown[0].key), record(*sites))
    assert {a.number for a in after.shown} == {2, 3, 4}


def lines(made: Record) -> list[Line]:
    """The lines of the page on which the whole record stands."""
    return [line for region in regions(made, load(), Sounds(1, False)) for line in region.lines]


def spoken(choice: str = "left", does: str = "settle", at: float = 20.0) -> object:
    asked = question_told(questions(record(ELBOW))[0])
    return event_now("answer", at, at + 1, number=1, question=asked, does=does, choice=choice)


def test_an_answer_is_replayed_over_the_draft_marked_as_spoken_and_can_be_undone() -> None:
    """The draft keeps its doubt; the review finds it settled, says that it was answered aloud, and can undo that."""
    made = replayed(record(ELBOW, STIFLE), (spoken(),))  # type: ignore[arg-type]
    assert made.observations[0].doubts
    settled = apply(made, ())
    assert settled.observations[0].side == "left" and not settled.observations[0].doubts
    assert "aloud" in settled.review[0].by
    assert [q.observations[0].site for q in questions(settled)] == ["stifle"]
    from dictate.review.spoken import spoken_decisions

    (decision,) = spoken_decisions(made)
    assert [line.aloud for line in lines(settled)] == [True, False]
    undo = Undo(by="Dana Reed", time=decision.time, of=decision.id)
    assert not any(line.aloud for line in lines(apply(made, (undo,))))
    assert apply(made, (undo,)).observations == made.observations
    assert replayed(record(ELBOW, STIFLE), (spoken(),)) == made  # type: ignore[arg-type]


def test_an_answer_that_fits_no_doubt_of_the_draft_is_told() -> None:
    """Where the final draft has no such doubt, nothing is changed and the reviewer reads what was answered."""
    made = replayed(record(STIFLE), (spoken(),))  # type: ignore[arg-type]
    assert made.observations == (STIFLE,)
    assert made.spoken == ()
    assert made.sound is not None and "left" in made.sound.warnings[-1]


def test_a_pause_and_the_patient_of_the_day_list_stand_in_the_draft() -> None:
    """When it began, who is examined, and that nothing was recorded for a while."""
    begun = event_now("begun", 0.0, patient={"name": "Bramble", "species": "dog"}, reason="yearly check")
    made = replayed(record(ELBOW), (begun, event_now("paused", 30.0), event_now("resumed", 30.0)))
    assert (made.patient.name, made.patient.species, made.encounter.reason) == ("Bramble", "dog", "yearly check")
    assert made.encounter.time == begun.time
    assert made.sound is not None and "nothing was recorded" in made.sound.warnings[0]
