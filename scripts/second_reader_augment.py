"""Changes to talks for training: sides exchanged, stops dropped, words mis-heard, talks spliced.

Every change keeps the marks true.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from difflib import SequenceMatcher

from second_reader_data import SIDES, STRIP, Talk, bare, ends_sentence, joined, mapped, part, unpunctuated

OTHER_SIDE = {"left": "right", "right": "left"}
NO_SIDE_BEFORE = frozenset(
    [
        "all",
        "that's",
        "alright",
        "just",
        "quite",
        "about",
        "she's",
        "he's",
        "it's",
        "be",
        "is",
        "you're",
        "they're",
        "are",
        "looks",
        "feels",
        "sounds",
    ]
)
NO_SIDE_AFTER = frozenset(
    ["then", "now", "so", "okay", "ok", "away", "as", "where", "well", "there", "up", "down", "through"]
)


def sides_exchanged(talk: Talk) -> Talk:
    """Left for right and right for left, in words and marks. A "right" that is no side, by its neighbours, stays."""
    words: list[str | None] = []
    for i, w in enumerate(talk.words):
        core = bare(w)
        other = OTHER_SIDE.get(core)
        if core == "right" and other:
            before = bare(talk.words[i - 1]) if i else ""
            after = bare(talk.words[i + 1]) if i + 1 < len(talk.words) else ""
            opens = i == 0 or ends_sentence(talk.words[i - 1])
            if before in NO_SIDE_BEFORE or after in NO_SIDE_AFTER or (opens and w[-1] in ",.!"):
                other = None
        if other:
            at = w.lower().find(core)
            words.append(w[:at] + (other.capitalize() if w[at].isupper() else other) + w[at + len(core) :])
        else:
            words.append(w)
    new = mapped(talk, words)
    marks = tuple(
        replace(m, fact=replace(m.fact, side=OTHER_SIDE.get(m.fact.side, m.fact.side))) if m.fact else m
        for m in new.marks
    )
    return replace(new, marks=marks)


def partly_punctuated(talk: Talk, rng: random.Random) -> Talk:
    """Some stops dropped, sometimes all commas, sometimes all capitals."""
    keep_comma, keep_end, lower = rng.choice((0.0, 0.5)), rng.choice((0.5, 0.8, 1.0)), rng.random() < 0.4
    words: list[str | None] = []
    for w in talk.words:
        keep = keep_end if ends_sentence(w) else keep_comma
        w = w if rng.random() < keep else w.rstrip(STRIP)
        words.append((w.lower() if lower else w) or None)
    return mapped(talk, words)


def numbers_changed(talk: Talk, rng: random.Random) -> Talk:
    """Digits exchanged for others of the same length."""

    def changed(w: str) -> str:
        return "".join(rng.choice("123456789") if c.isdigit() and c != "0" else c for c in w)

    return mapped(talk, [changed(w) if any(c.isdigit() for c in w) and rng.random() < 0.5 else w for w in talk.words])


def misheard(talk: Talk, rng: random.Random, rate: float, stock: dict[str, list[str]]) -> Talk:
    """Words dropped, split, mis-spelt or exchanged for near ones, at `rate`. `stock` maps a sound key to words."""
    words: list[str | None] = []
    for w in talk.words:
        if rng.random() >= rate or not w.strip(STRIP).isalpha():
            words.append(w)
            continue
        core, how = bare(w), rng.random()
        at = w.lower().find(core)
        if how < 0.2:
            new = None
        elif how < 0.35 and len(core) > 5:
            k = rng.randrange(2, len(core) - 2)
            new = core[:k] + " " + core[k:]
        elif how < 0.75:
            new = rng.choice(stock.get(sound_key(core)) or [core])
        elif len(core) > 3:
            k = rng.randrange(1, len(core))
            new = core[:k] + (rng.choice("aeioustnrl") if rng.random() < 0.5 else "") + core[k + 1 :]
        else:
            new = core
        words.append(None if new is None else w[:at] + new + w[at + len(core) :])
    return mapped(talk, words)


def as_heard(talk: Talk, heard: str) -> Talk:
    """The talk in the words that a recogniser made of it, aligned word by word; marks follow."""
    there = heard.split()
    words: list[str | None] = [None] * len(talk.words)
    blocks = SequenceMatcher(None, [bare(w) for w in talk.words], [bare(w) for w in there], autojunk=False)
    for how, a, b, c, d in blocks.get_opcodes():
        if how == "equal":
            words[a:b] = there[c:d]
        elif how == "replace":  # spread over the words that they stand for
            for i in range(a, b):
                low, high = (c + (d - c) * (k - a) // (b - a) for k in (i, i + 1))
                words[i] = " ".join(there[low:high]) or None
        elif how == "insert" and a:
            words[a - 1] = " ".join([words[a - 1] or "", *there[c:d]]).strip()
    return mapped(talk, words)


def sound_key(word: str) -> str:
    """A rough key of how a word sounds: consonants, alike ones made one, repeats dropped."""
    alike = str.maketrans("bpfvckqgjszxdtlmnr", "1111222222223345" + "56")
    key = word[:1].translate(alike) + "".join(c for c in word[1:].translate(alike) if c not in "aeiouyhw'")
    return "".join(c for i, c in enumerate(key) if i == 0 or c != key[i - 1])


def stock_of(talks: list[Talk]) -> dict[str, list[str]]:
    """Words of all talks by their sound key."""
    stock: dict[str, set[str]] = {}
    for t in talks:
        for w in t.words:
            core = bare(w)
            if core.isalpha():
                stock.setdefault(sound_key(core), set()).add(core)
    return {k: sorted(v) for k, v in stock.items()}


def sentence_starts(talk: Talk) -> list[int]:
    """Word indices at which sentences begin."""
    return [i for i in range(len(talk.words)) if i == 0 or ends_sentence(talk.words[i - 1])]


def chunk(talk: Talk, rng: random.Random, low: int, high: int) -> Talk:
    """A run of whole sentences of about `low` to `high` words."""
    starts = sentence_starts(talk)
    first = rng.choice(starts)
    want = rng.randint(low, high)
    last = min((s for s in [*starts, len(talk.words)] if s >= first + want), default=len(talk.words))
    return part(talk, first, last)


def blocks_moved(talk: Talk, rng: random.Random) -> Talk:
    """Blocks of a few sentences in another order."""
    starts = sentence_starts(talk)
    cuts = [0]
    for s in starts:
        if s - cuts[-1] > 25 and rng.random() < 0.5:
            cuts.append(s)
    blocks = [part(talk, a, b) for a, b in zip(cuts, [*cuts[1:], len(talk.words)], strict=True)]
    rng.shuffle(blocks)
    return joined(blocks)


@dataclass(frozen=True, slots=True)
class Alike:
    """Sets of wordings that mean the same, as tuples of bare words: of each site, and of each outcome column."""

    sites: tuple[tuple[tuple[tuple[str, ...], ...], ...], ...]
    outcomes: dict[int, tuple[tuple[tuple[str, ...], ...], ...]]


def renamed(talk: Talk, rng: random.Random, alike: Alike, rate: float) -> Talk:
    """Names of sites and findings inside quotes exchanged for others that mean the same."""
    words: list[str | None] = list(talk.words)
    cores = [bare(w) for w in talk.words]
    touched: set[int] = set()
    for m in talk.marks:
        if not m.fact or rng.random() > rate:
            continue
        sets = [*alike.sites[m.fact.site], *(s for o in m.fact.outcomes for s in alike.outcomes.get(o, ()))]
        rng.shuffle(sets)
        for wordings in sets:
            places = [
                (i, len(w))
                for w in wordings
                for i in range(m.first, m.last - len(w) + 1)
                if tuple(cores[i : i + len(w)]) == w and not touched & set(range(i, i + len(w)))
            ]
            if not places:
                continue
            at, size = max(places, key=lambda p: p[1])
            last = talk.words[at + size - 1]
            tail = last[len(last.rstrip(STRIP)) :]
            new = " ".join(rng.choice(wordings))
            words[at] = (new[:1].upper() + new[1:] if talk.words[at][:1].isupper() else new) + tail
            words[at + 1 : at + size] = [None] * (size - 1)
            touched |= set(range(at, at + size))
    return mapped(talk, words)


def changed(
    talk: Talk, others: list[Talk], rng: random.Random, stock: dict[str, list[str]], alike: Alike | None = None
) -> Talk:
    """One talk changed at random for training."""
    if alike and rng.random() < 0.5:
        talk = renamed(talk, rng, alike, rng.choice((0.2, 0.5, 0.8)))
    r = rng.random()
    if r < 0.2:
        talk = joined([chunk(talk, rng, 60, 200), chunk(rng.choice(others), rng, 60, 200)])
    elif r < 0.3:
        talk = blocks_moved(talk, rng)
    elif r < 0.5:
        talk = chunk(talk, rng, 40, 250)
    if rng.random() < 0.5:
        talk = sides_exchanged(talk)
    if rng.random() < 0.5:
        talk = numbers_changed(talk, rng)
    if rng.random() < 0.4:
        talk = misheard(talk, rng, rng.choice((0.02, 0.05, 0.1)), stock)
    r = rng.random()
    if r < 0.35:
        talk = unpunctuated(talk)
    elif r < 0.55:
        talk = partly_punctuated(talk, rng)
    return talk


def training_cuts(talk: Talk, rng: random.Random) -> list[int]:
    """Cuts to train on: the fact-sized ones, all comma-parts, or the former with some missing and some added."""
    cuts, parts = list(talk.fact_cuts), list(talk.part_cuts)
    r = rng.random()
    if r < 0.45:
        return cuts
    if r < 0.7:
        return parts
    keep = [c for c in cuts if c == 0 or rng.random() > 0.15]
    more = [c for c in parts if rng.random() < 0.3]
    return sorted({*keep, *more})


assert set(OTHER_SIDE) < set(SIDES)
