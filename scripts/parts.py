"""Which narrations are for work, for choosing (thresholds, early stopping), and held (scored in total, never read)."""

from __future__ import annotations

import re
from typing import Literal

Part = Literal["work", "choosing", "held"]
PARTS: tuple[Part, ...] = ("work", "choosing", "held")


def part_of(name: str) -> Part:
    """The part that a narration belongs to, by its name: AUTHOR_NUMBER, or nNN for the first ten.

    Held are the authors g2 and h5, numbers 11 and 12 of every other author of g*, h* and r*, and n09 and n10. For
    choosing are the others of g7, h4 and r1. All the rest, those of later authors too, is for work.
    """
    author, _, number = name.partition("_")
    if author in ("g2", "h5", "n09", "n10"):
        return "held"
    if re.fullmatch(r"[ghr]\d", author) and number[:2] in ("11", "12"):
        return "held"
    if author in ("g7", "h4", "r1"):
        return "choosing"
    return "work"
