"""Negation with its scope, and hedges."""

from __future__ import annotations

import pytest
from language_cases import brief, polarity_of, said


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("No heat", "heat"),
        ("no heat, pain or swelling", "heat"),
        ("no heat, pain or swelling", "pain"),
        ("no heat, pain or swelling", "swelling"),
        ("no redness or discharge", "discharge"),
        ("no redness and no discharge", "discharge"),
        ("no redness, no heat, no discharge", "discharge"),
        ("pain is absent", "pain"),
        ("swelling, absent", "swelling"),
        ("murmur not heard", "murmur"),
        ("never any pain", "pain"),
        ("No heat (or so), pain or swelling", "swelling"),
    ],
)
def test_absent(text: str, words: str) -> None:
    """A word of denial reaches what stands behind it, through a list and past a bracket, or what stands before it."""
    assert polarity_of(text, words).negated


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("no pain but swelling", "swelling"),
        ("no pain, swelling present", "swelling"),
        ("no murmur; thrill felt", "thrill"),
        ("no murmur. Thrill felt", "Thrill"),
        ("(no pain) swelling", "swelling"),
        ("swelling of the elbow", "swelling"),
    ],
)
def test_scope_ends(text: str, words: str) -> None:
    """A turn, a new statement, an end mark and a closed bracket end what a denial reaches."""
    assert not polarity_of(text, words).negated


@pytest.mark.parametrize("text", ["not without pain", "I can't say there isn't pain", "it was never not pain"])
def test_double_negation_is_presence(text: str) -> None:
    """Two denials of one thing say that it is there."""
    found = polarity_of(text, "pain")
    assert len(found.negations) == 2
    assert not found.negated


@pytest.mark.parametrize(
    "text",
    [
        "no doubt a mass",
        "there is no doubt he has a mass",
        "not only a mass",
        "no change in the mass",
        "nothing but mass",
    ],
)
def test_words_that_only_look_like_denial(text: str) -> None:
    """Phrases with a word of denial that deny nothing leave the finding present."""
    assert not polarity_of(text, "mass").negated


def test_denial_of_each_item_of_a_list_counts_once() -> None:
    """ "No … and no …" is a list of absences, not a double negation."""
    assert brief("no discharge and no redness in the left eye") == ["eye left: no erythema"]


def test_list_before_its_place_is_absent_throughout() -> None:
    """Every item of a denied list is absent though the place comes last."""
    assert brief("No heat, pain or swelling in the left carpus.") == [
        "carpus left: no heat",
        "carpus left: no pain",
        "carpus left: no swelling",
    ]


def test_first_item_of_a_list_before_its_place_is_kept() -> None:
    """The first absence of a list is said of the place that ends the list, whatever place was spoken of before."""
    assert "carpus left: no heat" in brief("No heat, pain or swelling in the left carpus.")
    assert brief("Right elbow fine. No heat, pain or swelling in the left carpus.")[1:] == [
        "carpus left: no heat",
        "carpus left: no pain",
        "carpus left: no swelling",
    ]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Neither pain nor swelling in the left stifle.", ["stifle left: no pain", "stifle left: no swelling"]),
        ("Neither eye is red.", ["eye both: no erythema"]),
    ],
)
def test_neither(text: str, says: list[str]) -> None:
    """ "Neither … nor …" says two absences; before a place the same word tells both its sides."""
    assert brief(text) == says


def test_absence_does_not_cross_to_the_next_place() -> None:
    """A denial before one place says nothing of the place after it."""
    assert brief("No pain in the left stifle, right stifle swollen.") == [
        "stifle left: no pain",
        "stifle right: swelling",
    ]


def test_not_normal_is_abnormal_and_asked_about() -> None:
    """A denied normal is an abnormality without a finding, with a doubt."""
    (one,) = said("The left stifle is not normal.")
    assert (one.status, one.finding, [d.kind for d in one.doubts]) == ("abnormal", None, ["status"])
