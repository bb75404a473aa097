"""Short forms that a recogniser wrote letter by letter ("B A R", "B.A.R."), joined where the lexicon knows them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from dictate.language.heard import Piece
from dictate.language.likeness import Proposal
from dictate.language.marking import Vocabulary
from dictate.language.tokens import tokenize

LETTERS = 5  # of a short form at most
BETWEEN = re.compile(r"\.? ?")  # what may stand between two letters
FULL_POINT = re.compile(r"\.(?=,| [a-z0-9])")  # the last letter's own point, not the sentence's


def spelled(text: str, pieces: Sequence[Piece], words: Vocabulary) -> Iterator[Proposal]:
    """A proposal for each run of single letters that together are a short form of the lexicon."""
    first = 0
    while first < len(pieces):
        last = first
        while last < len(pieces) and _is_letter(pieces[last]) and (last == first or _close(text, pieces, last)):
            last += 1
        # The article before the letters is none of them ("a B C S of five").
        begins = (first, first + 1) if pieces[first].text == "a" else (first,)
        for begin in begins:
            meant = "".join(p.text for p in pieces[begin:last])
            if 1 < last - begin <= LETTERS and _is_known(meant, words):
                yield Proposal(begin, last, meant, "table", 0.99)
                break
        first = max(last, first + 1)


def point_behind(text: str, end: int) -> int:
    """The end of a joined short form with its last letter's point, where that point ends no sentence."""
    return end + 1 if text[end - 2 : end - 1] == "." and FULL_POINT.match(text, end) else end


def _is_letter(piece: Piece) -> bool:
    return len(piece.text) == 1 and piece.text.isalpha()


def _close(text: str, pieces: Sequence[Piece], at: int) -> bool:
    return BETWEEN.fullmatch(text, pieces[at - 1].end, pieces[at].start) is not None


def _is_known(word: str, words: Vocabulary) -> bool:
    tokens = tokenize(word, words.spelling)
    return bool(words.content.find(tokens) or words.patients.find(tokens))
