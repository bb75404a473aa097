"""The teeth that dogs and cats have, by modified Triadan number, and the words for them, from `lexicon/`."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.errors import InputError
from dictate.language.numbers import tokens
from dictate.language.phrases import Phrases
from dictate.language.tables_in_use import from_tables, rows

QUADRANTS = {"permanent": range(1, 5), "deciduous": range(5, 9)}
POSITIONS = {"permanent": 11, "deciduous": 8}


@dataclass(frozen=True, slots=True)
class Tooth:
    """One tooth of the tables; `rank` counts within its kind from the front (0: the only one, a canine)."""

    number: int
    name: str
    side: str
    jaw: str
    kind: str
    rank: int
    dentition: str
    species: frozenset[str]


@from_tables
def tooth_words(part: str) -> dict[str, str]:
    """Words of one part of a tooth's name ("side", "jaw", "kind") with their values."""
    return {row["word"]: row["value"] for row in rows("tooth_words.csv") if row["part"] == part}


@from_tables
def kind_phrases() -> Phrases[tuple[str, bool]]:
    """Nouns for teeth: (kind, whether more than one)."""
    single = {word: (kind, False) for word, kind in tooth_words("kind").items()}
    return Phrases(single | {word: (kind, True) for word, kind in tooth_words("kinds").items()})


@from_tables
def phrases(part: str) -> Phrases[str]:
    """The phrases of one part of `lexicon/tooth_words.csv`."""
    return Phrases(tooth_words(part))


@from_tables
def all_teeth() -> dict[int, Tooth]:
    """Every tooth of dog or cat by its number."""
    names: dict[int, tuple[str, set[str]]] = {}
    for row in rows("teeth.csv"):
        names.setdefault(int(row["tooth"]), (row["name"], set()))[1].add(row["species"])
    return {number: _tooth(number, name, frozenset(species)) for number, (name, species) in sorted(names.items())}


def _tooth(number: int, name: str, species: frozenset[str]) -> Tooth:
    found: dict[str, str] = {"dentition": "permanent", "rank": "0"}
    for word in tokens(name):
        for part in ("dentition", "side", "jaw", "kind", "rank"):
            if word.low in tooth_words(part):
                found[part] = tooth_words(part)[word.low]
    return Tooth(
        number, name, found["side"], found["jaw"], found["kind"], int(found["rank"]), found["dentition"], species
    )


def is_triadan(number: float) -> bool:
    """Whether a number has the form of a modified Triadan number: quadrant 1 to 8, then position 01 to 11 (08)."""
    if number != int(number) or not 101 <= number <= 808:
        return False
    quadrant, position = divmod(int(number), 100)
    return 1 <= position <= POSITIONS["permanent" if quadrant in QUADRANTS["permanent"] else "deciduous"]


def exists(number: int, species: str | None) -> bool:
    """Whether this species has a tooth of this number; with None, whether dog or cat has one."""
    tooth = all_teeth().get(number)
    return tooth is not None and (species is None or species in tooth.species)


def tooth_name(number: int) -> str:
    """The trade's name of a tooth, "left maxillary fourth premolar" for 208.

    Raises:
        InputError: neither dog nor cat has a tooth of this number.
    """
    tooth = all_teeth().get(number)
    if tooth is None:
        raise InputError("no tooth of dog or cat has this modified Triadan number", where=str(number))
    return tooth.name


def between(first: int, last: int, species: str | None) -> tuple[int, ...]:
    """The teeth from one number to another along one jaw, over the midline where need be; empty where jaws differ."""
    teeth = [tooth for tooth in all_teeth().values() if exists(tooth.number, species)]
    ends = [all_teeth().get(first), all_teeth().get(last)]
    if any(end is None for end in ends):
        return (first, last)
    start, stop = ends
    if start.jaw != stop.jaw or start.dentition != stop.dentition:  # type: ignore[union-attr]
        return ()
    row = sorted(
        (t for t in teeth if t.jaw == start.jaw and t.dentition == start.dentition),  # type: ignore[union-attr]
        key=lambda t: (1 if t.side == "left" else -1) * (t.number % 100),
    )
    order = [t.number for t in row]
    if first not in order or last not in order:
        return (first, last)
    low, high = sorted((order.index(first), order.index(last)))
    reached = order[low : high + 1]
    return tuple(reached if order.index(first) == low else reached[::-1])
