"""Phrases of the tables of orders and answers, compared with what was heard: folded, and less words of courtesy."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence


def folded(text: str) -> tuple[str, ...]:
    """The words of a text in lower case, without signs; "what's" stays one word."""
    return tuple(re.findall(r"[a-z0-9]+(?:'[a-z]+)?(?:\.\d+)?", text.lower().replace("’", "'")))


def said_once(words: Sequence[str]) -> tuple[str, ...]:
    """The words, cut to their first round where they are nothing but one phrase again and again: a way in which the
    recogniser fails on short sounds. The last round may be broken off."""
    for length in range(1, len(words) // 2 + 1):
        if all(word == words[i % length] for i, word in enumerate(words)):
            return tuple(words[:length])
    return tuple(words)


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
