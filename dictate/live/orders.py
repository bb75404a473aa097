"""Spoken orders: the wake word, then an order and nothing else, as one utterance.

What was heard word for word is an order at once. What only sounds like one ("no book, paws") is put before the
recogniser again: is that order, in these very words, as likely as what it heard? Two things must then hold, the
likeness of the letters and the likelihood of the sound, so that neither a mis-heard remark nor noise becomes an order.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rapidfuzz.distance import JaroWinkler

from dictate.lexicon.tables import Lexicon
from dictate.live.spoken import bare, folded, said_once

Likelihoods = Callable[[Sequence[str]], tuple[tuple[float, ...], ...]]

LONGEST = 9  # words of an utterance that may be an order
SHORT = 4  # words up to which it is put to the test however it begins: noise may spoil the wake word altogether
LIKE_WAKE, LIKE_ORDER = 0.55, 0.55
ALIKE_TRIED = 6
# Limits of the mean log probability of a token of the wake word and of the order behind it: the less sure the one is,
# the surer must the other be. Most orders that were mis-heard in noise lie within; sentences that only sound alike lay
# outside, the nearest ("no look, carry on then") at -2.3 and -1.8, and at -1.6 and -2.2.
LEAST_WAKE, SURE_WAKE, LEAST_ORDER, STEEP, LOWEST = -4.2, -2.2, -1.5, 0.72, -2.3


@dataclass(frozen=True, slots=True)
class Order:
    """`order` is a name of the table's column; `said` the phrase of the table, wake word left out."""

    order: str
    said: str


@dataclass(frozen=True, slots=True)
class OrderTable:
    """The wake word and the phrases behind it, folded."""

    wake: tuple[str, ...]
    phrases: dict[tuple[str, ...], str]
    courtesies: tuple[tuple[str, ...], ...]

    def exact(self, text: str) -> Order | None:
        """The order that an utterance is, word for word; None where it is none."""
        words = said_once(folded(text))
        words = bare(words, self.courtesies)
        rest = bare(words[len(self.wake) :], self.courtesies) if words[: len(self.wake)] == self.wake else ()
        order = self.phrases.get(rest)
        return Order(order, " ".join(rest)) if order else None

    def begins_like_one(self, text: str) -> bool:
        """Whether an utterance begins with the wake word, or with something that sounds like it."""
        words = folded(text)
        return any(score >= LIKE_WAKE for score, _ in self._splits(words))

    def alike(self, text: str) -> tuple[Order, ...]:
        """The orders that an utterance may be, by its beginning; the likest first, then the usual phrase of each."""
        words = said_once(folded(text))
        if not words or not self.wake or len(words) > LONGEST:
            return ()
        if len(words) > SHORT and not self.begins_like_one(text):
            return ()
        found: dict[tuple[str, ...], float] = {}
        for wake, rest in self._splits(words):
            if wake < LIKE_WAKE or not rest:
                continue
            said = " ".join(rest)
            for phrase in self.phrases:
                near = JaroWinkler.similarity(said, " ".join(phrase), prefix_weight=0.0)
                if near >= LIKE_ORDER:
                    found[phrase] = max(found.get(phrase, 0.0), wake + near)
        usual = {order: phrase for phrase, order in reversed(self.phrases.items())}
        best = dict.fromkeys([*sorted(found, key=lambda p: -found[p])[:ALIKE_TRIED], *usual.values()])
        return tuple(Order(self.phrases[p], " ".join(p)) for p in best)

    def _splits(self, words: Sequence[str]) -> list[tuple[float, tuple[str, ...]]]:
        """How like the wake word each beginning of one to three words is, and what is left."""
        wake = "".join(self.wake)
        longest = len(self.wake) + 2
        return [
            (JaroWinkler.similarity("".join(words[:n]), wake, prefix_weight=0.0), tuple(words[n:]))
            for n in range(1, min(longest, len(words)) + 1)
        ]


def order_at_end(text: str, table: OrderTable) -> tuple[int, Order] | None:
    """The order with which an utterance ends, word for word, and the place of its wake word among the words of `text`;
    None where there is none, or where it is the whole utterance."""
    parts = text.split()
    for place in range(len(parts) - 1, 0, -1):
        rest = " ".join(parts[place:])
        if folded(rest)[: len(table.wake)] == table.wake and (order := table.exact(rest)):
            return place, order
    return None


def order_table(lexicon: Lexicon, wake: str = "") -> OrderTable:
    """The table with this wake word, or with the lexicon's own."""
    rows = lexicon.order_words
    chosen = wake or next((r.said for r in reversed(rows) if r.order == "wake"), "")
    phrases = {folded(r.said): str(r.order) for r in rows if r.order not in ("wake", "courtesy")}
    return OrderTable(folded(chosen), phrases, tuple(folded(r.said) for r in rows if r.order == "courtesy"))


def _mean(values: Sequence[float]) -> float:
    return sum(values) / max(1, len(values))


def order_heard(text: str, table: OrderTable, likelihoods: Likelihoods) -> Order | None:
    """The order that an utterance is, or None.

    Args:
        text: what was heard.
        likelihoods: for each phrase, its tokens' log probabilities in the same sound (`QuickEar.likelihoods`).
    """
    if not table.wake:
        return None
    if found := table.exact(text):
        return found
    tried = table.alike(text)
    if not tried:
        return None
    wake = " ".join(table.wake)
    told = likelihoods([wake.capitalize(), *(f"{wake.capitalize()}, {o.said}." for o in tried)])
    length = len(told[0])
    best: tuple[float, Order] | None = None
    for order, tokens in zip(tried, told[1:], strict=True):
        of_wake, of_order = _mean(tokens[:length]), _mean(tokens[length:])
        least = max(LOWEST, LEAST_ORDER + STEEP * (SURE_WAKE - of_wake))
        if of_wake >= LEAST_WAKE and of_order >= least and (best is None or of_order > best[0]):
            best = (of_order, order)
    return best[1] if best else None
