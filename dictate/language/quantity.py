"""One quantity of a text: what was said, with its unit, bounds, scale and place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["number", "range", "score", "grade", "size", "pressure", "time", "clock", "ordinal"]
Comparator = Literal["<", ">", "<=", ">=", "~"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity of a text.

    Attributes:
        kind: `size` has a unit of length, `time` a unit of time, `pressure` is systolic over diastolic, `clock` a
            position or hour ("six o'clock"), `ordinal` a rank ("third").
        number: the value in `unit`.
        second: upper end of a range, second dimension of a size, top of the scale of a score, diastolic pressure.
        unit: UCUM code, or None where no unit was said.
        comparator: "<", ">", "<=", ">=", "~", or None.
        text: the words, `text[char_start:char_end]` of the input; comparator and unit included.
        third: third dimension of a size.
        upper: upper end where the quantity is a range of any kind ("grade two to three").
        scale: top of the scale of a score or grade where it was said.
        readings: other values that the same words may mean.
        unit_readings: other UCUM codes that the unit word may mean ("mil").
        pieces: the quantities when the words are read as several ("thirty-eight nine" as 38 and 9).
        cue: the word that made it a grade or score ("grade", "BCS"), lower case, or None.
        roman: written as a Roman numeral.
        plus: said with "plus" ("two plus").
        form: how the number was said: plain, point, digits, pair, joined, fraction, article, ordinal, roman.
        weak: hardly a measurement by itself ("one" without a unit, "a second"); use it only where a value is due.
    """

    kind: Kind
    number: float
    second: float | None
    unit: str | None
    comparator: Comparator | None
    text: str
    char_start: int
    char_end: int
    third: float | None = None
    upper: float | None = None
    scale: float | None = None
    readings: tuple[float, ...] = ()
    unit_readings: tuple[str, ...] = ()
    pieces: tuple[Quantity, ...] = ()
    cue: str | None = None
    roman: bool = False
    plus: bool = False
    form: str = "plain"
    weak: bool = False
