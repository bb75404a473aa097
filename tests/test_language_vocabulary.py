"""Finding the lexicon's phrases in a talk."""

from __future__ import annotations

from functools import lru_cache

import pytest
from language_cases import WORDS

from dictate.language.tokens import tokenize
from dictate.language.vocabulary import PhraseTree, Term

TREE = PhraseTree()
for phrase, kind in [
    ("ear", "place"),
    ("ear flap", "place"),
    ("flap of ear", "place"),
    ("flap", "thing"),
    ("lump", "thing"),
    ("no lump", "denial"),
]:
    TREE.add(phrase.split(), kind, phrase)


def found(text: str) -> list[tuple[str, tuple[str, ...]]]:
    return [(t.kind, t.rows) for t in TREE.find(tokenize(text))]


def test_longest_phrase_wins() -> None:
    """A longer phrase hides the shorter ones inside it."""
    assert found("ear flap") == [("place", ("ear flap",))]


def test_plural_is_found_and_told() -> None:
    """A regular plural is the phrase of its singular, and the term says that it was a plural."""
    (term,) = TREE.find(tokenize("two lumps"))
    assert (term.rows, term.plural, term.first, term.last) == (("lump",), True, 1, 2)


@pytest.mark.parametrize("text", ["flap of his ear", "flap of the ear", "flap-of-the-ear"])
def test_determiners_and_hyphens_inside_a_phrase_do_not_matter(text: str) -> None:
    """The same phrase is found with another determiner, or with hyphens for blanks."""
    assert found(text) == [("place", ("flap of ear",))]


def test_phrases_do_not_begin_or_end_with_a_skipped_word() -> None:
    """A determiner before a phrase is no part of the term."""
    (term,) = TREE.find(tokenize("the ear"))
    assert (term.first, term.last, term.start, term.end) == (1, 2, 4, 7)


def test_rows_of_the_same_words_are_all_kept() -> None:
    """Words with two meanings give one term with both rows."""
    tree = PhraseTree()
    tree.add(["nails"], "place", "front")
    tree.add(["nails"], "place", "hind")
    (term,) = tree.find(tokenize("nails"))
    assert term.rows == ("front", "hind")


@lru_cache(maxsize=4)
def missed(table: str) -> tuple[str, ...]:
    """Rows of a table that reading their own words does not find."""
    out = []
    for row in getattr(WORDS.lexicon, table):
        tokens = tokenize(row.words, WORDS.spelling)
        terms: list[Term] = [t for t in WORDS.content.find(tokens) if t.kind == table]
        if not any(r is row for t in terms for r in t.rows):
            out.append(row.words)
    return tuple(out)


@pytest.mark.parametrize("table", ["site_words", "finding_words", "normal_words"])
def test_every_row_is_found_in_its_own_words(table: str) -> None:
    """No line of these tables is dead: its own words, read as a talk, lead to it, or to its side and the rest."""
    sides = {row.words for row in WORDS.lexicon.sides}
    assert [w for w in missed(table) if w.split()[0] not in sides] == []


@pytest.mark.parametrize("words", sorted(set(missed("site_words"))))
def test_a_row_that_begins_with_its_side_is_read_as_side_and_place(words: str, request: pytest.FixtureRequest) -> None:
    """A place whose words begin with its side is found as a side word and the rest as a place."""
    if any(row.words == words for row in WORDS.lexicon.sides):
        request.applymarker(
            pytest.mark.xfail(strict=True, reason="the same words stand in the sides as no side at all")
        )
    kinds = [t.kind for t in WORDS.content.find(tokenize(words, WORDS.spelling))]
    assert kinds == ["sides", "site_words"]


@pytest.mark.parametrize("table", ["finding_words", "normal_words"])
def test_no_side_is_also_a_statement(table: str) -> None:
    """Words that tell a side ("left and right") stand in no table of findings or normals."""
    sides = {row.words for row in WORDS.lexicon.sides if row.side}
    assert [row.words for row in getattr(WORDS.lexicon, table) if row.words in sides] == []
