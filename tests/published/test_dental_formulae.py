"""Dentition of dog and cat and the modified Triadan numbers, by number and by words, both ways.

Sources, read:
- formulae of the dog, adult and deciduous: WikiVet, "Dental Formula - Dog" (expert reviewed 2013);
- formulae of the cat: Bellows, "Feline Dentistry", 1.17.1, and WikiVet, "Dental Formula - Cat" (reviewed by L.
  Milella, 2013), which also says that the first upper and the first and second lower premolars of the cat are
  missing;
- numbers: Ribka and Niemiec, "Diseases of the oral cavity and teeth" (doi 10.1201/b19610-13), abstract: quadrants 100
  right upper, 200 left upper, 300 left lower, 400 right lower, deciduous 500 to 800, teeth counted from the first
  incisor backwards, 104 a canine, 108 and 208 the upper fourth premolars, 309 and 409 the lower first molars, the
  last two the carnassials.
That the deciduous premolars of the dog are the second to fourth is common teaching (there is no deciduous first
premolar).
"""

from collections.abc import Callable
from itertools import product

import pytest
from num2words import num2words

from dictate.exam.record import Record
from dictate.language.teeth import exists, teeth, tooth_name

FORMULAE = {
    ("dog", "adult"): ("I3/3 C1/1 P4/4 M2/3", 42),
    ("cat", "adult"): ("I3/3 C1/1 P3/2 M1/1", 30),
    ("dog", "deciduous"): ("I3/3 C1/1 P3/3 M0/0", 28),
    ("cat", "deciduous"): ("I3/3 C1/1 P3/2 M0/0", 26),
}
QUADRANTS = {"adult": (1, 2, 3, 4), "deciduous": (5, 6, 7, 8)}
SIDE_AND_JAW = (("right", "upper"), ("left", "upper"), ("left", "lower"), ("right", "lower"))
RANKS = ("", "first", "second", "third", "fourth")
NAMES = {"I": "incisor", "C": "canine", "P": "premolar", "M": "molar"}
BEFORE = {"I": 0, "C": 3, "P": 4, "M": 8}
MOST = {"I": 3, "C": 1, "P": 4, "M": 3}


def dentition(species: str, age: str) -> dict[int, tuple[str, str, str, str]]:
    """Number -> (side, jaw, rank, name), worked out of the formula; premolars are lost from the front."""
    found = {}
    for part in FORMULAE[species, age][0].split():
        letter, counts = part[0], part[1:].split("/")
        for quadrant, (side, jaw) in zip(QUADRANTS[age], SIDE_AND_JAW, strict=True):
            count = int(counts[jaw == "lower"])
            first = MOST[letter] - count + 1 if letter == "P" else 1
            for place in range(first, first + count):
                rank = "" if letter == "C" else RANKS[place]
                found[quadrant * 100 + BEFORE[letter] + place] = (side, jaw, rank, NAMES[letter])
    return found


ALL = [
    (species, age, number, *words)
    for species, age in FORMULAE
    for number, words in sorted(dentition(species, age).items())
]


def said_as_number(number: int) -> str:
    quadrant, place = divmod(number, 100)
    return f"{num2words(quadrant)} {'oh ' if place < 10 else ''}{num2words(place)}"


@pytest.mark.parametrize(("species", "age"), FORMULAE)
def test_the_number_of_teeth(species: str, age: str) -> None:
    """The tool knows exactly the teeth of the published formula, and as many as are published."""
    known = {n for q, p in product(QUADRANTS[age], range(1, 12)) if exists(n := q * 100 + p, species)}
    assert known == set(dentition(species, age))
    assert len(known) == FORMULAE[species, age][1]


@pytest.mark.parametrize(("species", "age", "number", "side", "jaw", "rank", "name"), ALL)
def test_every_tooth_by_number(species: str, age: str, number: int, side: str, jaw: str, rank: str, name: str) -> None:
    """Every tooth is understood by its number, spoken and written, and the species has it."""
    for said in (
        said_as_number(number),
        str(number),
        " ".join(str(number)),
        said_as_number(number).replace("oh", "zero"),
    ):
        (mention,) = teeth(f"tooth {said} is fractured", species=species)
        assert (mention.numbers, mention.missing) == ((number,), ())


@pytest.mark.parametrize(("species", "age", "number", "side", "jaw", "rank", "name"), ALL)
def test_every_tooth_by_words(species: str, age: str, number: int, side: str, jaw: str, rank: str, name: str) -> None:
    """Every tooth is understood by side, jaw, rank and kind in several orders, and has this name."""
    ranked = f"{rank} {name}".strip()
    early = "deciduous " if age == "deciduous" else ""
    latin = {"upper": "maxillary", "lower": "mandibular"}[jaw]
    for said in (
        f"{early}{jaw} {side} {ranked}",
        f"{early}{side} {jaw} {ranked}",
        f"{early}{side} {latin} {ranked}",
        f"{early}{jaw} {ranked} on the {side}",
        f"{early}{ranked} on the {jaw} {side}",
        f"{early}{ranked} {jaw} {side}",
    ):
        (mention,) = teeth(f"the {said} is fractured", species=species)
        assert (mention.numbers, mention.exact, mention.missing) == ((number,), True, ())
    assert tooth_name(number) == f"{early}{side} {latin} {ranked}"


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_carnassials(species: str) -> None:
    """The carnassials are the upper fourth premolars and the lower first molars."""
    (upper,) = teeth("upper carnassials", species=species)
    (lower,) = teeth("lower carnassials", species=species)
    assert (upper.numbers, lower.numbers) == ((108, 208), (309, 409))


@pytest.mark.parametrize(
    ("species", "number"),
    [(s, q * 100 + p) for s in ("dog", "cat") for q in range(1, 9) for p in range(1, 12 if q < 5 else 9)],
)
def test_numbers_of_teeth_that_do_not_exist(species: str, number: int) -> None:
    """A number of the right form is named as missing just where the species' formula has no such tooth."""
    age = "adult" if number < 500 else "deciduous"
    (mention,) = teeth(f"tooth {number} is fractured", species=species)
    assert bool(mention.missing) is (number not in dentition(species, age))


def recorded(record: Record) -> dict[str, list[str]]:
    """Tooth -> kinds of doubt, of the fractures in a record."""
    return {
        str(o.qualifiers.get("tooth")): [doubt.kind for doubt in o.doubts]
        for o in record.observations
        if o.finding == "fractured tooth"
    }


def by_number(species: str, quadrant: int) -> str:
    """A talk that names every number of the form of a quadrant's, whether the species has the tooth or not."""
    numbers = [quadrant * 100 + place for place in range(1, 12 if quadrant < 5 else 9)]
    told = " ".join(f"Tooth {said_as_number(n)} is fractured." for n in numbers)
    return f"This is Ida, a {species}. {told} Ears clean."


def by_words(species: str, age: str, quadrant: int) -> str:
    """A talk that names every tooth of a quadrant in words."""
    early = "deciduous " if age == "deciduous" else ""
    told = " ".join(
        f"The {early}{jaw} {side} {rank} {name} is fractured.".replace("  ", " ")
        for number, (side, jaw, rank, name) in dentition(species, age).items()
        if number // 100 == quadrant
    )
    return f"This is Ida, a {species}. {told} Ears clean."


OF_THE_FORM = [(s, q * 100 + p) for s in ("dog", "cat") for q in range(1, 9) for p in range(1, 12 if q < 5 else 9)]


@pytest.mark.parametrize(("species", "number"), OF_THE_FORM)
def test_teeth_reach_the_record_by_number(species: str, number: int, drafted: Callable[[str], Record]) -> None:
    """Every number of the right form stands in the record; it is doubted just where the species has no such tooth."""
    age = "adult" if number < 500 else "deciduous"
    found = recorded(drafted(by_number(species, number // 100)))
    assert str(number) in found
    assert bool(found[str(number)]) is (number not in dentition(species, age))


@pytest.mark.parametrize(("species", "age", "number", "side", "jaw", "rank", "name"), ALL)
def test_teeth_reach_the_record_by_words(
    species: str, age: str, number: int, side: str, jaw: str, rank: str, name: str, drafted: Callable[[str], Record]
) -> None:
    """Every tooth that is named in words stands in the record with its number and without a doubt."""
    assert recorded(drafted(by_words(species, age, number // 100))).get(str(number)) == []
