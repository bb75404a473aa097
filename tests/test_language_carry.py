"""Carrying what was said of one side to the other."""

from __future__ import annotations

import pytest
from language_cases import KNOW, brief, said

from dictate.language.carry import CARRIED, repeat, with_exceptions

FIRST = ["shoulder left: normal", "elbow left: thickening", "carpus left: normal"]
TALK = "Left shoulder normal, left elbow thickened, left carpus fine. "


@pytest.mark.parametrize(
    "words", ["Same on the right.", "Ditto on the right.", "The right is the same.", "Right likewise."]
)
def test_whole_first_side_is_repeated(words: str) -> None:
    """Every statement of the first side since it was taken up is repeated with the side changed."""
    assert brief(TALK + words) == FIRST + [s.replace("left", "right") for s in FIRST]


def test_site_named_limits_what_is_carried() -> None:
    """Where a site is named with the words that carry, only its statements are repeated."""
    assert brief(TALK + "The right elbow is the same.") == [*FIRST, "elbow right: thickening"]


@pytest.mark.parametrize(
    ("words", "second"),
    [
        (
            "Same on the right, except the elbow is fine.",
            ["shoulder right: normal", "carpus right: normal", "elbow right: normal"],
        ),
        (
            "Same on the right, but the carpus is swollen.",
            ["shoulder right: normal", "elbow right: thickening", "carpus right: swelling"],
        ),
    ],
)
def test_exceptions_replace_what_they_contradict(words: str, second: list[str]) -> None:
    """An exception takes the place of the carried statement of its site and leaves the others."""
    assert brief(TALK + words) == FIRST + second


def test_another_part_of_the_body_ends_what_is_carried() -> None:
    """What was said of the other side before the talk turned to another part of the body is not repeated."""
    statements = brief("Left stifle swollen. Left ear red. Same on the right.")
    assert statements == ["stifle left: swelling", "ear canal left: erythema", "ear canal right: erythema"]


@pytest.mark.parametrize("text", ["Same on the right.", "Heart regular. Same on the right."])
def test_nothing_to_carry(text: str) -> None:
    """Without statements of the other side nothing is repeated."""
    assert [s for s in said(text) if s.rule == CARRIED] == []


def test_repeating_twice_comes_back() -> None:
    """Carried to the other side and back, the statements are the same but for their evidence and rule."""
    first = said(TALK)
    there = repeat(first, "right", stretch=9, first=0, last=1)
    back = repeat(there, "left", stretch=9, first=0, last=1)
    assert [(s.site, s.side, s.status, s.finding, s.qualifiers) for s in back] == [
        (s.site, s.side, s.status, s.finding, s.qualifiers) for s in first
    ]


def test_no_exceptions_change_nothing() -> None:
    """Without exceptions all is carried."""
    first = said(TALK)
    assert with_exceptions(first, (), KNOW) == first


@pytest.mark.parametrize(
    "text",
    ["Left ear clean, no smell. Other ear, same story.", "Left ear clean, no smell. Right ear, ditto."],
)
def test_words_of_sameness_behind_a_place(text: str) -> None:
    """A place named first and words of sameness behind a mark repeat what was said of the other side."""
    assert brief(text)[2:] == ["ear canal right: normal", "ear canal right: no odor"]


def test_words_of_sameness_alone_repeat_nothing() -> None:
    """Without a side named just before them, words of sameness say nothing of a side."""
    assert brief("Left ear clean. Likewise.") == brief("Left ear clean.")
