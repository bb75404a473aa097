"""What the tests of the language step share: the shipped lexicon made ready, and ways to read by the rules alone."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.marking import Marked, mark, vocabulary
from dictate.language.polarity import Polarity, polarity
from dictate.language.quantities import quantities
from dictate.language.reader import read_stretches
from dictate.language.roles import Role, roles
from dictate.language.tokens import tokenize
from dictate.language.values import Said
from dictate.language.vocabulary import Term
from dictate.lexicon import load

WORDS = vocabulary(load())
KNOW = WORDS.know


def marked(text: str, *, species: str | None = None) -> Marked:
    """The talk with its tokens, terms and stretches."""
    return mark(text, WORDS, species=species)


def stretches(text: str) -> list[str]:
    """The words of each stretch."""
    talk = marked(text)
    return [talk.words(s.first, s.last) for s in talk.stretches]


def told_roles(text: str) -> list[Role]:
    """The role of each stretch."""
    return list(roles(marked(text)))


def said(text: str, *, species: str | None = None) -> tuple[Said, ...]:
    """The statements that the rules alone read from a talk."""
    talk = marked(text, species=species)
    return read_stretches(talk, roles(talk), KNOW)[0]


def short(one: Said) -> str:
    """A statement in a few words: "pinna left: no swelling", "liver: normal", "weight: 4.2 kg"."""
    place = f"{one.site} {one.side}" if one.side else one.site
    if one.value is not None:
        return f"{place}: {one.value.number:g} {one.value.unit}"
    if one.finding:
        return f"{place}: {'' if one.present else 'no '}{one.finding}"
    return f"{place}: {one.status}"


def brief(text: str) -> list[str]:
    """What the rules alone read, each statement in a few words."""
    return [short(s) for s in said(text)]


def polarity_of(text: str, words: str, *, solid: Sequence[Term] = ()) -> Polarity:
    """The polarity of `words`, which stand once in `text`."""
    tokens = tokenize(text)
    start = text.index(words)
    inside = [i for i, t in enumerate(tokens) if start <= t.start < start + len(words)]
    return polarity(tokens, WORDS.context.find(tokens), inside[0], inside[-1] + 1, solid=solid)


def quantity_term(text: str) -> Term:
    """The one quantity of a text as a term."""
    (q,) = quantities(text)
    return Term("quantity", (q,), 0, len(tokenize(text)), q.char_start, q.char_end)
