"""Whether a stretch of a sentence is negated, by the very scope rules that the reading uses."""

from __future__ import annotations

from dictate.language.polarity import polarity
from dictate.language.tokens import tokenize
from dictate.language.vocabulary import PhraseTree
from dictate.lexicon import Lexicon, load

_TREES: dict[str, PhraseTree] = {}


def negated(sentence: str, start: int, end: int, *, lexicon: Lexicon | None = None) -> bool:
    """Whether characters `start` to `end` (half-open) of `sentence` are said to be absent.

    Args:
        lexicon: the tables `negation` and `hedges`; the shipped ones by default.
    """
    lexicon = lexicon or load()
    tokens = tokenize(sentence)
    cues = _tree(lexicon).find(tokens)
    inside = [i for i, t in enumerate(tokens) if t.start < end and start < t.end]
    if not inside:
        return False
    return polarity(tokens, cues, inside[0], inside[-1] + 1).negated


def _tree(lexicon: Lexicon) -> PhraseTree:
    if lexicon.rule_set not in _TREES:
        tree = PhraseTree()
        for table in ("negation", "hedges"):
            for row in getattr(lexicon, table):
                tree.add([t.text for t in tokenize(row.words)], table, row)
        _TREES[lexicon.rule_set] = tree
    return _TREES[lexicon.rule_set]
