"""Grades and their scales, in every spoken form, through the main job.

Sources: murmurs I/VI to VI/VI: Veterinary Cardiovascular Society, "How to grade heart murmurs for breed screening"
(vet-cardio.co.uk), read. Patellar luxation 1 to 4: "Canine Lameness", box 19.2, p. 331, read. Lameness: "Canine
Lameness", p. 12, read: a scale of five comes from horses, and no scale is validated in dogs, so each keeps its own.
Furcation and mobility stages 1 to 3: American Veterinary Dental College, nomenclature (avdc.org), read as quoted at
brainscape.com. Gingival and plaque index 0 to 3: Loe and Silness 1963, Silness and Loe 1964, read in a table at
toothhorizons.com. Stages of a cataract (incipient, immature, mature, hypermature or Morgagnian): Wikipedia, "Cataracts
(canine)", and Veterinary Ophthalmic Consulting, "Hypermature cataracts", read.
"""

from collections.abc import Callable
from itertools import product

import pytest
from num2words import num2words

from dictate.exam.record import Record

ROMAN = ("", "I", "II", "III", "IV", "V", "VI")
MURMUR_WAYS = (
    "Systolic murmur, grade {word} out of six, left apex.",
    "There's a murmur, {word} out of six.",
    "Murmur {word} over six at the left base.",
    "Heart murmur grade {word} of six.",
    "Murmur grade {number}/6, left apex.",
    "Grade {roman}/VI systolic murmur.",
    "Murmur grade {roman} out of VI.",
    "A grade {word} out of six systolic murmur, point of maximal intensity left apex.",
    "Murmur, {number} out of 6.",
    "{number}/6 murmur on the left.",
    "Heart has a {word} out of six murmur.",
    "Murmur is a {word} out of six today.",
)
LUXATION_WAYS = (
    "Left patella luxates medially, grade {word}.",
    "Left patella luxates medially, grade {number}.",
    "Left patella luxates medially, grade {roman}.",
    "Left patella luxates medially, a grade {word}.",
    "Grade {word} medial patellar luxation on the left.",
    "Left stifle, patellar luxation grade {number}.",
    "Left patella, grade {word} luxation.",
)
OF_FOUR = ("Left patella luxates medially, grade {word} out of four.", "Left patellar luxation, {number}/4.")
TOOTH_WAYS = (
    ("208 has calculus, grade {}", "dental calculus"),
    ("calculus grade {} on 208", "dental calculus"),
    ("208, tartar grade {}", "dental calculus"),
    ("208, gingivitis grade {}", "gingivitis"),
    ("gingivitis grade {} at 208", "gingivitis"),
    ("208, furcation {}", "furcation exposure"),
    ("furcation grade {} on 208", "furcation exposure"),
    ("208, mobility {}", "mobile tooth"),
    ("208 is mobile, grade {}", "mobile tooth"),
)
CATARACT_WAYS = (
    "Left lens: {} cataract.",
    "{} cataract in the left eye.",
    "Left eye has {} cataract.",
    "There is {} cataract on the left.",
    "{} cataract left eye.",
    "The left cataract is {}.",
)


def grades(record: Record, finding: str) -> list[str]:
    found = [o for o in record.observations if o.finding == finding and o.present]
    return [str(o.qualifiers.get("grade")) for o in found]


def fill(way: str, level: int) -> str:
    return way.format(word=num2words(level), number=level, roman=ROMAN[level])


@pytest.mark.parametrize(("way", "level", "species"), list(product(MURMUR_WAYS, range(1, 7), ("dog", "cat"))))
def test_murmur_grades(way: str, level: int, species: str, drafted: Callable[[str], Record]) -> None:
    """A murmur's grade is kept with its scale of six, whether said or written, in Arabic or Roman numerals."""
    assert grades(drafted(f"This is Ida, a {species}. {fill(way, level)} Ears clean."), "murmur") == [f"{level}/6"]


@pytest.mark.parametrize(("way", "level"), list(product(LUXATION_WAYS, range(1, 5))))
def test_patellar_luxation_grades(way: str, level: int, drafted: Callable[[str], Record]) -> None:
    """A luxation's grade is kept as said, without a scale that nobody said."""
    assert grades(drafted(f"This is Ida, a dog. {fill(way, level)} Ears clean."), "patellar luxation") == [str(level)]


@pytest.mark.parametrize(("way", "level"), list(product(OF_FOUR, range(1, 5))))
def test_patellar_luxation_of_four(way: str, level: int, drafted: Callable[[str], Record]) -> None:
    """A luxation's grade keeps its scale of four where it was said."""
    record = drafted(f"This is Ida, a dog. {fill(way, level)} Ears clean.")
    assert grades(record, "patellar luxation") == [f"{level}/4"]


@pytest.mark.parametrize(("top", "level"), [(top, n) for top in (4, 5, 10) for n in range(1, top + 1)])
def test_lameness_grades(top: int, level: int, drafted: Callable[[str], Record]) -> None:
    """A lameness keeps the scale that was said, of four, five or ten."""
    said = f"Lame on the left hind, {num2words(level)} out of {num2words(top)}."
    assert grades(drafted(f"This is Ida, a dog. {said} Ears clean."), "lameness") == [f"{level}/{top}"]


@pytest.mark.parametrize("level", range(1, 6))
def test_lameness_without_a_scale(level: int, drafted: Callable[[str], Record]) -> None:
    """A lameness whose scale nobody said has none in the record."""
    record = drafted(f"This is Ida, a dog. Lame on the left hind, grade {num2words(level)}. Ears clean.")
    assert grades(record, "lameness") == [str(level)]


@pytest.mark.parametrize(("way", "level"), list(product(TOOTH_WAYS, range(1, 4))), ids=str)
def test_dental_indices(way: tuple[str, str], level: int, drafted: Callable[[str], Record]) -> None:
    """Dental indices are kept with their tooth."""
    said, finding = way
    said = said.format(num2words(level))
    record = drafted(f"This is Ida, a dog. Mouth. {said[0].upper()}{said[1:]}. Ears clean.")
    found = [o for o in record.observations if o.finding == finding]
    assert [(o.qualifiers.get("grade"), o.qualifiers.get("tooth")) for o in found] == [(str(level), "208")]


@pytest.mark.parametrize(
    ("way", "stage"), list(product(CATARACT_WAYS, ("incipient", "immature", "mature", "hypermature", "Morgagnian")))
)
def test_cataract_stages(way: str, stage: str, drafted: Callable[[str], Record]) -> None:
    """The stage of a cataract is kept as it was said, on its side, and none is made up."""
    article = "an" if stage[0] in "aeiou" else "a"
    told = f"{article} {stage}" if way.startswith(("Left eye has", "There is")) else stage
    said = way.format(told)
    record = drafted(f"This is Ida, a dog. Heart rate 100. {said[0].upper()}{said[1:]} Ears clean.")
    found = [o for o in record.observations if o.finding == "cataract"]
    assert [(o.side, o.qualifiers.get("stage")) for o in found] == [("left", stage.lower())]


@pytest.mark.parametrize("said", ["Cataract in the left lens.", "Left eye has a cataract.", "Left cataract."])
def test_a_cataract_without_a_stage(said: str, drafted: Callable[[str], Record]) -> None:
    """A cataract whose stage nobody said has none in the record."""
    record = drafted(f"This is Ida, a dog. Heart rate 100. {said} Ears clean.")
    assert [o.qualifiers.get("stage") for o in record.observations if o.finding == "cataract"] == [None]
