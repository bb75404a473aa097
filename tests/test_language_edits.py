"""Spoken corrections."""

from __future__ import annotations

import pytest
from language_cases import brief, said

from dictate.language.edits import drop, last_said, replaced, resided


@pytest.mark.parametrize(
    ("text", "statements"),
    [
        ("Left ear red. Scratch that. Right ear red.", ["ear canal right: erythema"]),
        ("Heart regular. Left ear red. Scratch that.", ["heart: normal"]),
        ("Left ear red. Sorry, right.", ["ear canal right: erythema"]),
        ("Left ear red, wait, right ear.", ["ear canal right: erythema"]),
        ("Weight 4.2 kilos. Sorry, 4.6 kilos.", ["weight: 4.6 kg"]),
        ("Temperature 38.6. Scratch that, 39.1.", ["temperature: 39.1 Cel"]),
        ("Left stifle swollen. Right hock fine. Sorry, left.", ["stifle left: swelling", "tarsus left: normal"]),
        ("Left ear red. No.", ["ear canal left: erythema"]),
        ("Left ear red. No discharge.", ["ear canal left: erythema", "ear canal left: no discharge"]),
        ("Sorry. Left ear red.", ["ear canal left: erythema"]),
    ],
)
def test_correction(text: str, statements: list[str]) -> None:
    """A correction changes the last thing said and nothing before it; a bare "no" takes nothing back."""
    assert brief(text) == statements


def test_grade_corrected() -> None:
    """A grade said better takes the place of the one before it."""
    (one,) = said("Grade two murmur. Sorry, grade three.")
    assert one.qualifiers["grade"] == "3"


def test_drop_takes_the_last_stretch_only() -> None:
    """Dropping removes all statements of the last stretch that made any, and no other."""
    talk = said("Heart regular. Left elbow is warm and painful.")
    assert drop(talk, 2) == talk[:1]
    assert drop((), 0) == ()


def test_a_correction_does_not_reach_far_back() -> None:
    """What was said many stretches ago is not what is corrected."""
    talk = said("Left ear red.")
    assert last_said(talk, 1) == talk
    assert last_said(talk, 9) == ()
    assert resided(talk, "right", 9) == talk


def test_other_things_said_replace_nothing() -> None:
    """A better statement of another site leaves what was said."""
    first, second = said("Left ear red. Heart regular.")
    assert replaced((first,), (second,), 1) == (first, second)
