"""Whether what is named is said to be there: negation with its scope, and hedges.

The method is that of trigger terms with a scope and words that end it (Chapman et al. 2001, "A simple algorithm for
identifying negated findings and diseases in discharge summaries", J Biomed Inform 34:301-310), with rules of our own
for lists and for marks. All words stand in the tables `negation` and `hedges`.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from dictate.language.tokens import Token
from dictate.language.vocabulary import Term, starting_in

HARD_ENDS = frozenset(".?!;:()\n")
LIST_JOINS = frozenset(["or", "nor", "and"])
HEDGE_BEFORE, HEDGE_AFTER = 12, 8  # tokens before and behind a concept in which a hedge speaks of it
LONGEST_CUE = 10  # tokens
AFTER_REACH = 6  # tokens between a concept and a word such as "absent" that stands behind it


@dataclass(frozen=True, slots=True)
class Polarity:
    """`negations` are the cues in whose scope the words lie: one turns the meaning, two turn it back."""

    negations: tuple[Term, ...] = ()
    hedges: tuple[Term, ...] = ()

    @property
    def negated(self) -> bool:
        return len(self.negations) % 2 == 1


def polarity(
    tokens: Sequence[Token],
    cues: Sequence[Term],
    first: int,
    last: int,
    *,
    starts: Sequence[int] = (),
    solid: Sequence[Term] = (),
) -> Polarity:
    """The polarity of tokens `first` to `last`.

    Args:
        cues: terms of the tables `negation` and `hedges`.
        starts: token positions where something new begins (a stretch with a place of its own): scope ends there.
        solid: terms of other kinds; a statement of its own between cue and words ends the scope.
    """
    # Nothing reaches across the last start before the words, so that all before it need not be looked at.
    begun = starts[bisect_left(starts, first) - 1] if starts and starts[0] < first else 0
    low, high, passed = bounds(tokens, first, last, floor=min(begun, first - HEDGE_BEFORE) - LONGEST_CUE)
    near = [c for c in starting_in(cues, low, high) if c.last <= high and c.first not in passed]
    ends = sorted([c for c in near if _is(c, "end")], key=lambda c: c.first)
    skip = {i for c in near if _is(c, "pseudo") for i in range(c.first, c.last)}
    found: list[Term] = []
    for cue in near:
        if cue.first in skip and not _is(cue, "pseudo"):
            continue
        if _is(cue, "before") and cue.last <= first:
            between = range(cue.last, first)
            if any(e.first in between for e in ends) or any(s in between for s in starts):
                continue
            if _comma_ends(tokens, cue.last, first, solid):
                continue
            found.append(cue)
        elif _is(cue, "after") and cue.first >= last and cue.first - last <= AFTER_REACH:
            between = range(last, cue.first)
            if any(e.first in between for e in ends) or any(s in between for s in starts):
                continue
            if any(tokens[i].text == "," for i in between) and cue.first - last > 1:
                continue
            if any(t.kind in ("finding_words", "normal_words") for t in starting_in(solid, last, cue.first)):
                continue
            found.append(cue)
    reach = range(max(low, first - HEDGE_BEFORE), min(high, last + HEDGE_AFTER))
    hedges = tuple(c for c in near if c.kind == "hedges" and c.first in reach)
    return Polarity(tuple(_latest(tokens, _outermost(found))), hedges)


def bounds(tokens: Sequence[Token], first: int, last: int, *, floor: int = 0) -> tuple[int, int, set[int]]:
    """The tokens around `first` to `last` up to marks that end all scope, and those of whole brackets passed over.

    Neither tokens before `floor` are looked at, nor those too far behind the words for a cue.
    """
    passed: set[int] = set()
    low = first
    while low > max(floor, 0) and tokens[low - 1].text not in HARD_ENDS - {")"}:
        if tokens[low - 1].text == ")":
            opening = _matching(tokens, low - 1)
            if opening is None:
                break
            passed |= set(range(opening, low))
            low = opening
        else:
            low -= 1
    high = last
    ceiling = min(len(tokens), last + max(AFTER_REACH, HEDGE_AFTER) + LONGEST_CUE)
    while high < ceiling and tokens[high].text not in HARD_ENDS:
        high += 1
    return low, high, passed


def _matching(tokens: Sequence[Token], closing: int) -> int | None:
    """The bracket that opens what the one at `closing` closes, in the same sentence."""
    for i in range(closing - 1, -1, -1):
        if tokens[i].text == "(":
            return i
        if tokens[i].text in HARD_ENDS:
            return None
    return None


def _is(cue: Term, kind: str) -> bool:
    return cue.kind == "negation" and any(row.kind == kind for row in cue.rows)


def _outermost(cues: list[Term]) -> list[Term]:
    """One cue only of those that overlap, or that stand side by side as one denial ("no", "none of")."""
    out: list[Term] = []
    for cue in sorted(cues, key=lambda c: (c.first, -len(c))):
        if not out or cue.first >= out[-1].last:
            out.append(cue)
    return out


def _latest(tokens: Sequence[Token], cues: list[Term]) -> list[Term]:
    """The cues less those that a list has started anew since ("no heat and no swelling", "no heat nor swelling")."""
    anew = (*LIST_JOINS, ",")
    begins = [i for i, c in enumerate(cues) if i and (tokens[c.first - 1].text in anew or tokens[c.first].text in anew)]
    return cues[begins[-1] :] if begins else cues


def _comma_ends(tokens: Sequence[Token], first: int, last: int, solid: Sequence[Term]) -> bool:
    """Whether a comma between `first` and `last` ends the scope: not within a list ("no heat, pain or swelling")."""
    commas = [i for i in range(first, last) if tokens[i].text == ","]
    if not commas:
        return False
    for comma in commas:
        stop = next((i for i in range(comma + 1, last) if tokens[i].text == ","), last)
        part = range(comma + 1, stop)
        if any(
            t.first in part
            and t.kind in ("site_words", "normal_words", "sides", "severity", "quantity", "not_examined")
            for t in solid
        ):
            return True
    end = last
    while end < len(tokens) and tokens[end].text not in HARD_ENDS:
        end += 1
    return not any(tokens[i].text in LIST_JOINS for i in range(commas[0], end))
