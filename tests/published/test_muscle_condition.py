"""Muscle condition: what was said of it, and no degree that nobody said.

Source: the four degrees of the muscle condition score (normal, mild, moderate and severe loss), and the bones over
which muscle is felt: AAHA Nutritional Assessment Guidelines, "BCS and MCS" (aaha.org), read; WSAVA Global Nutrition
Committee, muscle condition charts: from memory. The sentences here paraphrase them.
"""

from collections.abc import Callable
from itertools import product

import pytest

from dictate.exam.record import Record

WAYS = (
    "Muscle condition: {} muscle loss.",
    "{} muscle loss.",
    "Muscle condition score, {} muscle wasting.",
    "MCS {} muscle loss over the spine and shoulder blades.",
    "There is {} muscle wasting over the back.",
)
DESCRIBED = (
    "Shoulder blades and spine are well covered, temples full.",
    "The spine feels a little sharper than it should.",
    "I can feel the shoulder blades and the ridge of the spine easily.",
    "Bones of skull, spine and pelvis stand out, hardly anything over them.",
)


def degrees(record: Record) -> list[tuple[str | None, object]]:
    return [(o.finding, o.qualifiers.get("severity")) for o in record.observations if o.site == "muscle condition"]


@pytest.mark.parametrize(
    ("degree", "way", "species"), list(product(("mild", "moderate", "severe"), WAYS, ("dog", "cat")))
)
def test_a_spoken_degree_is_kept(degree: str, way: str, species: str, drafted: Callable[[str], Record]) -> None:
    """Mild, moderate and severe loss are kept as they were said."""
    said = way.format(degree)
    record = drafted(f"This is Ida, a {species}. Heart rate 140. {said[0].upper()}{said[1:]} Ears clean.")
    assert ("muscle loss", degree) in degrees(record)


@pytest.mark.parametrize(
    "said", ["Muscle condition normal.", "Muscle condition score normal.", "Normal muscle condition."]
)
def test_normal_muscle_is_normal(said: str, drafted: Callable[[str], Record]) -> None:
    """Muscle condition that was said to be normal is normal."""
    assert degrees(drafted(f"This is Ida, a dog. Heart rate 100. {said} Ears clean.")) == [(None, None)]


@pytest.mark.parametrize("said", DESCRIBED)
def test_a_description_alone_has_no_degree(said: str, drafted: Callable[[str], Record]) -> None:
    """No degree of muscle loss is worked out of a description."""
    record = drafted(f"This is Ida, a dog. Heart rate 100. {said} Ears clean.")
    assert [degree for _, degree in degrees(record) if degree] == []
