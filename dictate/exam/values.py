"""Values that cannot be right for the patient's species and age, or that lack a unit, are doubted; none is changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from dictate.exam.context import Context
from dictate.exam.contradictions import measure_text
from dictate.exam.stages import ranges_of
from dictate.exam.statements import Doubt, Measure, Statement
from dictate.exam.units import convert
from dictate.lexicon.tables import Range

SLIPS = (0.1, 10.0, 0.01, 100.0)  # a decimal point lost or gained, as "three eight five" for 38.5


def doubt_values(statements: tuple[Statement, ...], context: Context) -> tuple[Statement, ...]:
    """The same statements; one whose value is implausible or without a unit carries a doubt that says so."""
    return tuple(_checked(statement, context) for statement in statements)


def _checked(statement: Statement, context: Context) -> Statement:
    if statement.value is None:
        return statement
    ranges = ranges_of(statement.site, context)
    units = units_of(statement.site, ranges, context)
    doubt = missing_unit(statement.value, ranges, units) or implausible(statement.value, ranges, units)
    if doubt is None or any(d.kind == doubt.kind for d in statement.doubts):
        return statement
    return replace(statement, doubts=(*statement.doubts, doubt))


def units_of(measure: str, ranges: tuple[Range, ...], context: Context) -> tuple[str, ...]:
    """The UCUM codes that a measure is told in, the usual one first."""
    told = [unit for row in context.lexicon.measures if row.site == measure for unit in row.units]
    return tuple(dict.fromkeys([*told, *(r.unit for r in ranges if r.unit)]))


def missing_unit(value: Measure, ranges: tuple[Range, ...], units: tuple[str, ...]) -> Doubt | None:
    """A doubt where no unit was said; its choices are the units in which the number would be plausible."""
    if value.unit is not None:
        return None
    fitting = [u for u in units if any(_fits(value.number, u, r) for r in ranges)] or list(units)
    return Doubt("unit", f"{value.number:g} was said without a unit.", tuple(f"{value.number:g} {u}" for u in fitting))


def implausible(value: Measure, ranges: tuple[Range, ...], units: tuple[str, ...]) -> Doubt | None:
    """A doubt where the value lies outside the outer limits of every range that may be the patient's."""
    if value.unit is None or not ranges or any(_fits(value.number, value.unit, r) for r in ranges):
        return None
    if all(convert(value.number, value.unit, r.unit) is None for r in ranges):
        message = f"{measure_text(value)}: the unit is not one of this measure."
        return Doubt("unit", message, tuple(f"{value.number:g} {u}" for u in units))
    slips = [value.number * f for f in SLIPS if any(_fits(value.number * f, value.unit, r) for r in ranges)]
    others = [u for u in units if any(_fits(value.number, u, r) for r in ranges)]
    choices = [measure_text(value), *(f"{n:g} {value.unit}" for n in slips), *(f"{value.number:g} {u}" for u in others)]
    who = _species_told(ranges)
    return Doubt("value", f"{measure_text(value)} is implausible{who}.", tuple(dict.fromkeys(choices)))


def _species_told(ranges: Iterable[Range]) -> str:
    species = {r.species for r in ranges if r.species}
    return f" for a {next(iter(species))}" if len(species) == 1 else ""


def _fits(number: float, unit: str, limits: Range) -> bool:
    """Whether the value lies inside the outer limits, a limit that is not given being open."""
    in_its_unit = convert(number, unit, limits.unit)
    if in_its_unit is None:
        return False
    low = limits.far_low if limits.far_low is not None else float("-inf")
    high = limits.far_high if limits.far_high is not None else float("inf")
    return low <= in_its_unit <= high
