"""Which measure a number is the value of, and in which unit."""

from __future__ import annotations

import pytest
from language_cases import KNOW, brief, quantity_term, said

from dictate.language.measuring import bare_unit, graded, sized, with_units_of_the_talk


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("Temperature thirty-eight point six.", ["temperature: 38.6 Cel"]),
        ("Temperature 101.5.", ["temperature: 101.5 [degF]"]),
        ("Temp 101.5 Fahrenheit.", ["temperature: 101.5 [degF]"]),
        ("38.6 in the back end.", ["temperature: 38.6 Cel"]),
        ("Heart rate one twenty, resps twenty four.", ["heart rate: 120 /min", "respiratory rate: 24 /min"]),
        ("Weight 4.2 kilos.", ["weight: 4.2 kg"]),
        ("4.2 kilos.", ["weight: 4.2 kg"]),
        ("BCS five out of nine.", ["body condition score: 5 {score}"]),
        ("Six out of nine.", ["body condition score: 6 {score}"]),
        ("Pain score two out of four.", ["pain score: 2 {score}"]),
        ("CRT under two seconds.", ["capillary refill time: 2 s"]),
        ("Blood pressure 140.", ["blood pressure: 140 mm[Hg]"]),
        (
            "Tear production fifteen left, eighteen right.",
            ["tear production left: 15 mm/min", "tear production right: 18 mm/min"],
        ),
    ],
)
def test_number_and_unit(text: str, values: list[str]) -> None:
    """A number goes to the measure named with it, or to the only one with its unit or scale, in the unit that fits."""
    assert brief(text) == values


@pytest.mark.parametrize("text", ["Three puppies.", "He is four.", "Two weeks ago.", "Room 38."])
def test_other_numbers_are_no_values(text: str) -> None:
    """A number that no measure is named for, and whose unit or scale tells none, is no value."""
    assert [s for s in said(text) if s.value] == []


@pytest.mark.parametrize(
    ("number", "unit"), [(38.5, "Cel"), (25.0, "Cel"), (101.0, "[degF]"), (90.0, "[degF]"), (60.0, None), (300.0, None)]
)
def test_temperature_tells_its_unit_by_its_height(number: float, unit: str | None) -> None:
    """A bare temperature is Celsius or Fahrenheit by its height; between and beyond the two it has no unit."""
    assert bare_unit("temperature", number, KNOW) == unit


def test_weight_does_not_tell_its_unit() -> None:
    """A bare weight may be in kilograms or pounds, so it has no unit."""
    assert bare_unit("weight", 12.0, KNOW) is None


def test_unit_of_the_talk() -> None:
    """A bare weight takes the system of units of the talk's other values; where there are none it is asked about."""
    assert brief("Weight is 62. Temperature 101.5.")[0] == "weight: 62 [lb_av]"
    assert brief("Weight is 12. Temperature 38.5.")[0] == "weight: 12 kg"
    assert [d.kind for d in said("Weight is 12.")[0].doubts] == ["unit"]


def test_units_of_the_talk_change_no_told_unit() -> None:
    """A unit that was said is never changed."""
    told = said("Weight 4.2 kilos. Temperature 101.5.")
    assert with_units_of_the_talk(told, KNOW) == told


def test_bound_and_scale_are_kept() -> None:
    """ "Under two seconds" keeps its bound and "five out of nine" its scale."""
    (time,) = said("CRT under two seconds.")
    assert time.value is not None and time.value.comparator == "<"
    (score,) = said("BCS five out of nine.")
    assert score.qualifiers["scale"] == "9"


@pytest.mark.parametrize(
    ("text", "grade"), [("three out of six", "3/6"), ("grade two", "2"), ("grade two to three", "2-3")]
)
def test_grade(text: str, grade: str) -> None:
    """A grade is written with its range and its scale where they were said."""
    assert graded(quantity_term(text)) == {"grade": grade}


def test_size() -> None:
    """A length is a size with its unit, and a second one stands beside it."""
    assert sized(quantity_term("two centimetres")) == {"size": {"number": 2.0, "unit": "cm"}}
    assert sized(quantity_term("two by three centimetres"))["by"] == {"number": 3.0, "unit": "cm"}
    assert sized(quantity_term("two kilos")) == {}
