"""Mis-heard words of the trade put right, before a talk is read.

    repair(text, vocabulary, known=ordinary_english) -> Repaired
    proposals(text, vocabulary, known=..., unsure=...) -> what else may have been meant, for whoever can ask the sound

Four ways: a short form written letter by letter; a row of the table of mishearings; a word that is no English beside
words of the lexicon, by spelling and by sound, alone or with its neighbours ("lumbus ocural": lumbosacral); and two or
three English words that sound like one term. Sides, numbers, and what denies are never put in or taken out by
likeness, and ordinary English is changed by the table alone, where what stands around it speaks for it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from dictate.language.heard import Piece, Surroundings, pieces_of, windows
from dictate.language.likeness import How, Proposal, compared, nearest_targets, of_english, of_strange
from dictate.language.marking import Vocabulary
from dictate.language.spelled import point_behind, spelled
from dictate.language.targets import Index, Known, Row, index

LEAST = 0.76  # from which likeness alone repairs
LEAST_ENGLISH = 0.8  # from which it repairs several words of ordinary English
LEAST_UNSURE = 0.8  # from which it repairs ordinary English that was heard unsurely
FEW = 20  # words in a text from which many strange ones show that it is no English
MOSTLY_STRANGE = 0.3
AS_SAID, TURNS = "may be meant as said", "turns the meaning"  # in a row's note
PARTS_OF = frozenset({"of", "out", "over"})  # after a number: it is the upper part of a grade


@dataclass(frozen=True, slots=True)
class Change:
    """One repair. `start` and `end` are characters of the text as heard, `new_start` and `new_end` of the repaired one,
    half-open. `sure` is 0 to 1: how well the words heard bear out what was meant."""

    heard: str
    meant: str
    start: int
    end: int
    new_start: int
    new_end: int
    how: How
    sure: float


@dataclass(frozen=True, slots=True)
class Repaired:
    """A talk with its repairs, in the order of the text."""

    text: str
    changes: tuple[Change, ...] = ()

    def back(self, position: int, *, end: bool = False) -> int:
        """The character of the heard text that a character of the repaired one stands for.

        Inside a change it is the change's start, or its end where `end` says that the position closes a stretch.
        """
        shift = 0
        for change in self.changes:
            if position < change.new_start or (end and position == change.new_start):
                break
            if position < change.new_end or (end and position == change.new_end):
                return change.end if end else change.start
            shift = change.end - change.new_end
        return position + shift


def repair(text: str, words: Vocabulary, *, known: Known, unsure: Sequence[tuple[int, int]] = ()) -> Repaired:
    """A talk with the trade's mis-heard words put right; all else, marks and capitals too, stays as it was.

    Args:
        text: the talk as heard or written.
        words: the lexicon made ready; a practice's own terms in it are repaired like the shipped ones.
        known: whether a lower-case word is ordinary English; the same function each time, so that what is made of the
            lexicon is kept. The lexicon's own words need not be among them.
        unsure: characters, half-open, of words heard with low probability: there words of ordinary English that tell
            nothing of a patient may become a term that sounds much like them.
    """
    ready = index(words.lexicon, known)
    pieces = pieces_of(text, ready, known)
    if not pieces:
        return Repaired(text)
    around = Surroundings(text, pieces, words)
    found = [*spelled(text, pieces, words), *_by_table(pieces, ready, around)]
    found += _by_likeness(pieces, ready, around, known, LEAST)
    found += _by_doubt(pieces, ready, around, unsure, LEAST_UNSURE)
    return _applied(text, pieces, _settled(pieces, found))


def proposals(
    text: str,
    words: Vocabulary,
    *,
    known: Known,
    least: float = 0.6,
    unsure: Sequence[tuple[int, int]] = (),
) -> tuple[Change, ...]:
    """Everything that likeness to the lexicon makes thinkable, whether `repair` does it or not, best first for each
    place. For a recogniser to weigh by the sound; nothing here is sure enough to be done unasked.

    Args:
        least: the score from which a proposal is given.
        unsure: as for `repair`.

    Returns: changes each taken alone, so `new_start` is `start`.
    """
    ready = index(words.lexicon, known)
    pieces = pieces_of(text, ready, known)
    around = Surroundings(text, pieces, words)
    found = [*_by_likeness(pieces, ready, around, known, least), *_by_doubt(pieces, ready, around, unsure, least)]
    best: dict[tuple[int, int, str], Proposal] = {}
    for p in sorted(found, key=lambda p: p.score):
        best[p.first, p.last, p.meant] = p
    ordered = sorted(best.values(), key=lambda p: (p.first, p.last, -p.score))
    return tuple(_applied(text, pieces, [p]).changes[0] for p in ordered)


def _by_doubt(
    pieces: Sequence[Piece], ready: Index, around: Surroundings, unsure: Sequence[tuple[int, int]], least: float
) -> Iterator[Proposal]:
    """Proposals where English words were heard unsurely."""
    starts = [p.start for p in pieces]
    doubted = {
        i
        for start, end in unsure
        for i in range(max(0, bisect_right(starts, start) - 1), bisect_left(starts, end))
        if start < pieces[i].end
    }
    spans = [(a, b) for a, b, strange in windows(pieces) if not strange and doubted.issuperset(range(a, b))]
    for (a, b), targets in zip(spans, nearest_targets(pieces, spans, ready), strict=True):
        ways = (compared(pieces, a, b, target, ready, around, unsure=True) for target in targets)
        yield from (p for p in ways if p and p.score >= least)


def _by_likeness(
    pieces: Sequence[Piece], ready: Index, around: Surroundings, known: Known, least: float
) -> Iterator[Proposal]:
    strange_words = sum(not p.ordinary for p in pieces)
    if len(pieces) >= FEW and strange_words > MOSTLY_STRANGE * len(pieces):
        return  # another language, or no language at all
    strange: list[tuple[int, int]] = []
    for first, last, is_strange in windows(pieces):
        if is_strange:
            strange.append((first, last))
        elif last - first > 1:
            yield from (
                p
                for p in of_english(pieces, first, last, ready, around)
                if p.score >= max(least, LEAST_ENGLISH * (least >= LEAST))
            )
    yield from of_strange(pieces, strange, ready, around, known, least=least)


def _by_table(pieces: Sequence[Piece], ready: Index, around: Surroundings) -> Iterator[Proposal]:
    """The longest row of the table that begins at each word, where it may be applied."""
    for first, piece in enumerate(pieces):
        for row in ready.table.get(piece.text, ()):
            last = first + len(row.heard)
            window = pieces[first:last]
            if tuple(p.text for p in window) != row.heard or not all(p.joined for p in window[1:]):
                continue
            if AS_SAID in row.note or (TURNS in row.note and not _only_parted(row)):
                continue
            strange = not all(p.ordinary for p in window)
            if strange or _may_be_meant(pieces, first, last, row, ready, around):
                yield Proposal(first, last, row.meant, "table", 0.9 if strange else 0.7)
                break


def _only_parted(row: Row) -> bool:
    """Whether a row only joins what was written apart ("un equal"), which "a normal" does not."""
    return len(row.heard[0]) > 1 and "".join(row.heard) == row.meant


def _may_be_meant(pieces: Sequence[Piece], first: int, last: int, row: Row, ready: Index, around: Surroundings) -> bool:
    """Whether words of ordinary English may be repaired here: near something examined, not amid plan or history.

    What denies closes its clause ("no more.", not "no more of it"), and so does a number, or it is part of a grade
    ("great for," not "great for his age"); a measure stands before its number. A single word never
    becomes a side or a denial.
    """
    if row.meant in ready.patient:
        return around.patient(first, last)
    if row.meant in ready.measures:
        return any(_number_follows(pieces, at, ready) for at in (last, last + 1))
    if not around.near(first, last) or around.elsewhere(first):
        return False
    if any(around.text[pieces[i - 1].end : pieces[i].start] != " " for i in range(first + 1, last)):
        return False
    meant = row.meant.split()
    follows = pieces[last].text if last < len(pieces) and pieces[last].joined else ""
    if meant[-1] in ready.numbers and row.heard[-1] != meant[-1]:
        return not follows or follows in PARTS_OF
    if meant[0] in ready.fixed:
        if len(row.heard) == 1:
            return False  # one word for a side or a denial: the sound must tell
        return not follows or row.heard[0] not in (*ready.fixed, "now") or meant[0] == row.heard[-1]
    return True


def _number_follows(pieces: Sequence[Piece], at: int, ready: Index) -> bool:
    """Whether a number with a decimal point stands at a place ("4.2", "four point two")."""
    text = [p.text for p in pieces[at : at + 3]]
    return bool(text) and ("." in text[0] or (text[0] in ready.numbers and not ready.points.isdisjoint(text)))


def _settled(pieces: Sequence[Piece], found: Sequence[Proposal]) -> list[Proposal]:
    """Proposals that do not overlap, those first that explain most letters best; in the order of the text."""

    def gain(p: Proposal) -> float:
        length = pieces[p.last - 1].end - pieces[p.first].start
        return (p.score - LEAST + (0.3 if p.how == "table" else 0.01)) * length

    taken: set[int] = set()
    out: list[Proposal] = []
    for p in sorted(found, key=lambda p: (-gain(p), p.first)):
        if not taken & set(range(p.first, p.last)):
            taken |= set(range(p.first, p.last))
            out.append(p)
    return sorted(out, key=lambda p: p.first)


def _applied(text: str, pieces: Sequence[Piece], chosen: Sequence[Proposal]) -> Repaired:
    out: list[str] = []
    changes: list[Change] = []
    at = length = 0
    for p in chosen:
        start, end = pieces[p.first].start, point_behind(text, pieces[p.last - 1].end)
        meant = as_written(p.meant, text[start:end])
        out += [text[at:start], meant]
        length += start - at
        sure = round(min(0.99, max(0.0, p.score)), 2)
        changes.append(Change(text[start:end], meant, start, end, length, length + len(meant), p.how, sure))
        length += len(meant)
        at = end
    return Repaired("".join((*out, text[at:])), tuple(changes))


def as_written(meant: str, heard: str) -> str:
    """The meant words with the capitals of those heard."""
    if len(heard) > 1 and heard.isupper():
        return meant.upper()
    return meant[0].upper() + meant[1:] if heard[0].isupper() else meant
