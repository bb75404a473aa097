"""Which measure a quantity is the value of, and what else a quantity can tell of a finding."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from dictate.exam.statements import Doubt, Measure
from dictate.language.knowledge import Knowledge
from dictate.language.marking import Marked
from dictate.language.quantities import Quantity
from dictate.language.second_reader import StretchReading
from dictate.language.values import Place, Said
from dictate.language.vocabulary import Term

LENGTHS = ("cm", "mm", "[in_i]")


def measured(
    marked: Marked, know: Knowledge, term: Term, where: Place | None, reading: StretchReading | None
) -> Said | None:
    """The value statement of a quantity, or None where it is no value of a measured site.

    The site is the one that was named with it and is told in this unit; else the one that the second reader tells; else
    the one in force; else, for a unit that only one measure has, that one. A score of nine is enough by itself.
    """
    q: Quantity = term.rows[0]
    sites = where.sites if where else ()
    named = [s for s in sites if s in know.measures]
    if q.unit is not None and q.unit != "{score}":
        able = know.sites_for_unit(q.unit)
        site = _of(named, able, where, reading, know)
        first_unit = know.measures.get(able[0], ())[:1] if able else ()
        if site is None and q.unit not in LENGTHS and (len(able) == 1 or q.unit in first_unit):
            site = able[0]
        return _value(site, q, know.measures[site][0] if q.unit in LENGTHS else q.unit) if site else None
    if q.kind in ("score", "grade") or q.unit == "{score}":
        scored = [s for s in named if "{score}" in know.measures[s]]
        if scored and (q.cue is None or q.kind == "score"):
            return _value(scored[0], q, "{score}", scale=q.scale or q.second)
        told = told_by(reading, know.sites_for_unit("{score}"), know, least=SURE)
        if told and (q.kind == "score" or not named):
            return _value(told, q, "{score}", scale=q.scale or q.second)
        by_scale = know.traits.get(f"of {(q.scale or q.second or 0):g}", ())
        if by_scale and not named and q.kind == "score":
            return _value(by_scale[0], q, "{score}", scale=q.scale or q.second)
        return None
    if q.kind not in ("number", "range", "pressure"):
        return None
    able = tuple(s for s, (low, high) in know.bare.items() if low <= q.number <= high)
    if not q.weak or (where and where.named) or told_by(reading, able, know, least=0.4):
        site = _of(named, able, where, reading, know)
        if site is not None:
            return _value(site, q, bare_unit(site, q.number, know))
    if not named and q.kind == "number" and q.number != int(q.number):
        for site in know.traits.get("by itself", ()):
            if bare_unit(site, q.number, know, strict=True):
                return _value(site, q, bare_unit(site, q.number, know))
    return None


SURE = 0.5  # the second reader's probability from which its measure goes before the one in force
AGAINST = 0.15  # and below which the measure named is not believed where another one is sure


def _of(
    named: Sequence[str], able: Sequence[str], where: Place | None, reading: StretchReading | None, know: Knowledge
) -> str | None:
    """The measure among `able` that a quantity is of."""
    mine = next((s for s in named if s in able), None)
    likely = told_by(reading, able, know, least=SURE)
    if mine is not None and where is not None and where.named:
        chance = _chances(reading).get(mine, 0.0)
        return likely if likely and likely != mine and chance < AGAINST else mine
    return likely or mine or told_by(reading, able, know)


def _chances(reading: StretchReading | None) -> dict[str, float]:
    if reading is None:
        return {}
    return {
        r.site: max((o.probability for o in r.outcomes if o.measured), default=r.probability / 2) for r in reading.sites
    }


def told_by(reading: StretchReading | None, able: Sequence[str], know: Knowledge, *, least: float = 0.15) -> str | None:
    """The site among `able` whose value the second reader finds likeliest in the stretch."""
    best = _chances(reading)
    likely = [s for s in able if best.get(s, 0.0) >= least]
    return max(likely, key=lambda s: best[s]) if likely else None


NARROW = {"Cel": (35.0, 42.5), "[degF]": (95.0, 108.0)}
WIDE = {"Cel": (20.0, 46.0), "[degF]": (84.0, 116.0)}


def bare_unit(site: str, number: float, know: Knowledge, *, strict: bool = False) -> str | None:
    """The unit that a bare number of this site is in, or None where the number does not tell."""
    units = know.measures[site]
    told = [u for u in units if u in WIDE]
    if told:
        ranges = NARROW if strict else WIDE
        return next((u for u in told if ranges[u][0] <= number <= ranges[u][1]), None)
    same = {u.split("/")[0] for u in units} if any("/" in u and not u.startswith("/") for u in units) else set(units)
    return units[0] if len(same) == 1 else None


def _value(site: str, q: Quantity, unit: str | None, *, scale: float | None = None) -> Said:
    qualifiers: dict[str, Any] = {}
    if q.comparator:
        qualifiers["comparator"] = q.comparator
    if scale:
        qualifiers["scale"] = f"{scale:g}"
    if q.kind == "pressure" and q.second is not None:
        qualifiers["diastolic"] = q.second
    if q.kind == "range" and (q.upper or q.second):
        qualifiers["upper"] = q.upper or q.second
    comparator = q.comparator if q.comparator in ("<", "<=", ">", ">=") else None
    return Said(
        site=site,
        side=None,
        status="normal",
        stretch=-1,
        first=0,
        last=0,
        rule="value",
        qualifiers=qualifiers,
        value=Measure(q.number, unit, comparator),
        sure=0.95 if unit else 0.7,
    )


def graded(term: Term) -> dict[str, Any]:
    """The grade that a quantity tells of a finding, as qualifiers."""
    q: Quantity = term.rows[0]
    if q.kind not in ("grade", "score"):
        return {}
    top = q.scale or (q.second if q.kind == "score" else None)
    grade = f"{q.number:g}" + (f"-{q.upper:g}" if q.upper else "") + (f"/{top:g}" if top else "")
    return {"grade": grade}


def sized(term: Term) -> dict[str, Any]:
    """The size that a quantity tells of a finding, as qualifiers."""
    q: Quantity = term.rows[0]
    if q.unit not in LENGTHS:
        return {"count": f"{q.number:g}"} if q.unit is None and q.kind == "number" and not q.weak else {}
    size: dict[str, Any] = {"size": {"number": q.number, "unit": q.unit}}
    if q.second is not None and q.kind == "size":
        size["by"] = {"number": q.second, "unit": q.unit}
    return size


COMMON = frozenset(["kg", "[lb_av]", "Cel", "[degF]"])
SYSTEMS = (("kg", "g", "Cel", "cm", "mm"), ("[lb_av]", "[oz_av]", "[degF]", "[in_i]"))


def with_units_of_the_talk(said: Sequence[Said], know: Knowledge) -> tuple[Said, ...]:
    """A number told without a unit gets that of the talk's other values of its kind, else of their system of units."""
    told = [s.value.unit for s in said if s.value is not None and s.value.unit]
    return tuple(_with_scale(_with_unit(one, told, know), know) for one in said)


def _with_unit(one: Said, told: Sequence[str], know: Knowledge) -> Said:
    value = one.value
    if value is None or value.unit is not None or one.site not in know.measures:
        return one
    units = know.measures[one.site]
    alike = next((u for u in told if u in units), None)
    system = next((names for names in SYSTEMS if any(u in names for u in told)), ())
    unit = alike or next((u for u in units if u in system), None) or units[0]
    if alike is None and len(units) > 1:
        choices = tuple(f"{value.number:g} {u}" for u in sorted(units, key=lambda u: u != unit) if u in COMMON)
        one = one.doubted(Doubt("unit", "no unit was said", choices))
    return one.but(value=replace(value, unit=unit))


def _with_scale(one: Said, know: Knowledge) -> Said:
    """A score that may be of two scales, told without its scale, is asked about."""
    if one.value is None or one.site not in know.traits.get("two scales", ()) or "scale" in one.qualifiers:
        return one
    scales = [s for t in know.traits if one.site in know.traits[t] and (s := re.fullmatch(r"of (\d+).*", t))]
    tops = sorted((int(s.group(1)) for s in scales), reverse=True)
    fitting = [t for t in tops if one.value.number <= t]
    if len(fitting) < 2:
        return one
    choices = tuple(f"{one.value.number:g} of {t}" for t in fitting)
    return one.doubted(Doubt("scale", "of which scale was not said", choices))
