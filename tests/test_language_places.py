"""Which sites are spoken of, and on which side."""

from __future__ import annotations

import pytest
from language_cases import KNOW, brief, said

from dictate.language.places import told_side
from dictate.language.values import State


@pytest.mark.parametrize(
    ("text", "statements"),
    [
        ("The left ear is red, the right ear is clean.", ["ear canal left: erythema", "ear canal right: normal"]),
        ("Both corneas are clear.", ["cornea both: normal"]),
        ("Corneas clear.", ["cornea both: normal"]),
        ("Cornea clear OU.", ["cornea both: normal"]),
        ("Both ears red.", ["ear canal both: erythema"]),
        ("Left ear clean. The other ear is waxy.", ["ear canal left: normal", "ear canal right: debris"]),
        ("Left ear is waxy. The other one is clean.", ["ear canal left: debris", "ear canal right: normal"]),
        ("Left stifle swollen. Same side, the hock is painful.", ["stifle left: swelling", "tarsus left: pain"]),
        ("Left eye, cornea clear, lens clear.", ["cornea left: normal", "lens left: normal"]),
        ("Left hind leg, stifle swollen, hock thickened.", ["stifle left: swelling", "tarsus left: thickening"]),
        ("Left hind, stifle swollen, hock thickened.", ["stifle left: swelling", "tarsus left: thickening"]),
        ("Left ear red, hip normal.", ["ear canal left: erythema", "hip: normal"]),
        ("All four paws clean.", ["front paw both: normal", "hind paw both: normal"]),
        ("Front paws clean.", ["front paw both: normal"]),
        ("Left carpus, elbow and shoulder are normal.", [f"{s} left: normal" for s in ("carpus", "elbow", "shoulder")]),
    ],
)
def test_sides(text: str, statements: list[str]) -> None:
    """A side is told by its word, by a plural, by "other" and "same", or by the limb or eye that is spoken of."""
    assert brief(text) == statements


def test_open_side_is_asked_about() -> None:
    """A paired site named once without a side has none, and a doubt with the three choices."""
    (one,) = said("The cornea is clear.")
    assert one.side is None
    assert [(d.kind, d.choices) for d in one.doubts] == [("side", ("left", "right", "both"))]


def test_other_limb_turns_the_side_once() -> None:
    """ "The other hind" is the opposite of the side before it, and what follows lies on that side."""
    assert brief("Left hind, stifle swollen. Other hind, stifle normal.") == [
        "stifle left: swelling",
        "stifle right: normal",
    ]


def test_side_of_an_unpaired_site_is_kept_as_a_qualifier() -> None:
    """A side told of a site that has none is not lost."""
    (one,) = said("There is a lump on the left flank.")
    assert (one.site, one.side, one.qualifiers["side"]) == ("abdomen", None, "left")


def test_two_different_sides_are_both() -> None:
    """Side words of both sides together are both."""
    assert brief("Left and right ear clean.") == ["ear canal both: normal"]


def test_other_without_a_side_in_force_tells_none() -> None:
    """ "The other" is no side where none was told before."""
    from language_cases import marked

    sides = [t for t in marked("the other ear").terms if t.kind == "sides"]
    assert sides
    assert told_side(sides, State()) is None
    assert told_side(sides, State(side="left")) == "right"


def test_parts_lie_in_what_holds_them() -> None:
    """Every site lies within itself, and being related goes both ways."""
    sites = list(KNOW.region)
    assert all(KNOW.within(s, s) for s in sites)
    assert all(KNOW.related(a, [b]) == KNOW.related(b, [a]) for a in sites[::5] for b in sites[::7])
