"""Spoken numbers against num2words (PyPI, 0.5.x), a library that writes numbers as words, both ways.

Ways of saying that the library does not write ("one oh two point four", "a hundred and four") are put together here
from its words, after common practice.
"""

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

from dictate.exam.record import Record
from dictate.language.quantities import Quantity, quantities


def only(text: str) -> Quantity:
    (quantity,) = quantities(text)
    return quantity


def ways(number: int) -> set[str]:
    """British and American, with and without hyphens."""
    british = num2words(number)
    return {
        british,
        british.replace(" and ", " "),
        british.replace("-", " "),
        british.replace("-", " ").replace(" and ", " "),
    }


def digit_by_digit(number: int) -> str:
    """ "One oh two", "one twenty-eight": the way rates, temperatures and teeth are said."""
    hundreds, rest = divmod(number, 100)
    return f"{num2words(hundreds)} {'oh ' if rest < 10 else ''}{num2words(rest)}"


@pytest.mark.parametrize("number", range(1000))
def test_whole_numbers(number: int) -> None:
    """Every whole number from 0 to 999, in every way the library's words can be written, is read back."""
    for words in ways(number):
        assert only(words).number == number


@pytest.mark.parametrize("number", [n for n in range(101, 1000) if n % 100])
def test_numbers_said_digit_by_digit(number: int) -> None:
    """ "One oh four" and "one twenty-eight" are read back as 104 and 128; below 200 also with a decimal."""
    assert only(digit_by_digit(number)).number == number
    for tenth in range(10 if number < 200 else 0):
        said = f"{digit_by_digit(number)} point {num2words(tenth)}"
        assert only(said).number == pytest.approx(number + tenth / 10)


@settings(deadline=None, max_examples=500)
@given(st.integers(0, 99_999))
def test_decimals_to_two_places(hundredths: int) -> None:
    """Every number with up to two decimals is read back."""
    value = hundredths / 100
    assert only(num2words(value)).number == pytest.approx(value)


@pytest.mark.parametrize("tenths", range(1000))
def test_one_decimal(tenths: int) -> None:
    """Every number from 0.0 to 99.9 is read back with its point."""
    assert only(f"{num2words(tenths // 10)} point {num2words(tenths % 10)}").number == pytest.approx(tenths / 10)


@pytest.mark.parametrize("hundredths", range(0, 10_000, 17))
def test_two_decimals(hundredths: int) -> None:
    """Numbers with two decimals, digit by digit behind the point, are read back; "oh" is a nought there."""
    whole, tens, ones = hundredths // 100, hundredths // 10 % 10, hundredths % 10
    value = pytest.approx(hundredths / 100)
    assert only(f"{num2words(whole)} point {num2words(tens)} {num2words(ones)}").number == value
    if tens == 0 and ones:
        assert only(f"{num2words(whole)} point oh {num2words(ones)}").number == value


@pytest.mark.parametrize("hundreds", range(1, 10))
def test_double_oh(hundreds: int) -> None:
    """ "Two double oh" and "two oh oh" are two hundred."""
    assert only(f"{num2words(hundreds)} double oh").number == hundreds * 100
    assert only(f"{num2words(hundreds)} oh oh").number == hundreds * 100


@pytest.mark.parametrize(("said", "part"), [("half a", 0.5), ("a quarter of a", 0.25), ("three quarters of a", 0.75)])
@pytest.mark.parametrize(("unit", "code"), [("centimetre", "cm"), ("kilo", "kg"), ("pound", "[lb_av]")])
def test_fractions(said: str, part: float, unit: str, code: str) -> None:
    """ "Half a centimetre" and its like are parts of one unit."""
    found = only(f"{said} {unit}")
    assert (found.number, found.unit) == (part, code)


@pytest.mark.parametrize("number", range(1, 1000))
def test_ordinals(number: int) -> None:
    """ "Second", "twenty-first", "one hundred and third" are ranks; "second" alone is no time here."""
    found = only(f"the {num2words(number, to='ordinal')} toe")
    assert (found.kind, found.number) == ("ordinal", number)


@pytest.mark.parametrize("number", range(1, 41))
@pytest.mark.parametrize(("said", "part"), [("and a half", 0.5), ("and a quarter", 0.25), ("and three quarters", 0.75)])
def test_mixed_fractions(number: int, said: str, part: float) -> None:
    """ "Seven and a half" and its like are read whole."""
    assert only(f"{num2words(number)} {said}").number == number + part


@settings(deadline=None, max_examples=300)
@given(st.integers(1, 400), st.integers(1, 100))
def test_ranges(low: int, span: int) -> None:
    """ "Fifteen to twenty" is a range with both ends."""
    found = only(f"{num2words(low)} to {num2words(low + span)}")
    assert (found.kind, found.number, found.second) == ("range", low, low + span)


@pytest.mark.parametrize("tenths", range(350, 430))
def test_temperatures_with_and_without_the_point(tenths: int) -> None:
    """ "Thirty-eight nine" is 38.9 as "thirty-eight point nine" is."""
    whole, tenth = divmod(tenths, 10)
    spoken = num2words(tenth) if tenth else "oh"
    assert only(f"{num2words(whole)} point {spoken}").number == pytest.approx(tenths / 10)
    if whole != 40 or not tenth:
        assert only(f"{num2words(whole)} {spoken}").number == pytest.approx(tenths / 10)


@pytest.mark.parametrize("number", range(11, 1000, 9))
def test_weights_reach_the_record(number: int, drafted: Callable[[str], Record]) -> None:
    """A weight in grams that is spoken stands in the drafted record with its unit."""
    record = drafted(f"This is Ida, a kitten. Weight {num2words(number)} grams. Ears clean.")
    values = [(o.value.number, o.value.unit) for o in record.observations if o.site == "weight" and o.value]
    assert values == [(number, "g")]


@pytest.mark.parametrize("number", range(40, 260, 4))
def test_heart_rates_reach_the_record(number: int, drafted: Callable[[str], Record]) -> None:
    """A heart rate said either way stands in the drafted record."""
    said = digit_by_digit(number) if number > 100 and number % 100 else num2words(number)
    record = drafted(f"This is Ida, a cat. Heart rate {said}. Ears clean.")
    values = [(o.value.number, o.value.unit) for o in record.observations if o.site == "heart rate" and o.value]
    assert values == [(number, "/min")]
