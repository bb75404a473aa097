"""ASA physical status: kept as it was spoken, never worked out.

Source: American Society of Anesthesiologists physical status scale for animals, classes I to V and E for an emergency,
as the Academy of Veterinary Technicians in Anesthesia and Analgesia gives it (avtaa-vts.org/asa-ratings.pml), read. The
descriptions here paraphrase the classes.
"""

from collections.abc import Callable
from itertools import product

import pytest
from num2words import num2words

from dictate.exam.record import Record

ROMAN = ("", "I", "II", "III", "IV", "V")
CLASSES = [
    f"{said}{emergency}"
    for n in range(1, 6)
    for said in (num2words(n), str(n), ROMAN[n], f"class {num2words(n)}", f"physical status {ROMAN[n]}")
    for emergency in ("", " E")
] + ["score five", "grade two", "status three", "category four"]
WAYS = ("ASA {}.", "She's an ASA {}.", "I'd put her at ASA {}.", "For the anaesthetic she is ASA {} today.")
DESCRIBED = (
    "Healthy, here for an elective procedure, nothing underlying.",
    "Obese and geriatric, mild systemic disturbance, compensating well.",
    "Moderate systemic disease with mild signs, anaemic, a low-grade murmur.",
    "Severely dehydrated and in shock, uncompensated.",
    "Moribund, not expected to live without surgery, an emergency.",
)


@pytest.mark.parametrize(("spoken", "way"), list(product(CLASSES, WAYS)))
def test_a_spoken_class_stands_in_the_assessment(spoken: str, way: str, drafted: Callable[[str], Record]) -> None:
    """The class stands word for word in the section of assessments, and makes no observation."""
    said = way.format(spoken)
    record = drafted(f"This is Ida, a female dog. Heart rate 100. {said} Ears clean.")
    assert [e.text for e in record.other.assessment] == [said[:-1]]
    assert {o.site for o in record.observations} == {"heart rate", "ear canal"}


@pytest.mark.parametrize(
    "said",
    [
        pytest.param(said, marks=pytest.mark.xfail(reason=why, strict=True))
        for said, why in (
            ("That makes it A.S.A. two.", "full stops between the letters are read as ends of sentences"),
        )
    ],
)
def test_less_usual_ways(said: str, drafted: Callable[[str], Record]) -> None:
    """Less usual ways of telling the class make no observation either."""
    record = drafted(f"This is Ida, a female dog. Heart rate 100. {said} Ears clean.")
    assert [e.text for e in record.other.assessment] == [said[:-1]]
    assert {o.site for o in record.observations} == {"heart rate", "ear canal"}


@pytest.mark.parametrize("said", DESCRIBED)
def test_no_class_is_worked_out(said: str, drafted: Callable[[str], Record]) -> None:
    """A description of the patient makes no class: the letters stand nowhere in the record."""
    record = drafted(f"This is Ida, a female dog. Heart rate 100. {said} Ears clean.")
    assert "ASA" not in record.model_dump_json()
