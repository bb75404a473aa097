"""Who the patient is, as far as the talk tells."""

from __future__ import annotations

import pytest
from language_cases import WORDS

from dictate.exam.statements import Measure, PatientTold
from dictate.language.patient import patient_told, sex_of_pronouns
from dictate.language.tokens import tokenize


def patient(text: str) -> PatientTold:
    return patient_told(text, WORDS.patients, WORDS.spelling, WORDS.known)[0]


def test_introduction() -> None:
    """Name, species, breed, sex, neutering and age are told by one plain introduction."""
    assert patient("Bella, seven year old spayed Labrador. Heart regular.") == PatientTold(
        name="Bella", species="dog", breed="Labrador", sex="female", neutered=True, age=Measure(7.0, "a")
    )


def test_without_marks_and_capitals() -> None:
    """The same is told by a text without marks and capitals."""
    told = patient("bella seven year old spayed female labrador heart regular lungs clear")
    assert (told.name, told.species, told.sex, told.neutered, told.age) == (
        "bella",
        "dog",
        "female",
        True,
        Measure(7.0, "a"),
    )


def test_entire_is_not_neutered() -> None:
    """An entire animal is told as not neutered, which is another thing than not told."""
    assert patient("Rex, German Shepherd, entire male.").neutered is False
    assert patient("Rex, German Shepherd, male.").neutered is None


@pytest.mark.parametrize(
    ("text", "age"),
    [
        ("This is Max, a male domestic shorthair, three months old.", Measure(3.0, "mo")),
        ("Mr Biggles, intact male cat, 12 weeks.", Measure(12.0, "wk")),
        ("Rex, German Shepherd, male. Was lame for two weeks.", None),
        ("Rex, German Shepherd, male. Seen three months ago.", None),
    ],
)
def test_age(text: str, age: Measure | None) -> None:
    """An age is told with its unit; a time that something lasted or lies back is none."""
    assert patient(text).age == age


def test_nothing_told() -> None:
    """A talk that says nothing of the patient leaves every field open."""
    assert patient("Heart regular, no murmur.") == PatientTold()
    assert patient("") == PatientTold()


@pytest.mark.parametrize(
    ("text", "sex"),
    [
        ("She has a lump. Her ear is red.", "female"),
        ("His ears. He is fine.", "male"),
        ("He. She.", None),
        ("He.", None),
    ],
)
def test_sex_by_pronouns(text: str, sex: str | None) -> None:
    """Pronouns tell the sex only where there are several and they agree."""
    assert sex_of_pronouns(tokenize(text)) == sex


@pytest.mark.parametrize(
    ("text", "sex"),
    [
        ("Otto, Boxer, six, neutered. His teeth are clean.", "male"),
        ("Pixie, six. Vulva clean, no discharge.", "female"),
        ("Sam, Boxer, five. Both testes down.", "male"),
        ("Pixie, six. Ears clean.", None),
        ("Pixie, six. She has her brother with him.", None),
    ],
)
def test_sex_that_only_one_word_tells(text: str, sex: str | None) -> None:
    """Where the sex is not named, one pronoun or a part that one sex has tells it, as long as nothing contradicts."""
    told = patient_told(text, WORDS.patients, WORDS.spelling, WORDS.known, WORDS.sex_of_parts)[0]
    assert told.sex == sex


def test_year_and_a_half() -> None:
    """A year and a half is an age of eighteen months, but none where it tells how long something lasted."""
    assert patient("Bruno, Boxer, a year and a half, entire.").age == Measure(18, "mo")
    assert patient("Bruno, Boxer, entire. Coughing for a year and a half.").age is None


@pytest.mark.parametrize(
    ("text", "neutered"),
    [
        ("Bandit, domestic shorthair tom, neutered, three years old.", True),
        ("Oscar, domestic shorthair tom, three years old.", False),
        ("Sheba, German shepherd, eight years old, never been spayed.", False),
        ("Sheba, German shepherd, eight years old, spayed.", True),
    ],
)
def test_neutering_that_is_said_goes_before_what_a_word_for_the_animal_implies(text: str, neutered: bool) -> None:
    """A tom that is called neutered is neutered; one that was never spayed is not."""
    assert patient(text).neutered is neutered


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Friday again. Duchess, Persian, spayed, seven.", "Duchess"),
        ("Mister Pockets, domestic shorthair, male neutered, 17 years.", "Mister Pockets"),
    ],
)
def test_days_are_no_names_and_a_title_takes_the_next_word_along(text: str, name: str) -> None:
    """The name is not the day of the visit, and is whole where it begins with a title."""
    assert patient(text).name == name
