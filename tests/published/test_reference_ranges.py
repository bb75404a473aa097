"""Reference ranges: a value inside the published range raises no doubt, one far outside raises one, in either system.

Sources, read: each row of `lexicon/ranges.csv` names its own (`dictate lexicon --sources`): Dorn et al. 2024 (dogs) and
Levy et al. 2015 (cats) for temperature, Small Animal Clinical Nutrition, 5th edition, tables 16-1 and 23-1 for the
young, BluePearl, Provet and others for rates, Cooper et al. 2020 and Small Animal Internal Medicine, 6th edition, for
blood pressure, Nascimento et al. 2023 and Rajaei et al. 2019 for the tear test, Ben-Shlomo and Muirhead 2020 and
McLellan and Miller 2011 for eye pressure. What is far outside: common practice, no source.
"""

from collections.abc import Callable

import pytest

from dictate.exam.record import Record
from dictate.exam.units import convert
from dictate.lexicon import load
from dictate.lexicon.tables import Range

SPOKEN = {
    "temperature": "Temperature {}", "heart rate": "Heart rate {}", "pulse rate": "Pulse {} per minute",
    "respiratory rate": "Respiratory rate {}", "capillary refill time": "Capillary refill {} seconds",
    "blood pressure": "Systolic blood pressure {}", "oxygen saturation": "Oxygen saturation {} percent",
    "tear production": "Tear test, left eye {}", "intraocular pressure": "Left eye pressure {}", "weight": "Weight {}",
}  # fmt: skip
YOUNG = {"puppy": "a dog, eight weeks old, a puppy", "kitten": "a cat, eight weeks old, a kitten"}
OTHER_SYSTEM = {"Cel": ("[degF]", "degrees Fahrenheit"), "kg": ("[lb_av]", "pounds")}
UNIT_SAID = {"Cel": "degrees Celsius", "kg": "kilos"}
ROWS = [r for r in load().ranges if r.measure in SPOKEN and r.species]


def inside(row: Range) -> list[float]:
    """Three values of the published range, its ends included."""
    low = row.low if row.low is not None else row.high
    high = row.high if row.high is not None else row.low
    assert low is not None
    assert high is not None
    values = [low, (low + high) / 2, high]
    return [round(v, 1 if row.unit in ("Cel", "kg", "s") else 0) for v in values]


def outside(row: Range) -> list[float]:
    """Values beyond the outer limits, where there can be any."""
    assert row.far_low is not None
    assert row.far_high is not None
    found = [row.far_high * 1.5] if row.unit != "%" else []
    found += [row.far_low * 0.6] if row.far_low * 0.6 >= 1 else []
    return [round(v, 1 if row.unit in ("Cel", "kg", "s") else 0) for v in found]


def cases(values: Callable[[Range], list[float]]) -> list[tuple[Range, float, str, str]]:
    """(row, number, its UCUM code, the unit's words), in both systems of units where there are two."""
    found = []
    for row in ROWS:
        for value in values(row):
            found.append((row, value, row.unit, UNIT_SAID.get(row.unit, "")))
            if row.unit in OTHER_SYSTEM:
                code, words = OTHER_SYSTEM[row.unit]
                other = convert(value, row.unit, code)
                assert other is not None
                found.append((row, round(other, 1), code, words))
    return found


def doubts(record: Record, row: Range, number: float, unit: str) -> list[str]:
    """Kinds of the doubts at the value, which must stand in the record as it was spoken."""
    (found,) = [o for o in record.observations if o.site == row.measure and o.value is not None]
    assert found.value is not None
    assert (found.value.number, found.value.unit) == (pytest.approx(number), unit)
    return [d.kind for d in found.doubts if d.kind in ("value", "unit")]


def talk(row: Range, number: float, words: str) -> str:
    who = YOUNG.get(row.life_stage, f"a {row.species}, six years old")
    said = SPOKEN[row.measure].format(f"{number:g} {words}".strip())
    return f"This is Ida, {who}. {said}. Ears clean."


def name(value: object) -> str:
    return f"{value.measure}-{value.species}-{value.life_stage}" if isinstance(value, Range) else str(value)


@pytest.mark.parametrize(("row", "number", "unit", "words"), cases(inside), ids=name)
def test_inside_no_doubt(row: Range, number: float, unit: str, words: str, drafted: Callable[[str], Record]) -> None:
    """A value of the published range stands in the record as spoken, and is not doubted."""
    assert doubts(drafted(talk(row, number, words)), row, number, unit) == []


@pytest.mark.parametrize(("row", "number", "unit", "words"), cases(outside), ids=name)
def test_far_outside_a_doubt(
    row: Range, number: float, unit: str, words: str, drafted: Callable[[str], Record]
) -> None:
    """A value that no animal of the kind can have is doubted, wherever it stands in the record."""
    record = drafted(talk(row, number, words))
    said = [o for o in record.observations if o.value is not None and o.value.number == pytest.approx(number)]
    assert all(o.doubts for o in said)
    assert said or record.unplaced
