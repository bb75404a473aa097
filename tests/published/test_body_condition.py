"""Body condition score: a value only where the number was spoken.

Source: the nine descriptions of the scale of Laflamme, "Development and validation of a body condition score system
for dogs", Canine Practice 22(4), 1997, read as reprinted in charts that name it; the WSAVA Global Nutrition
Committee's charts have the same nine points (from memory). The sentences here paraphrase the levels. That scales of
five points are in use too: AAHA Nutritional Assessment Guidelines, "BCS and MCS" (aaha.org), read.
"""

from collections.abc import Callable

import pytest
from num2words import num2words

from dictate.exam.record import Record

LEVELS = {
    1: "Ribs, spine and pelvis stand out from across the room, no fat anywhere, muscle clearly lost.",
    2: "Ribs, spine and pelvis are easy to see, I feel no fat, a little muscle is lost.",
    3: "Ribs are easy to feel with no fat on them, tops of the lumbar vertebrae show, waist and tuck obvious.",
    4: "Ribs easy to feel under very little fat, waist easy to see from above, belly tucked up.",
    5: "Ribs felt without too much fat, waist behind the ribs from above, belly tucked from the side.",
    6: "Ribs felt under slightly too much fat, a waist is there but not striking, some tuck.",
    7: "Ribs hard to feel under a heavy layer, fat over the loin and tail base, hardly any waist.",
    8: "Ribs cannot be felt under very heavy fat, deposits over the loin, no waist, no tuck.",
    9: "Massive fat over chest, spine and tail base, on neck and limbs too, the belly bulges.",
}
WAYS = ("Body condition {} out of nine.", "BCS {} of nine.", "BCS {}/9.", "Condition score {} over nine.")


def scores(record: Record) -> list[tuple[float, str | None, str | None]]:
    return [
        (o.value.number, o.value.unit, o.qualifiers.get("scale"))
        for o in record.observations
        if o.site == "body condition score" and o.value
    ]


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("way", WAYS)
def test_a_spoken_score_is_the_value(level: int, way: str, drafted: Callable[[str], Record]) -> None:
    """The spoken number is the score, whatever description stands beside it."""
    said = way.format(level if "/" in way else num2words(level))
    record = drafted(f"This is Ida, a dog. {LEVELS[level]} {said} Ears clean.")
    assert scores(record) == [(level, "{score}", "9")]


@pytest.mark.parametrize("level", LEVELS)
def test_a_description_alone_is_no_score(level: int, drafted: Callable[[str], Record]) -> None:
    """No score is worked out of a description."""
    assert scores(drafted(f"This is Ida, a dog. {LEVELS[level]} Ears clean.")) == []


@pytest.mark.parametrize("species", ["dog", "cat"])
@pytest.mark.parametrize("level", range(1, 6))
@pytest.mark.parametrize("way", ["Body condition {} out of five.", "BCS {} of five.", "Condition score {} over five."])
def test_the_five_point_scale_stays_apart(way: str, level: int, species: str, drafted: Callable[[str], Record]) -> None:
    """A score of five keeps its own scale and is not turned into one of nine."""
    record = drafted(f"This is Ida, a {species}. {way.format(num2words(level))} Ears clean.")
    assert scores(record) == [(level, "{score}", "5")]


@pytest.mark.parametrize("level", range(1, 6))
def test_a_score_without_a_scale_is_asked_about(level: int, drafted: Callable[[str], Record]) -> None:
    """A score that may be of nine or of five is kept without a scale, and the scale is asked for."""
    record = drafted(f"This is Ida, a dog. Body condition score {num2words(level)}. Ears clean.")
    assert scores(record) == [(level, "{score}", None)]
    assert "scale" in [d.kind for o in record.observations for d in o.doubts]
