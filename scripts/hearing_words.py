"""Words heard beside words spoken: which of them count, and which came out right.

Words are compared as `measure_words.normal` writes them: lower case, numbers written out. Those of the truth are laid
beside those heard by the least number of changes; a word is right where the same word stands beside it.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from measure_words import normal, stem  # noqa: E402
from rapidfuzz.distance import Levenshtein  # noqa: E402

from dictate.lexicon import Lexicon  # noqa: E402

NUMBERS = ("digit", "teen", "ten", "hundred", "thousand", "zero", "half", "quarter", "point")
SIDES = ("left", "right", "both")
SHORTEST_SIDE = 4  # letters: shorter words of the table are written short forms


@dataclass(frozen=True, slots=True)
class Beside:
    """The words of a truth, and for each the place of the same word among those heard (None: wrong or left out).

    `near` is for each word the half-open stretch of heard words that stands at its place, empty where none does.
    """

    spoken: tuple[str, ...]
    heard: tuple[str, ...]
    same: tuple[int | None, ...]
    near: tuple[tuple[int, int], ...]


def beside(truth: str, heard: str) -> Beside:
    """The words of a truth beside those heard."""
    spoken, got = normal(truth).split(), normal(heard).split()
    same: list[int | None] = [None] * len(spoken)
    near = [(0, 0)] * len(spoken)
    for op in Levenshtein.opcodes(spoken, got):
        for at in range(op.src_start, op.src_end):
            if op.tag == "equal":
                place = op.dest_start + at - op.src_start
                same[at], near[at] = place, (place, place + 1)
            else:
                near[at] = (op.dest_start, op.dest_end)
    return Beside(tuple(spoken), tuple(got), tuple(same), tuple(near))


def deciding_words(lexicon: Lexicon) -> dict[str, str]:
    """Single words that tell a side, deny, or are part of a number, each with which of these it does."""
    rows = [(row.word, "number") for row in lexicon.number_words if row.kind in NUMBERS]
    rows += [(row.words, "negation") for row in lexicon.negation if row.kind in ("before", "after")]
    rows += [(row.words, "side") for row in lexicon.sides if row.side in SIDES and len(row.words) >= SHORTEST_SIDE]
    return {word: kind for words, kind in rows for word in [normal(words)] if word and " " not in word}


def kind_of(word: str, deciding: Mapping[str, str]) -> str:
    """Which kind of deciding word this is, or an empty text."""
    return "negation" if word.endswith("n't") else deciding.get(word, "")


def put_in(words: Beside, trade: frozenset[str]) -> int:
    """How many words of the trade were heard that were not spoken at that place."""
    right = {place for place in words.same if place is not None}
    wrong = [w for i, w in enumerate(words.heard) if i not in right and stem(w) in trade]
    missed = Counter(stem(w) for w, place in zip(words.spoken, words.same, strict=True) if place is None)
    # A word that only stands a place further on was spoken all the same.
    return sum((Counter(map(stem, wrong)) - missed).values())


def places_of(text: str, words: Sequence[str]) -> list[tuple[int, int]]:
    """For each normalised word of a text (`normal(text).split()`) the characters, half-open, of the written word that
    it comes from."""
    found: list[tuple[int, int]] = []
    for match in re.finditer(r"\S+", text):
        found += [match.span()] * len(normal(match[0]).split())
    return found if len(found) == len(words) else []
