"""Words of a talk, folded so that capitals, possessives, short forms and spellings do not matter."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.language.tokens import fold, singular, tokenize


def words(text: str, spelling: dict[str, str] | None = None) -> list[str]:
    return [t.text for t in tokenize(text, spelling)]


@pytest.mark.parametrize(
    ("written", "folded"),
    [
        ("Heart's", ("heart",)),
        ("Doesn't", ("does", "not")),
        ("doesnt", ("does", "not")),
        ("can’t", ("can", "not")),
        ("cannot", ("can", "not")),
        ("it's", ("it", "is")),
        ("they're", ("they", "are")),
        ("I'll", ("i", "will")),
        ("well", ("well",)),
        ("its", ("its",)),
        ("38.6", ("38.6",)),
    ],
)
def test_one_written_word_becomes_its_parts(written: str, folded: tuple[str, ...]) -> None:
    """Short forms with and without an apostrophe are the same words, and words that look like one are left alone."""
    assert fold(written) == folded


def test_parts_of_a_short_form_share_its_characters() -> None:
    """Both parts of a short form point at the whole written word, and only the first begins it."""
    first, second = tokenize("can't")
    assert (first.start, first.end) == (second.start, second.end) == (0, 5)
    assert (first.starts_piece, second.starts_piece) == (True, False)


def test_spelling_is_folded() -> None:
    """A British spelling is read as the American one that the phrases use."""
    assert words("Haematoma.", {"haematoma": "hematoma"}) == ["hematoma", "."]


def test_numbers_stay_whole() -> None:
    """A decimal, a fraction and a rank are one token each; a mark behind a number is its own."""
    assert words("38.6, 3/6 and 4th.") == ["38.6", ",", "3/6", "and", "4th", "."]


@pytest.mark.parametrize(
    ("plural", "one"),
    [
        ("corneas", "cornea"),
        ("biopsies", "biopsy"),
        ("masses", "mass"),
        ("patches", "patch"),
        ("pus", None),
        ("pelvis", None),
        ("abscess", None),
        ("gas", None),
        ("lens", "len"),
    ],
)
def test_regular_plurals(plural: str, one: str | None) -> None:
    """Regular plurals lose their ending; words that only end like one stay as they are, or become no word at all."""
    assert singular(plural) == one


@given(st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=200))
def test_every_letter_and_digit_is_in_a_token(text: str) -> None:
    """Nothing that can be spoken falls between the tokens, which stand in order and within the text."""
    covered = {i for t in tokenize(text) for i in range(t.start, t.end)}
    lost = [c for i, c in enumerate(text) if i not in covered and not c.isspace() and c != "_" and c.isalpha()]
    assert lost == []
    starts = [t.start for t in tokenize(text)]
    assert starts == sorted(starts)
