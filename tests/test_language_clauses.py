"""Cutting a talk into stretches that say one thing of one place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from language_cases import WORDS, marked, stretches

from dictate.language.clauses import cut
from dictate.language.tokens import tokenize


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("Left ear red, right ear clean.", ["Left ear red", "right ear clean"]),
        ("Left ear red but right ear clean", ["Left ear red", "but right ear clean"]),
        ("Heart regular. No murmur.", ["Heart regular", "No murmur"]),
        ("Heart regular\n\nLungs clear", ["Heart regular", "Lungs clear"]),
        ("Left elbow is thick and painful.", ["Left elbow is thick and painful"]),
        ("Left ear is red and the right ear is clean.", ["Left ear is red", "and the right ear is clean"]),
        ("No redness and no discharge", ["No redness", "and no discharge"]),
        ("Weight 4.2 kilos, temperature 38.6", ["Weight 4.2 kilos", "temperature 38.6"]),
        ("well-healed scar", ["well-healed scar"]),
        ("Heart regular - lungs clear", ["Heart regular", "lungs clear"]),
    ],
)
def test_marks_turns_and_joins_cut(text: str, parts: list[str]) -> None:
    """A talk is cut at marks, before a turn, and before "and" with whole statements on both sides, nowhere else."""
    assert stretches(text) == parts


def test_new_place_cuts_without_marks() -> None:
    """In a talk without marks a place that is named after a statement opens a new stretch."""
    assert stretches("left ear red right ear clean") == ["left ear red", "right ear clean"]


def test_a_place_behind_a_word_of_place_stays() -> None:
    """The place that a preposition ties to its finding stays with it."""
    assert stretches("skin has a scab on the left flank") == ["skin has a scab on the left flank"]


def test_side_and_site_are_not_parted() -> None:
    """A side word and the site it stands before are in one stretch."""
    text = "No pain in the left stifle, swelling in the left carpus and heat in the left elbow"
    assert stretches(text)[-1].endswith("the left elbow")


def test_sentences_are_counted() -> None:
    """Stretches of one sentence share its number, and an end mark or a line break begins the next."""
    assert [s.sentence for s in marked("Ears red, sore. Eyes fine\nNose dry").stretches] == [0, 0, 1, 2]


def test_given_beginnings_cut() -> None:
    """A text without marks is cut where it is told to be, and a place or subject there opens a sentence."""
    text = "heart regular lungs clear"
    tokens = tokenize(text)
    found = cut(text, tokens, WORDS.content.find(tokens), begins=frozenset([0, 14]))
    assert [(text[s.start : s.end], s.sentence) for s in found] == [("heart regular", 0), ("lungs clear", 1)]


LEXICON_WORDS = st.sampled_from([w for row in WORDS.lexicon.site_words[:300] for w in row.words.split()])
COMMON = st.sampled_from(
    ["no", "left", "both", "is", "the", "and", "but", ",", ".", "?", "(", ")", "red", "clean", "lump", "same", "sorry"]
)
TALK = st.lists(st.one_of(LEXICON_WORDS, COMMON), max_size=60).map(" ".join)


@given(TALK)
def test_stretches_hold_every_word_once_and_in_order(text: str) -> None:
    """Stretches do not overlap, keep the order of the talk, and leave out nothing but marks."""
    talk = marked(text)
    at, inside = 0, set()
    for s in talk.stretches:
        assert s.first >= at and s.last > s.first
        inside |= set(range(s.first, s.last))
        at = s.last
    assert [t.text for i, t in enumerate(talk.tokens) if i not in inside and not t.is_mark] == []


@given(TALK)
def test_terms_lie_within_their_stretch(text: str) -> None:
    """Every term of a stretch lies in it, and no term belongs to two stretches."""
    talk = marked(text)
    assert all(s.first <= t.first and t.last <= s.last for s in talk.stretches for t in s.terms)
    assert sum(len(s.terms) for s in talk.stretches) <= len(talk.terms)
