"""Drafts for the tests of the review: made by hand, and drawn by Hypothesis."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from exam_cases import LEXICON
from hypothesis import settings
from hypothesis import strategies as st

from dictate.exam.record import (
    Coverage,
    Doubt,
    Evidence,
    MadeBy,
    Measured,
    Observation,
    Patient,
    Record,
    Source,
    Unplaced,
)
from dictate.review import Question, decide, questions
from dictate.review.decisions import Decision, Undo

LAW = settings(deadline=None, max_examples=60)
NOW = datetime(2026, 5, 4, 11, 0, tzinfo=UTC)
WHO = "R. Reed"
TALK = "left elbow thick and no pain and the weight is 26 or 2 kilos something odd and lungs clear all good today"

SIDE = Doubt(kind="side", message="The side was not said.", choices=("left", "right", "both"))
READING = Doubt(kind="reading", message="may not be what was meant", choices=("as drafted", "not meant"))
REPAIRED = Doubt(kind="repaired", message="heard as “luns”, read as “lungs”", choices=("lungs", "luns"))
UNSURE = Doubt(
    kind="heard with low probability",
    message="Heard with low probability: “thick”.",
    choices=("as heard", "sick", "something else"),
)
WHICH_VALUE = Doubt(
    kind="contradiction", message="Two values were told: 26 kg and 2 kg.", choices=("26 kg", "2 kg", "both")
)
PRESENCE = Doubt(kind="contradiction", message="Pain is told both ways.", choices=("present", "absent"))
IMPLAUSIBLE = Doubt(kind="value", message="385 Cel is implausible.", choices=("385 Cel", "38.5 Cel"))
UNIT = Doubt(kind="unit", message="26 was said without a unit.", choices=("26 kg", "26 [lb_av]"))
SCALE = Doubt(kind="scale", message="of which scale was not said", choices=("4 of 9", "4 of 5"))
STATUS = Doubt(kind="status", message="said not to be normal, without a finding", choices=("abnormal", "normal"))
NOT_OF = Doubt(
    kind="not of this patient",
    message="A female has no prostate.",
    choices=("another site", "another sex or species", "as said"),
)
UNKNOWN = Doubt(kind="of a later version", message="Is it so?", choices=("yes", "no"))
DOUBTS = (
    SIDE, READING, REPAIRED, UNSURE, WHICH_VALUE, PRESENCE, IMPLAUSIBLE, UNIT, SCALE, STATUS, NOT_OF, UNKNOWN,
)  # fmt: skip


def heard(quote: str) -> Evidence:
    start = TALK.index(quote)
    return Evidence(text=quote, char_start=start, char_end=start + len(quote))


def phrase(quote: str) -> Unplaced:
    return Unplaced(**heard(quote).model_dump(), why="sounds like an observation, and no place was found for it")


def seen(identity: str, site: str, quote: str = "left elbow thick", **said: Any) -> Observation:
    return Observation(id=identity, site=site, evidence=(heard(quote),), **{"status": "normal", **said})


def drafted(*observations: Observation, **parts: Any) -> Record:
    spoken = {o.site for o in observations}
    names = [site.site for site in LEXICON.sites]
    return Record(
        **{
            "id": "d" * 16,
            "drafted": NOW,
            "patient": Patient(name="Moss", species="dog"),
            "observations": observations,
            "coverage": Coverage(
                recorded=tuple(n for n in names if n in spoken), not_recorded=tuple(n for n in names if n not in spoken)
            ),
            "source": Source(name="exam.txt", kind="text", sha256="0" * 64),
            "made_by": MadeBy(program="dictate-exam", version="0", rule_set="test"),
            "talk": TALK,
            **parts,
        }
    )


def by_key(record: Record, key: str, number: int = 0) -> Decision:
    """The decision that one key makes on the first (or `number`th) question."""
    question: Question = questions(record)[number]
    answer = question.answer(key)
    assert answer is not None
    return decide(question, answer, by=WHO, time=NOW)


QUOTES = ("left elbow thick", "no pain", "the weight is 26 or 2 kilos", "lungs clear")


@st.composite
def drafts(draw: st.DrawFn) -> Record:
    """Drafts with up to eight observations, any doubts, and up to three unplaced phrases."""
    observations = []
    for number in range(draw(st.integers(0, 8))):
        finding = draw(st.sampled_from((None, "mass", "pain")))
        status = draw(st.sampled_from(("normal", "abnormal", "not_examined")))
        observations.append(
            Observation(
                id=f"o{number}",
                site=draw(st.sampled_from([site.site for site in LEXICON.sites])),
                side=draw(st.sampled_from((None, "left", "right"))),
                status=status,
                finding=finding,
                present=draw(st.booleans()),
                qualifiers=draw(st.sampled_from(({}, {"tooth": "104"}, {"location": "flank"}))),
                value=draw(st.sampled_from((None, Measured(number=26, unit="kg"), Measured(number=2, unit="kg")))),
                doubts=tuple(draw(st.lists(st.sampled_from(DOUBTS), max_size=3, unique=True))),
                evidence=(heard(draw(st.sampled_from(QUOTES))),),
            )
        )
    phrases = draw(st.lists(st.sampled_from(("something odd", "all good", "today")), max_size=3, unique=True))
    return drafted(*observations, unplaced=tuple(phrase(p) for p in phrases))


@st.composite
def reviews(draw: st.DrawFn) -> tuple[Record, tuple[Decision, ...]]:
    """A draft and decisions about it: answers to its questions in any order, undos of any decision among them."""
    from dictate.review import apply

    draft = draw(drafts())
    decisions: list[Decision] = []
    for number in range(draw(st.integers(0, 8))):
        if decisions and draw(st.booleans()):
            made: Decision = Undo(id=f"n{number}", by=WHO, time=NOW, of=draw(st.sampled_from(decisions)).id)
        else:
            asked = questions(apply(draft, decisions))
            if not asked:
                continue
            question = draw(st.sampled_from(asked))
            needs_nothing = ("settle", "cannot tell", "not examined", "remove", "section", "dismiss")
            answer = draw(st.sampled_from([a for a in question.answers if a.does in needs_nothing]))
            made = decide(question, answer, by=WHO, time=NOW).model_copy(update={"id": f"n{number}"})
        decisions.append(made)
    return draft, tuple(decisions)
