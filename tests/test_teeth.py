"""Teeth by number and in words, with the species that have them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.errors import InputError
from dictate.language.teeth import ToothMention, teeth, tooth_name


def only(text: str, species: str | None = None) -> ToothMention:
    (mention,) = teeth(text, species=species)
    return mention


@pytest.mark.parametrize(
    ("said", "numbers"),
    [
        ("tooth 204 fractured", (204,)),
        ("two oh four fractured", (204,)),
        ("two-zero-four fractured", (204,)),
        ("2 0 4 has tartar", (204,)),
        ("2,204 has tartar", (204,)),
        ("Three eleven was never there", (311,)),
        ("two ten, tartar mild", (210,)),
        ("one oh four three millimetre pocket", (104,)),
        ("301/401 mobile", (301, 401)),
        ("108 to 110 missing", (108, 109, 110)),
        ("201 through 203 crowded", (201, 202, 203)),
        ("incisors worn, 102 to 202", (102, 101, 201, 202)),
    ],
)
def test_modified_triadan_numbers(said: str, numbers: tuple[int, ...]) -> None:
    """Numbers said digit by digit, as pairs and in ranges are these teeth."""
    assert [n for mention in teeth(said) if mention.form == "number" for n in mention.numbers] == list(numbers)


@pytest.mark.parametrize(
    ("said", "numbers"),
    [
        ("upper left canine", (204,)),
        ("left upper fourth premolar", (208,)),
        ("the upper left carnassial", (208,)),
        ("lower right carnassial", (409,)),
        ("lower first molar on the right", (409,)),
        ("top left fang's snapped", (204,)),
        ("he's snapped a canine, top left, pink inside", (204,)),
        ("third premolar lower left", (307,)),
        ("the canine on the upper left", (204,)),
        ("upper left P4", (208,)),
        ("upper canines", (104, 204)),
        ("lower incisors", (301, 302, 303, 401, 402, 403)),
        ("lower left corner incisor", (303,)),
        ("bottom middle incisors", (301, 401)),
        ("deciduous upper right canine", (504,)),
        ("a milk fang on the upper left", (604,)),
        ("his baby fang up top on the left", (604,)),
        ("baby canines", (504, 604, 704, 804)),
        ("front teeth on the bottom", (301, 302, 303, 401, 402, 403)),
        ("upper left canine, 204", (204,)),
        ("Lower left canine (304)", (304,)),
    ],
)
def test_teeth_in_words(said: str, numbers: tuple[int, ...]) -> None:
    """Teeth named by side, jaw, rank and kind, in any order, are these numbers, in one mention."""
    assert only(said).numbers == numbers


def test_open_sides_are_marked() -> None:
    """A single canine without side and jaw could be four teeth, and says so."""
    assert not only("an upper canine is broken").exact
    assert only("upper left canine is broken").exact
    assert only("upper canines worn").exact


@pytest.mark.parametrize(
    "said",
    [
        "heart rate 104, resp 24",
        "heart rate two oh four, mm pink",
        "pulse one oh eight",
        "pressure 104 over 62",
        "two hundred and four, tartar mild",
        "weight 204 grams",
        "204 beats a minute",
        "mouth clean, T4 108",
        "one oh one six. Mouth clean",
        "canine parvovirus vaccine",
        "two little fang holes right on top",
        "back ones have long nails",
    ],
)
def test_other_numbers_and_dogs_are_no_teeth(said: str) -> None:
    """Rates, pressures, weights and the word for a dog are left alone."""
    assert teeth(said) == ()


@pytest.mark.parametrize(
    ("said", "species", "missing"),
    [
        ("tooth 105", "cat", (105,)),
        ("tooth 105", "dog", ()),
        ("tooth 110", "cat", (110,)),
        ("tooth 111", "dog", (111,)),
        ("tooth 311", "dog", ()),
        ("tooth 305", "cat", (305,)),
        ("lower left first premolar", "cat", (305,)),
        ("tooth 505", "dog", (505,)),
        ("tooth 105", None, ()),
    ],
)
def test_teeth_that_the_species_does_not_have(said: str, species: str | None, missing: tuple[int, ...]) -> None:
    """A tooth outside the dentition of the species is named as missing there."""
    mention = only(said, species)
    assert mention.missing == missing
    assert mention.exists is not bool(missing)


def test_a_number_past_the_last_tooth_is_shown_in_a_row_of_teeth() -> None:
    """ "212" among teeth is kept and missing; by itself it is any number."""
    assert [m.missing for m in teeth("Teeth: 104 loose, 208 tartar, 212 cracked.", species="dog")] == [(), (), (212,)]
    assert teeth("212 regular", species="dog") == ()


def test_a_group_and_a_single_tooth_after_it_are_two_mentions() -> None:
    """ "Cheek teeth, 307 absent" names the group and one tooth; "baby fangs, 504 and 604" names two."""
    assert [m.form for m in teeth("red along the cheek teeth, 307 absent", species="cat")] == ["words", "number"]
    assert [m.numbers for m in teeth("baby fangs, 504 and 604", species="dog")] == [(504,), (604,)]


def test_words_for_the_last_molar_follow_the_species() -> None:
    """The last upper molar is 109 in a cat and 110 in a dog."""
    assert only("last upper right molar", "cat").numbers == (109,)
    assert only("last upper right molar", "dog").numbers == (110,)


def test_names_of_teeth() -> None:
    """A number has the trade's name, and a number of no tooth is refused in one line."""
    assert tooth_name(208) == "left maxillary fourth premolar"
    with pytest.raises(InputError, match="999"):
        tooth_name(999)


WORDS = ["upper", "left", "canine", "204", "to", "206", ",", "tartar", "the", "on", "lower", "fang", "one", "oh"]


@settings(deadline=None)
@given(st.text() | st.lists(st.sampled_from(WORDS)).map(" ".join))
def test_mentions_lie_in_the_text_in_order(text: str) -> None:
    """Every mention lies where it says, and no two overlap."""
    end = 0
    for mention in teeth(text):
        assert end <= mention.char_start < mention.char_end
        assert text[mention.char_start : mention.char_end] == mention.text
        assert mention.numbers
        end = mention.char_end
