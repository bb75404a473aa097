"""Phrases of the tables of orders and answers, compared with what was heard: folded, and less words of courtesy."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from rapidfuzz.distance import JaroWinkler

ALIKE = 0.8  # likeness of letters from which a sentence is the one before it, said again


def folded(text: str) -> tuple[str, ...]:
    """The words of a text in lower case, without signs; "what's" stays one word."""
    return tuple(re.findall(r"[a-z0-9]+(?:'[a-z]+)?(?:\.\d+)?", text.lower().replace("’", "'")))


def said_once(words: Sequence[str]) -> tuple[str, ...]:
    """The words, cut to their first round where they are nothing but one phrase again and again: a way in which the
    recogniser fails on short sounds. The last round may be broken off."""
    for length in range(1, len(words)):
        if all(word == words[i % length] for i, word in enumerate(words)):
            return tuple(words[:length])
    return tuple(words)


def unstuttered(words: Sequence[str]) -> tuple[str, ...]:
    """The words, each that is said twice running taken once."""
    return tuple(w for i, w in enumerate(words) if i == 0 or w != words[i - 1])


def told_once(text: str) -> str:
    """A text, cut to its first sentence where all others are that sentence again, heard a little otherwise perhaps or
    broken off: given little sound, the recogniser repeats itself."""
    first, *others = re.split(r"(?<=[.?!])\s+", text.strip())
    plain = " ".join(folded(first))
    if not others or not plain:
        return text
    for other in others:
        again = " ".join(folded(other))
        if JaroWinkler.similarity(again, plain[: max(1, len(again))], prefix_weight=0.0) < ALIKE:
            return text
    return first


def bare(words: Sequence[str], courtesies: Iterable[tuple[str, ...]]) -> tuple[str, ...]:
    """The words less phrases of courtesy at either end."""
    words, phrases = tuple(words), tuple(courtesies)
    again = True
    while again:
        again = False
        for phrase in phrases:
            n = len(phrase)
            if n < len(words) and words[:n] == phrase:
                words, again = words[n:], True
            if n < len(words) and words[-n:] == phrase:
                words, again = words[:-n], True
    return words
