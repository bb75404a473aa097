"""From characters of the talk to seconds of the sound, and doubts where a word that counts was heard unsurely."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import replace

from dictate.exam.context import Context
from dictate.exam.statements import Doubt, Statement
from dictate.lexicon.tables import Lexicon
from dictate.speech.words import Word

LOW_PROBABILITY = "heard with low probability"
# A short word that stands only inside longer phrases of the tables ("of", "the") bears nothing by itself.
SHORTEST_PART = 4


def word_spans(words: Sequence[Word]) -> list[tuple[int, int]]:
    """The characters of each word in the talk's text, which is the words joined by single spaces. Half-open."""
    spans, at = [], 0
    for word in words:
        spans.append((at, at + len(word.text)))
        at += len(word.text) + 1
    return spans


class Hearing:
    """The words of a sound, found by the characters they make. Empty for a text."""

    def __init__(self, words: tuple[Word, ...]) -> None:
        self.words = words
        spans = word_spans(words)
        self._starts = [start for start, _ in spans]
        self._ends = [end for _, end in spans]

    def between(self, char_start: int, char_end: int) -> tuple[Word, ...]:
        """The words that share a character with [char_start, char_end)."""
        return self.words[bisect_right(self._ends, char_start) : bisect_left(self._starts, char_end)]

    def seconds(self, char_start: int, char_end: int) -> tuple[float, float] | tuple[None, None]:
        """When these characters were spoken; None and None for a text."""
        words = self.between(char_start, char_end)
        return (words[0].start, words[-1].end) if words else (None, None)


def doubt_unsure_words(statements: tuple[Statement, ...], context: Context) -> tuple[Statement, ...]:
    """The same statements; one that hangs on a word heard with low probability carries a doubt that names the word."""
    if not context.transcript.words:
        return statements
    hearing = Hearing(context.transcript.words)
    return tuple(_doubted(statement, hearing, context) for statement in statements)


def _doubted(statement: Statement, hearing: Hearing, context: Context) -> Statement:
    below = context.settings.heard_below
    heard = dict.fromkeys(w for e in statement.evidence for w in hearing.between(e.char_start, e.char_end))
    low = [w for w in heard if w.probability < below]
    if not low:
        return statement
    bearing = bearing_words(context.lexicon, statement.site, statement.finding)
    unsure = [w for w in low if bearing & set(bare_words(w.text))]
    if not unsure:
        return statement
    names = ", ".join(dict.fromkeys(f"“{w.text.strip('.,;:?!')}”" for w in unsure))
    readings = tuple(dict.fromkeys(r.text for w in unsure for r in w.readings))
    doubt = Doubt(LOW_PROBABILITY, f"Heard with low probability: {names}.", ("as heard", *readings, "something else"))
    return replace(statement, doubts=(*statement.doubts, doubt))


def bare_words(text: str) -> list[str]:
    """The words of `text` in lower case, without punctuation."""
    return re.findall(r"[a-z0-9]+(?:'[a-z]+)?", text.lower())


def bearing_words(lexicon: Lexicon, site: str, finding: str | None) -> frozenset[str]:
    """The single words by which this site, this finding, a side or an absence is told."""
    own = _parts(tuple(row.words for row in lexicon.site_words if row.site == site))
    found = _parts(tuple(row.words for row in lexicon.finding_words if row.finding == finding))
    return own | found | _parts(tuple(row.words for table in (lexicon.sides, lexicon.negation) for row in table))


def _parts(phrases: tuple[str, ...]) -> frozenset[str]:
    whole: set[str] = set()
    parts: set[str] = set()
    for phrase in phrases:
        words = bare_words(phrase)
        (whole if len(words) == 1 else parts).update(words)
    return frozenset(whole | {w for w in parts if len(w) >= SHORTEST_PART})
