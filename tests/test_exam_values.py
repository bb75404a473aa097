"""Values against species, age and unit."""

from __future__ import annotations

import pytest
from exam_cases import kinds, settled
from hypothesis import given
from hypothesis import strategies as st

from dictate.exam.statements import Measure, PatientTold, Statement
from dictate.exam.units import UNITS, convert

DOG, CAT = PatientTold(species="dog"), PatientTold(species="cat")


def checked(site: str, number: float, unit: str | None, patient: PatientTold) -> Statement:
    return settled(Statement(site, value=Measure(number, unit)), patient=patient)[0]


@pytest.mark.parametrize(
    ("number", "unit"), [(38.5, "Cel"), (101.3, "[degF]"), (41.0, "Cel"), (105.8, "[degF]"), (35.0, "Cel")]
)
def test_possible_temperatures_are_not_doubted(number: float, unit: str) -> None:
    """A fever or a low temperature is a finding and no doubt, in either unit."""
    assert checked("temperature", number, unit, DOG).doubts == ()


@pytest.mark.parametrize(("number", "unit"), [(385, "Cel"), (38.5, "[degF]"), (101.5, "Cel"), (3.85, "Cel")])
def test_impossible_temperatures_are_doubted(number: float, unit: str) -> None:
    """A temperature that no living patient has is doubted, and the value stays as it was said."""
    statement = checked("temperature", number, unit, DOG)
    assert kinds(statement) == ["value"]
    assert statement.value == Measure(number, unit)


def test_choices_name_what_may_have_been_meant() -> None:
    """A lost decimal point and a mistaken unit are offered as choices, after the value as said."""
    assert checked("temperature", 385, "Cel", DOG).doubts[0].choices == ("385 Cel", "38.5 Cel")
    assert "38.5 Cel" in checked("temperature", 38.5, "[degF]", DOG).doubts[0].choices


def test_missing_unit_is_doubted_with_the_units_that_fit() -> None:
    """A number without a unit is doubted; the choices are the units of this measure."""
    statement = checked("weight", 23.4, None, DOG)
    assert kinds(statement) == ["unit"]
    assert statement.doubts[0].choices == ("23.4 kg", "23.4 [lb_av]")
    assert checked("weight", 14, None, CAT).doubts[0].choices == ("14 kg", "14 [lb_av]")
    assert checked("weight", 20, None, CAT).doubts[0].choices == ("20 [lb_av]",)


def test_unit_of_another_quantity_is_doubted() -> None:
    """A weight in degrees is doubted."""
    assert kinds(checked("weight", 23, "Cel", DOG)) == ["unit"]


def test_ranges_follow_the_species() -> None:
    """A heart rate that a cat may have and a dog may not is doubted for the dog only."""
    assert checked("heart rate", 300, "/min", CAT).doubts == ()
    assert kinds(checked("heart rate", 300, "/min", DOG)) == ["value"]


def test_unknown_species_is_doubted_only_where_no_species_fits() -> None:
    """Without a species a value is doubted only if it is impossible for every one."""
    assert checked("heart rate", 300, "/min", PatientTold()).doubts == ()
    assert kinds(checked("heart rate", 900, "/min", PatientTold())) == ["value"]


def test_young_patients_have_their_own_ranges_or_none() -> None:
    """A kitten of 300 g is not doubted, a grown cat of 300 g is; a puppy without ranges of its own is not."""
    kitten = PatientTold(species="cat", age=Measure(6, "wk"))
    grown = PatientTold(species="cat", age=Measure(6, "a"))
    puppy = PatientTold(species="dog", age=Measure(3, "wk"))
    assert checked("weight", 300, "g", kitten).doubts == ()
    assert kinds(checked("weight", 300, "g", grown)) == ["value"]
    assert checked("weight", 300, "g", puppy).doubts == ()


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)), st.floats(-1000, 1000))
def test_conversion_there_and_back_is_the_same_number(unit: str, other: str, number: float) -> None:
    """Converting to another unit of the quantity and back gives the number again; other quantities give None."""
    there = convert(number, unit, other)
    if UNITS[unit][0] != UNITS[other][0]:
        assert there is None
    else:
        assert there is not None
        assert convert(there, other, unit) == pytest.approx(number, abs=1e-6)


@pytest.mark.parametrize(
    ("number", "unit", "to", "want"),
    [
        (98.6, "[degF]", "Cel", 37.0),
        (212, "[degF]", "Cel", 100),
        (1, "[lb_av]", "g", 453.59237),
        (16, "[oz_av]", "[lb_av]", 1),
    ],
)
def test_conversion_against_definitions(number: float, unit: str, to: str, want: float) -> None:
    """Conversions agree with the definitions of the pound (453.59237 g), the ounce and the Fahrenheit scale."""
    assert convert(number, unit, to) == pytest.approx(want)
