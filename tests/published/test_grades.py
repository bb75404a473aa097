"""Grades and their scales, in every spoken form, through the main job.

Sources: murmurs I/VI to VI/VI: Veterinary Cardiovascular Society, "How to grade heart murmurs for breed screening"
(vet-cardio.co.uk), read. Patellar luxation 1 to 4: "Canine Lameness", box 19.2, p. 331, read. Furcation and mobility
indices: American Veterinary Dental College, nomenclature (avdc.org), read; that they end at three is from memory.
Gingival and plaque index 0 to 3: Loe and Silness 1963, Silness and Loe 1964, read in a later table. Lameness of five:
common practice, no source.
"""

from collections.abc import Callable

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
)


def grades(record: Record, finding: str) -> list[str]:
    found = [o for o in record.observations if o.finding == finding and o.present]
    return [str(o.qualifiers.get("grade")) for o in found]


@pytest.mark.parametrize("level", range(1, 7))
@pytest.mark.parametrize("way", MURMUR_WAYS)
def test_murmur_grades(level: int, way: str, drafted: Callable[[str], Record]) -> None:
    """A murmur's grade is kept with its scale of six, whether said or written, in Arabic or Roman numerals."""
    said = way.format(word=num2words(level), number=level, roman=ROMAN[level])
    assert grades(drafted(f"This is Ida, a dog. {said} Ears clean."), "murmur") == [f"{level}/6"]


@pytest.mark.parametrize("level", range(1, 5))
@pytest.mark.parametrize("way", ["grade {word}", "grade {number}", "grade {roman}", "a grade {word}"])
def test_patellar_luxation_grades(level: int, way: str, drafted: Callable[[str], Record]) -> None:
    """A luxation's grade is kept as said, without a scale that nobody said."""
    said = way.format(word=num2words(level), number=level, roman=ROMAN[level])
    record = drafted(f"This is Ida, a dog. Left patella luxates medially, {said}. Ears clean.")
    assert grades(record, "patellar luxation") == [str(level)]


@pytest.mark.parametrize("level", range(1, 6))
def test_lameness_grades(level: int, drafted: Callable[[str], Record]) -> None:
    """A lameness of five keeps its scale."""
    record = drafted(f"This is Ida, a dog. Lame on the left hind, {num2words(level)} out of five. Ears clean.")
    assert grades(record, "lameness") == [f"{level}/5"]


@pytest.mark.parametrize("level", range(1, 4))
@pytest.mark.parametrize(
    ("said", "finding"),
    [
        ("208 has calculus, grade {}", "dental calculus"),
        ("calculus grade {} on 208", "dental calculus"),
        ("208, gingivitis grade {}", "gingivitis"),
        ("208, furcation {}", "furcation exposure"),
        ("208, mobility {}", "mobile tooth"),
    ],
)
def test_dental_indices(level: int, said: str, finding: str, drafted: Callable[[str], Record]) -> None:
    """Dental indices are kept with their tooth."""
    record = drafted(f"This is Ida, a dog. Mouth. Tooth {said.format(num2words(level))}. Ears clean.")
    found = [o for o in record.observations if o.finding == finding]
    assert [(o.qualifiers.get("grade"), o.qualifiers.get("tooth")) for o in found] == [(str(level), "208")]
