"""Numbers as said and as recognisers write them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.language.numbers import Number, numbers, tokens


def read(text: str) -> list[float]:
    return [number.value for number in numbers(tokens(text))]


def only(text: str) -> Number:
    (number,) = numbers(tokens(text))
    return number


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("a hundred and four", 104),
        ("hundred and four", 104),
        ("one hundred four", 104),
        ("one oh four", 104),
        ("one zero four", 104),
        ("1 0 4", 104),
        ("1-0-4", 104),
        ("one-oh-four", 104),
        ("1 oh 4", 104),
        ("one twenty", 120),
        ("one twenty-eight", 128),
        ("two twelve", 212),
        ("two hundred and twelve", 212),
        ("one double oh", 100),
        ("twelve hundred", 1200),
        ("one thousand two hundred and five", 1205),
        ("one oh two point five", 102.5),
        ("one-oh-one point five", 101.5),
        ("101 point 3", 101.3),
        ("21 point four", 21.4),
        ("38 point 9", 38.9),
        ("1 oh 2.5", 102.5),
        ("point five", 0.5),
        ("nought point two five", 0.25),
        ("four point oh", 4.0),
        ("two point nine five", 2.95),
        ("thirty eight point oh five", 38.05),
        ("38,5", 38.5),
        ("2,5", 2.5),
    ],
)
def test_one_number_is_read_whole(said: str, value: float) -> None:
    """A number said or written in any of these ways is one number of this value."""
    assert only(said).value == value


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("thirty-eight nine", 38.9),
        ("thirty eight five", 38.5),
        ("38 5", 38.5),
        ("39-8", 39.8),
        ("one oh one nine", 101.9),
        ("101 9", 101.9),
    ],
)
def test_a_point_left_out_of_a_temperature_is_put_back(said: str, value: float) -> None:
    """Whole degrees and one more digit are a decimal, and the pieces stay readable one by one."""
    number = only(said)
    assert (number.value, number.form) == (value, "joined")
    assert [piece.value for piece in number.pieces] == [int(value), round(value % 1 * 10)]


@pytest.mark.parametrize(
    ("said", "values"),
    [
        ("thirty eight four one twenty twenty four", [38.4, 120, 24]),
        ("thirty eight point four one twenty twenty four", [38.4, 120, 24]),
        ("two one twenty", [2, 120]),
        ("one oh eight two oh eight", [108, 208]),
        ("grade two one oh eight", [2, 108]),
        ("three oh five three", [305, 3]),
        ("one two three four five", [1, 2, 3, 4, 5]),
        ("15-20", [15, 20]),
        ("twelve, eight, fourteen", [12, 8, 14]),
    ],
)
def test_numbers_without_commas_are_told_apart(said: str, values: list[float]) -> None:
    """A run of number words is cut where a listener would cut it."""
    assert read(said) == values


def test_a_thousands_comma_may_be_a_slip_of_the_recogniser() -> None:
    """ "2,208" is 2208, and 208 is kept as another reading."""
    number = only("2,208")
    assert number.value == 2208
    assert 208 in number.readings


@pytest.mark.parametrize(
    "said", ["oh dear", "the point of the shoulder", "double dewclaw", "to and for", "SpO2 M4 T13"]
)
def test_words_that_only_sound_like_numbers_are_none(said: str) -> None:
    """An "oh" of surprise, a point of the body and a code with a digit are no numbers."""
    assert read(said) == []


def test_a_word_after_a_number_does_not_swallow_it() -> None:
    """ "One oh, dear" is the number one and an exclamation."""
    assert read("one oh dear") == [1]


@settings(deadline=None)
@given(st.text())
def test_any_text_is_read_without_complaint_and_in_order(text: str) -> None:
    """Whatever the text, numbers come in order, do not overlap and lie inside it."""
    words = tokens(text)
    found = numbers(words)
    places = [place for number in found for place in (number.first, number.last)]
    assert places == sorted(places)
    assert all(0 <= number.first < number.last <= len(words) for number in found)
    assert all(text[word.start : word.end] == word.text for word in words)
