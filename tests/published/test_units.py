"""Units against UCUM (parsed by ucumvert, which ships the UCUM essence table) and conversions against pint.

Codes of vital signs: HL7 FHIR R4, value set "ucum-vitals-common"
(http://hl7.org/fhir/R4/valueset-ucum-vitals-common.html), read.
"""

import csv
from collections.abc import Callable
from functools import cache
from importlib import resources

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ucumvert import PintUcumRegistry

from dictate.exam.record import Record
from dictate.exam.units import UNITS, convert
from dictate.language.quantities import quantities

ROWS = list(csv.DictReader((resources.files("dictate.lexicon") / "units.csv").read_text(encoding="utf-8").splitlines()))
CODES = sorted({row["ucum"] for row in ROWS} | set(UNITS) | {code for row in ROWS for code in row["other"].split()})
FHIR_VITAL_SIGNS = {"%", "cm", "[in_i]", "kg", "g", "[lb_av]", "Cel", "[degF]", "mm[Hg]", "/min", "kg/m2", "m2"}


@cache
def registry() -> pint.UnitRegistry:
    return PintUcumRegistry()


@pytest.mark.parametrize("code", CODES)
def test_codes_are_ucum(code: str) -> None:
    """Every unit code of the tables is parsed by a UCUM library; a score is a UCUM annotation."""
    parsed = registry().from_ucum(code)
    assert str(parsed) == code if code.startswith("{") else parsed.magnitude == pytest.approx(1)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["form"])
def test_every_spoken_form_has_its_code(row: dict[str, str]) -> None:
    """A number followed by any listed form of a unit is a quantity in this unit, or the form may mean it."""
    (found,) = quantities(f"7 {row['form']}")
    assert row["ucum"] in (found.unit, *found.unit_readings)
    assert found.number == 7


@pytest.mark.parametrize("code", ["kg", "[lb_av]", "Cel", "[degF]", "/min", "mm[Hg]", "%"])
def test_vital_signs_use_the_codes_of_fhir(code: str) -> None:
    """The units in which vital signs are kept are those that FHIR's vital signs profiles name."""
    assert code in FHIR_VITAL_SIGNS
    assert code in UNITS


PAIRS = [(a, b) for a in UNITS for b in UNITS if a != b and UNITS[a][0] == UNITS[b][0]]


@pytest.mark.parametrize(("unit", "to"), PAIRS)
@settings(deadline=None, max_examples=50)
@given(number=st.floats(0.1, 500))
def test_conversions_agree_with_pint(unit: str, to: str, number: float) -> None:
    """Pounds, kilograms, Fahrenheit, Celsius and lengths convert as pint converts them."""
    ours = convert(number, unit, to)
    theirs = registry().Quantity(number, registry().from_ucum(unit).units).to(registry().from_ucum(to).units).magnitude
    assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("said", "site", "number", "unit"),
    [
        ("Weight sixty-one point four pounds", "weight", 61.4, "[lb_av]"),
        ("Weight twelve pounds six ounces", "weight", 12.375, "[lb_av]"),
        ("Weight 4.2 kilos", "weight", 4.2, "kg"),
        ("Weight six hundred and ten grams", "weight", 610, "g"),
        ("Temperature one oh one point five Fahrenheit", "temperature", 101.5, "[degF]"),
        ("Temperature thirty-eight point six Celsius", "temperature", 38.6, "Cel"),
        ("Temperature one oh one point five", "temperature", 101.5, "[degF]"),
        ("Temperature thirty-eight six", "temperature", 38.6, "Cel"),
    ],
)
def test_the_record_keeps_the_unit_that_was_spoken(
    said: str, site: str, number: float, unit: str, drafted: Callable[[str], Record]
) -> None:
    """Nothing is converted in the record: pounds stay pounds, Fahrenheit stays Fahrenheit."""
    record = drafted(f"This is Ida, a dog. {said}. Ears clean.")
    assert [(o.value.number, o.value.unit) for o in record.observations if o.site == site and o.value] == [
        (number, unit)
    ]
