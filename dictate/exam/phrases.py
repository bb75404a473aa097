"""Parts of a record as short phrases, for every page that shows one."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import resources
from typing import Any

from dictate.exam.record import Evidence, Observation

# How UCUM codes are written for people; a code that is not here is shown as it is.
UNIT_SIGNS = {
    "Cel": "°C",
    "[degF]": "°F",
    "[lb_av]": "lb",
    "[oz_av]": "oz",
    "[in_i]": "in",
    "mm[Hg]": "mmHg",
    "{score}": "",
    "a": "years",
    "mo": "months",
    "wk": "weeks",
    "d": "days",
}
ONE = {"years": "year", "months": "month", "weeks": "week", "days": "day"}


def measured(number: float, unit: str | None, comparator: str | None = None) -> str:
    """A value as a reader writes it: "< 2 s", "38.5 °C"; a missing unit is said."""
    sign = UNIT_SIGNS.get(unit, unit) if unit is not None else "(no unit said)"
    if number == 1:
        sign = ONE.get(sign, sign)
    return " ".join(part for part in (comparator, f"{number:.10g}", sign) if part)


def name_of(alike: Sequence[Observation]) -> str:
    """The site and side of an observation, or of the two that say the same of both sides."""
    sides = {o.side for o in alike}
    side = "both" if len(sides) == 2 else alike[0].side
    return f"{alike[0].site}, {side}" if side else alike[0].site


def told(o: Observation) -> str:
    """What an observation says, in words: finding, presence, value, how sure, and the qualifiers."""
    qualifiers = dict(o.qualifiers)
    parts: list[str] = []
    if o.value is not None:
        scale = qualifiers.pop("scale", None) if o.value.unit == "{score}" else None
        unit = "" if o.value.unit is None and o.untold else o.value.unit  # "unit not stated" is said below
        text = measured(o.value.number, unit, o.value.comparator)
        parts.append(f"{text} of {_plain(scale)}" if scale is not None else text)
        qualifiers.pop("comparator", None)
        if o.finding:
            parts.append(o.finding if o.present else f"no {o.finding}")
        elif o.status == "abnormal":
            parts.append("called abnormal")
    elif o.status == "not_examined":
        parts.append("could not be examined")
    elif o.finding is None:
        parts.append(o.status)
    elif not o.present:
        parts.append(f"no {o.finding}")
    else:
        parts.append(o.finding + (" (called normal)" if o.status == "normal" else ""))
    if o.stated_as == "possible":
        parts[0] = f"possible: {parts[0]}"
    parts += [f"{key} {_plain(value)}" for key, value in qualifiers.items()]
    parts += o.untold
    return ", ".join(parts)


def _plain(value: Any) -> str:
    if hasattr(value, "number"):
        return measured(value.number, value.unit)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(str(v) for v in value)
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def sentence(text: str) -> str:
    """`text` with a capital and a full stop."""
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".")


def at(seconds: float) -> str:
    """A time of the sound as minutes and seconds, 1:05."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def quoted(evidence: Sequence[Evidence]) -> str:
    """The words of the talk in quotation marks, with their time where there is sound."""
    return ", ".join(
        f"“{' '.join(e.text.split())}”" + (f" ({at(e.start)})" if e.start is not None else "") for e in evidence
    )


def cautions() -> tuple[str, ...]:
    """The cautions that every page of a record ends with."""
    text = resources.files("dictate.exam").joinpath("cautions.txt").read_text(encoding="utf-8")
    return tuple(line for line in text.splitlines() if line.strip())
