"""The words that are to be expected in a talk: English function words and those of the lexicon."""

from __future__ import annotations

import re
from dataclasses import fields
from functools import lru_cache

from dictate.lexicon.tables import Lexicon


def usual_words(lexicon: Lexicon) -> frozenset[str]:
    """English function words (spaCy's list) and every word of the phrases of the lexicon's tables, in lower case."""
    phrases = (
        row.words
        for table in fields(lexicon)
        if table.name != "rule_set"
        for row in getattr(lexicon, table.name)
        if hasattr(row, "words")
    )
    return _words("\n".join(phrases))


@lru_cache(maxsize=4)
def _words(text: str) -> frozenset[str]:
    from spacy.lang.en.stop_words import STOP_WORDS

    return frozenset(STOP_WORDS) | frozenset(re.findall(r"[a-z]+(?:'[a-z]+)?", text.lower()))
