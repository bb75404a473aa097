"""Between units of one quantity, so that a value and a handbook's range can be compared.

Factors: UCUM (ucum.org), definitions of the international avoirdupois pound and ounce, and of the degree Fahrenheit.
"""

from __future__ import annotations

# code: (quantity, factor to the quantity's base unit, offset added to a value before the factor is applied)
UNITS: dict[str, tuple[str, float, float]] = {
    "kg": ("mass", 1.0, 0.0),
    "g": ("mass", 0.001, 0.0),
    "[lb_av]": ("mass", 0.45359237, 0.0),
    "[oz_av]": ("mass", 0.028349523125, 0.0),
    "Cel": ("temperature", 1.0, 0.0),
    "[degF]": ("temperature", 5 / 9, -32.0),
    "/min": ("rate", 1.0, 0.0),
    "s": ("time", 1.0, 0.0),
    "min": ("time", 60.0, 0.0),
    "mm[Hg]": ("pressure", 1.0, 0.0),
    "cm": ("length", 10.0, 0.0),
    "mm": ("length", 1.0, 0.0),
    "[in_i]": ("length", 25.4, 0.0),
    "mm/min": ("wetting", 1.0, 0.0),
    "%": ("share", 1.0, 0.0),
    "{score}": ("score", 1.0, 0.0),
}


def convert(number: float, unit: str, to: str) -> float | None:
    """`number` in the unit `to`; None where the two units do not measure the same quantity."""
    if unit == to:
        return number
    if unit not in UNITS or to not in UNITS or UNITS[unit][0] != UNITS[to][0]:
        return None
    _, factor, offset = UNITS[unit]
    _, to_factor, to_offset = UNITS[to]
    return (number + offset) * factor / to_factor - to_offset
