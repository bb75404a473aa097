"""The tables by which numbers, units, scales and teeth are read: those of the lexicon in use.

What is made of them is kept, and forgotten when a lexicon with other tables is used. `vocabulary` says which one is.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import asdict
from functools import cache
from importlib import resources
from typing import ParamSpec, TypeVar

from dictate.lexicon.tables import Lexicon

P = ParamSpec("P")
R = TypeVar("R")
TABLES = ("number_words", "units", "scales", "teeth", "tooth_words")
_made: list[Callable[[], None]] = []  # forget what was made of the tables
_tables: dict[str, list[dict[str, str]]] = {}
_read: list[str] = [""]  # the rule set of the lexicon whose tables are in use; "" for the shipped files


def from_tables(function: Callable[P, R]) -> Callable[P, R]:
    """Keep what `function` makes of the tables until a lexicon with other tables is used."""
    kept = cache(function)
    _made.append(kept.cache_clear)
    return kept  # type: ignore[return-value]


def use_tables(lexicon: Lexicon) -> None:
    """Read numbers, units, scales and teeth by the tables of `lexicon` from now on: a practice's own words too."""
    if lexicon.rule_set == _read[0]:
        return
    _tables.update({name: [asdict(row) for row in getattr(lexicon, name)] for name in TABLES})
    _read[0] = lexicon.rule_set
    for forget in _made:
        forget()


def rows(table: str) -> list[dict[str, str]]:
    """The rows of one table of the lexicon in use; of the shipped one where none was."""
    if known := _tables.get(table.removesuffix(".csv")):
        return known
    path = resources.files("dictate.lexicon") / table
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


@from_tables
def number_words() -> dict[str, dict[str, str]]:
    """Kind of word -> word -> value, as the table gives them."""
    kinds: dict[str, dict[str, str]] = {}
    for row in rows("number_words.csv"):
        kinds.setdefault(row["kind"], {})[row["word"]] = row["value"]
    return kinds
