"""Holding back what the recogniser makes up: words said again and again by its loop, and text where nobody spoke.

What is held back is listed with its text, never lost.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from dictate.speech.recogniser import Heard
from dictate.speech.words import Unheard, Word

_LONGEST_ROUND = 12  # words in one round of a loop
_ROUNDS = 4  # people say a thing three times, seldom four
_LOOP_WORDS = 6
_UNLIKELY = -1.0  # Whisper's own limit for the mean log probability
_NOBODY = 0.6  # and for its probability that nobody speaks


@dataclass(frozen=True, slots=True)
class Kept:
    """The words that stay, and what does not."""

    words: tuple[Word, ...]
    dropped: tuple[Unheard, ...]


def kept(heard: tuple[Heard, ...]) -> Kept:
    """The words of these segments, less loops and less segments that Whisper itself holds for no speech."""
    words: list[Word] = []
    dropped: list[Unheard] = []
    for segment in heard:
        if not segment.words:
            continue
        if segment.no_speech > _NOBODY and segment.score < _UNLIKELY:
            dropped.append(_not_kept(segment.words))
            continue
        words.extend(segment.words)
    whole, loops = without_loops(tuple(words))
    return Kept(whole, (*dropped, *loops))


def without_loops(words: tuple[Word, ...]) -> tuple[tuple[Word, ...], tuple[Unheard, ...]]:
    """The words with each loop cut down to its first round. A loop is a round of up to twelve words that comes at least
    four times running and fills six words or more, numbers left alone ("two two two two" may be a row of teeth)."""
    plain = [re.sub(r"[^\w']+", "", w.text.lower()) for w in words]
    stay: list[Word] = []
    dropped: list[Unheard] = []
    at = 0
    while at < len(words):
        length, rounds = _loop_at(plain, at)
        if not length:
            stay.append(words[at])
            at += 1
            continue
        end = at + length * rounds
        stay.extend(words[at : at + length])
        dropped.append(_not_kept(words[at + length : end]))
        at = end
    return tuple(stay), tuple(dropped)


def _loop_at(plain: list[str], at: int) -> tuple[int, int]:
    """How many words a round of the loop that begins here has, and how many rounds; (0, 0) for no loop."""
    for length in range(1, _LONGEST_ROUND + 1):
        first = plain[at : at + length]
        if len(first) < length or any(any(c.isdigit() for c in w) for w in first):
            continue
        rounds = 1
        while plain[at + rounds * length : at + (rounds + 1) * length] == first:
            rounds += 1
        if rounds >= _ROUNDS and rounds * length >= _LOOP_WORDS:
            return length, rounds
    return 0, 0


def _not_kept(words: tuple[Word, ...]) -> Unheard:
    text = " ".join(w.text for w in words)
    return Unheard(words[0].start, words[-1].end, "not kept", text if len(text) <= 300 else text[:297] + "...")
