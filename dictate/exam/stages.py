"""Which handbook ranges may be the patient's: by species, and by age where the tables tell ages apart."""

from __future__ import annotations

from dictate.exam.context import Context
from dictate.exam.statements import Measure
from dictate.lexicon.tables import Range

DAYS = {"d": 1.0, "wk": 7.0, "mo": 30.4375, "a": 365.25}  # UCUM: mo and a are the Julian month and year
ANY = ("", "any", "all")
GROWN = ("adult", "senior")


def age_in_days(age: Measure | None) -> float | None:
    """The age in days; None where it was not told or its unit is none of the UCUM codes d, wk, mo and a."""
    if age is None or age.unit not in DAYS:
        return None
    return age.number * DAYS[age.unit]


def ranges_of(measure: str, context: Context) -> tuple[Range, ...]:
    """The ranges of one measure that may hold for the patient. Empty: nothing can be said.

    Without a species all species' ranges may. A grown patient, or one of unknown age, has the ranges for adults and for
    any age; a young one those for the young and for any age, and none where the tables have only the adult's.
    """
    rows = [r for r in context.lexicon.ranges if r.measure == measure]
    species = context.patient.species
    if species:
        rows = [r for r in rows if r.species in (*ANY, species)]
    days = age_in_days(context.patient.age)
    grown_from = context.fact("grown from months")
    if days is not None and grown_from is not None and days < grown_from * DAYS["mo"]:
        return tuple(r for r in rows if r.life_stage in ANY or r.life_stage not in GROWN)
    if days is None:
        return tuple(rows)
    return tuple(r for r in rows if r.life_stage in ANY or r.life_stage in GROWN)
