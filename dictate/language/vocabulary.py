"""The lexicon made ready for reading: every phrase in a tree of words, longest match first."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any

from dictate.language.tokens import DETERMINERS, Token, singular

HYPHENS = frozenset("-–'’")


@dataclass(frozen=True, slots=True)
class Term:
    """Words of the talk that stand in the lexicon. `first` and `last` are token positions, half-open.

    `rows` are the table rows that these words may mean, in the tables' order; `kind` is the table. `plural` is True
    where the last word was met in its plural.
    """

    kind: str
    rows: tuple[Any, ...]
    first: int
    last: int
    start: int
    end: int
    plural: bool = False

    def __len__(self) -> int:
        return self.last - self.first


def starting_in(terms: Sequence[Term], first: int, last: int) -> Sequence[Term]:
    """Those of `terms`, which are in the order of the talk, that begin at tokens `first` to `last` (half-open)."""
    low = bisect_left(terms, first, key=_first)
    return terms[low : bisect_left(terms, last, lo=low, key=_first)]


_first = attrgetter("first")


class PhraseTree:
    """A tree of phrases. Built once, then only read."""

    def __init__(self) -> None:
        self._root: dict[str, Any] = {}

    def add(self, words: Sequence[str], kind: str, row: Any) -> None:
        node = self._root
        for word in words:
            node = node.setdefault(word, {})
        node.setdefault("", {}).setdefault(kind, []).append(row)

    def at(self, tokens: Sequence[Token], first: int) -> Iterator[tuple[int, bool, dict[str, list[Any]]]]:
        """Every phrase that begins at token `first`: where it ends, whether in the plural, and its rows by kind."""
        stack: list[tuple[dict[str, Any], int]] = [(self._root, first)]
        while stack:
            node, at = stack.pop()
            if at >= len(tokens):
                continue
            word = tokens[at].text
            inside = at > first
            if word in node:
                child = node[word]
                if "" in child:
                    yield at + 1, False, child[""]
                stack.append((child, at + 1))
            if (one := singular(word)) and one in node and "" not in node.get(word, {}):
                if "" in node[one]:
                    yield at + 1, True, node[one][""]
                stack.append((node[one], at + 1))
            if inside and (word in DETERMINERS or word in HYPHENS) and word not in node:
                stack.append((node, at + 1))

    def find(self, tokens: Sequence[Token]) -> tuple[Term, ...]:
        """The longest phrases of `tokens` that do not overlap; of equally long ones all rows are kept."""
        found: list[Term] = []
        for first in range(len(tokens)):
            longest: dict[int, list[Term]] = {}
            for last, plural, kinds in self.at(tokens, first):
                for kind, rows in kinds.items():
                    term = Term(kind, tuple(rows), first, last, tokens[first].start, tokens[last - 1].end, plural)
                    longest.setdefault(last, []).append(term)
            for terms in longest.values():
                found.extend(terms)
        return tuple(sorted(longest_first(found), key=lambda t: (t.first, t.kind)))


def longest_first(terms: Iterable[Term]) -> list[Term]:
    """Drop every term that overlaps a longer one (or one as long that begins earlier); same-place terms all stay."""
    kept: list[Term] = []
    taken: dict[int, tuple[int, int]] = {}
    for term in sorted(terms, key=lambda t: (-len(t), t.first)):
        place = (term.first, term.last)
        if all(taken.get(i, place) == place for i in range(term.first, term.last)):
            kept.append(term)
            for i in range(term.first, term.last):
                taken[i] = place
    return kept
