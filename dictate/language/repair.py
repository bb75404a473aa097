"""Mis-heard words of the trade put right, before a talk is read.

    repair(text, vocabulary, known=ordinary_english) -> Repaired

Three ways, each surer than the next: a row of the table of mishearings; a word that is no English beside words of the
lexicon, by spelling and by sound, alone or with its neighbours ("coden kempt": coat unkempt); and two or three English
words that make no sense together but sound like one term ("pay tellers": patellas). Sides, numbers, and what denies are
never put in or taken out by likeness, and no single word of ordinary English is changed but by the table.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from functools import lru_cache
from pathlib import Path
from typing import Literal

import numpy as np
from rapidfuzz import fuzz, process
from rapidfuzz.distance import Levenshtein

from dictate.language.marking import Vocabulary
from dictate.language.sounds import likeness, skeleton, sounds
from dictate.language.tokens import PIECE, fold, singular, tokenize
from dictate.lexicon.tables import Lexicon

How = Literal["table", "sound", "spelling"]


@dataclass(frozen=True, slots=True)
class Change:
    """One repair. `start` and `end` are characters of the text as heard, `new_start` and `new_end` of the repaired one,
    half-open. `sure` is 0 to 1: how likely it is right."""

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


@dataclass(frozen=True, slots=True)
class Piece:
    """A written word of the talk. `joined` tells that nothing but a blank or a hyphen parts it from the word before."""

    text: str
    start: int
    end: int
    joined: bool
    ordinary: bool
    fixed: bool


@dataclass(frozen=True, slots=True)
class Target:
    """Words of the lexicon that something may have been misheard for. `bonus` is how much more readily than others."""

    text: str
    letters: str
    sounds: str
    words: int
    bonus: float


@dataclass(frozen=True, slots=True)
class Proposal:
    """A change thought of: the pieces from `first` to `last` (half-open) for `meant`."""

    first: int
    last: int
    meant: str
    how: How
    score: float


@dataclass(frozen=True)
class Index:
    """The lexicon made ready for repairing."""

    targets: tuple[Target, ...]
    skeletons: tuple[str, ...]
    letters: tuple[str, ...]
    by_skeleton: dict[str, tuple[int, ...]]
    table: dict[str, tuple[tuple[tuple[str, ...], str, str], ...]]
    words: frozenset[str]
    fixed: frozenset[str]
    clinical: frozenset[str]
    spelling: dict[str, str]
    patient: frozenset[str]


FIXED_TABLES = ("sides", "negation", "number_words", "not_examined", "edits")
WINDOW = 3  # words
LEAST_LETTERS = 4  # shorter words of the lexicon are told from others by the table alone
ORDINARY = Path(__file__).with_name("ordinary_words.txt")
_INDEXES: dict[tuple[str, Callable[[str], bool]], Index] = {}


def index(lexicon: Lexicon, known: Callable[[str], bool]) -> Index:
    """The lexicon made ready; built once for each content and word list."""
    key = (lexicon.rule_set, known)
    if key not in _INDEXES:
        if len(_INDEXES) > 3:
            _INDEXES.clear()
        _INDEXES[key] = _build(lexicon, known)
    return _INDEXES[key]


@lru_cache(maxsize=1)
def more_english() -> frozenset[str]:
    """Common words that a language model's list lacks (the file tells where they are from)."""
    lines = ORDINARY.read_text(encoding="utf-8").splitlines()
    return frozenset(line for line in lines if line and not line.startswith("#"))


def _phrases(lexicon: Lexicon, *tables: str) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Table, note and folded words of every phrase in these tables."""
    spelling = {row.british: row.american for row in lexicon.spelling}
    for table in tables or [f.name for f in fields(lexicon) if f.name not in ("rule_set", "mishearings")]:
        for row in getattr(lexicon, table):
            for column in ("words", "form", "word", "cue", "british", "american", "site", "finding", "breed"):
                value = getattr(row, column, None)
                if isinstance(value, str) and (column in ("words", "form", "word", "cue") or not tables):
                    yield (
                        table,
                        getattr(row, "note", ""),
                        tuple(t.text for t in tokenize(value, spelling) if t.text.isalpha()),
                    )


def _build(lexicon: Lexicon, known: Callable[[str], bool]) -> Index:
    as_heard = {fold(row.heard)[0] for row in lexicon.mishearings if row.heard == row.meant}
    everything = frozenset(w for _, _, words in _phrases(lexicon) for w in words) | as_heard | more_english()
    fixed = frozenset(words[0] for _, _, words in _phrases(lexicon, *FIXED_TABLES) if len(words) == 1)
    phrases = [
        p for p in _phrases(lexicon, "site_words", "finding_words", "normal_words") if p[2] and not fixed & set(p[2])
    ]
    uses = Counter(w for table, _, words in phrases if table != "normal_words" for w in set(words))
    names = {
        w
        for row in (*lexicon.sites, *lexicon.findings)
        for w in getattr(row, "site", getattr(row, "finding", "")).split()
    }
    bonus: dict[tuple[str, ...], float] = {}
    for table, note, words in phrases:
        strange = [w for w in words if not known(w)]
        if len(words) == 1:
            word = words[0]
            extra = (
                0.04
                if word in names
                else 0.02
                if strange and (uses[word] > 2 or len(word) > 7)
                else 0.0
                if uses[word] > 2
                else -0.03
            )
            if len(word) < 7 and not strange and word not in names:
                extra -= 0.05  # a short word of ordinary English is seldom heard as no word at all
            bonus[words] = max(
                bonus.get(words, -1), extra - (0.04 if note == "weak" else 0) - (0.04 if table == "normal_words" else 0)
            )
        elif table != "normal_words":
            if len(words) <= WINDOW and strange:
                bonus[words] = max(bonus.get(words, -1), 0.02)
            for word in strange:
                bonus[(word,)] = max(bonus.get((word,), -1), 0.04 if word in names else 0.02 if uses[word] > 2 else 0.0)
    alone = {words for table, _, words in phrases if table == "site_words"}
    for words in [w for w in bonus if len(w) == 1 and (w in alone or not w[0].endswith(ADJECTIVE)) and w[0][-1] != "s"]:
        bonus.setdefault((_plural(words[0]),), bonus[words] - 0.01)
    targets = []
    for words, extra in bonus.items():
        letters = "".join(words)
        if len(letters) >= LEAST_LETTERS:
            targets.append(Target(" ".join(words), letters, "".join(map(sounds, words)), len(words), extra))
    skeletons = tuple(skeleton(t.sounds) for t in targets)
    by_skeleton: dict[str, list[int]] = {}
    for i, bones in enumerate(skeletons):
        by_skeleton.setdefault(bones, []).append(i)
    table: dict[str, list[tuple[tuple[str, ...], str, str]]] = {}
    for row in lexicon.mishearings:
        heard = tuple(_pieces_of(row.heard))
        if heard and row.heard != row.meant:
            table.setdefault(heard[0], []).append((heard, row.meant, row.note))
    return Index(
        targets=tuple(targets),
        skeletons=skeletons,
        letters=tuple(t.letters for t in targets),
        by_skeleton={k: tuple(v) for k, v in by_skeleton.items()},
        table={k: tuple(sorted(v, key=lambda r: -len(r[0]))) for k, v in table.items()},
        words=everything,
        fixed=fixed | frozenset(x for w in fixed for x in fold(w)),
        clinical=frozenset(t.text for t in targets if t.words == 1),
        patient=frozenset(row.words for row in lexicon.patient_words),
        spelling={row.british: row.american for row in lexicon.spelling},
    )


ADJECTIVE = ("al", "ar", "ic", "ed", "ing", "ive", "ly", "ae", "ary", "id", "ile", "ior", "oid")  # endings


def _plural(word: str) -> str:
    if word.endswith("y") and word[-2] not in "aeiou":
        return word[:-1] + "ies"
    return word + ("es" if word.endswith(("x", "ch", "sh", "z")) else "s")


def _pieces_of(text: str) -> list[str]:
    return [m.group().lower().replace("’", "'") for m in PIECE.finditer(text) if m.group()[0].isalnum()]


def repair(text: str, words: Vocabulary, *, known: Callable[[str], bool]) -> Repaired:
    """A talk with the trade's mis-heard words put right; all else, marks and capitals too, stays as it was.

    Args:
        text: the talk as heard or written.
        words: the lexicon made ready; a practice's own terms in it are repaired like the shipped ones.
        known: whether a lower-case word is ordinary English. The lexicon's own words need not be among them.
    """
    ready = index(words.lexicon, known)
    pieces = _pieces(text, ready, known)
    if not pieces:
        return Repaired(text)
    context = Context(text, pieces, words)
    proposals = [*_by_table(pieces, ready, context), *_by_likeness(pieces, ready, context, known)]
    return _apply(text, pieces, proposals)


def _pieces(text: str, ready: Index, known: Callable[[str], bool]) -> list[Piece]:

    def is_known(word: str) -> bool:
        return word in ready.words or known(word)

    out: list[Piece] = []
    for match in PIECE.finditer(text):
        if not match.group()[0].isalnum():
            continue
        start, end = match.span()
        written = match.group().lower().replace("’", "'")
        parts = fold(written)
        word = ready.spelling.get(parts[0], parts[0])
        joined = bool(out) and not text[out[-1].end : start].strip(" -\t")
        fixed = len(parts) > 1 or not written.isascii() or any(c.isdigit() for c in written) or word in ready.fixed
        ordinary = fixed or len(word) < 2 or is_known(word) or is_form(word, is_known)
        out.append(Piece(written, start, end, joined, ordinary, fixed))
    return out


# Endings, and what a word may have had in their place.
ENDINGS = "s es:e ies:y|ie ing:e ed:e er:e ers:e est:e ly:le y:e ier:y iest:y ness iness:y ish:e able:e ful less like le in:ing".split()
PREFIXES = (
    "anti de dis endo epi extra hyper hypo in inter intra micro mis multi non over para peri poly post pre re retro semi sub supra un under"
).split()
FORMS = tuple(
    (ending, ("", *forms.split("|")) if forms else ("",)) for ending, _, forms in (e.partition(":") for e in ENDINGS)
)


def is_form(word: str, known: Callable[[str], bool]) -> bool:
    """Whether a word is a regular form of a known one ("wagging", "unpacked")."""
    for ending, instead in FORMS:
        stem = word.removesuffix(ending)
        if stem == word or len(stem) < 3:
            continue
        stems = [stem + more for more in instead]
        if stem[-1] == stem[-2]:
            stems.append(stem[:-1])
        if any(map(known, stems)):
            return True
    return any(word.startswith(p) and len(word) > len(p) + 3 and known(word[len(p) :]) for p in PREFIXES)


NEAR_WORDS = 8


class Context:
    """What stands around a word."""

    def __init__(self, text: str, pieces: Sequence[Piece], words: Vocabulary) -> None:
        tokens = tokenize(text, words.spelling)
        self._starts = [p.start for p in pieces]
        self.text = text
        terms = [t for t in words.content.find(tokens) if t.kind in ("site_words", "finding_words")]
        self._terms = [
            (bisect_right(self._starts, t.start) - 1, bisect_left(self._starts, t.end))
            for t in terms
            if any(row.note != "weak" for row in t.rows)
        ]
        self._patient = [bisect_right(self._starts, t.start) - 1 for t in words.patients.find(tokens)]
        self._firsts = [t[0] for t in self._terms]
        ends = [m.start() for m in re.finditer(r"[.?!…](?!\d)|\n", text)]
        self._sentence = [bisect_left(ends, s) for s in self._starts]
        self._elsewhere = {
            bisect_left(ends, c.start)
            for c in words.context.find(tokens)
            if c.kind == "cues" and any(row.role not in ("observation", "address") for row in c.rows)
        }

    def near(self, first: int, last: int) -> int:
        """How many named places and findings stand within a few words of these, outside of them."""
        lo = bisect_left(self._firsts, first - NEAR_WORDS)
        hi = bisect_right(self._firsts, last + NEAR_WORDS)
        return sum(1 for a, b in self._terms[lo:hi] if b <= first or a >= last)

    def patient(self, first: int, last: int) -> bool:
        """Whether the patient is described within a few words of these."""
        return any(
            first - NEAR_WORDS // 2 <= at < last + NEAR_WORDS // 2 and not first <= at < last for at in self._patient
        )

    def talk(self, first: int) -> bool:
        """Whether the sentence is history, plan, advice or the like."""
        return self._sentence[first] in self._elsewhere

    def opens(self, first: int) -> bool:
        return first == 0 or self._sentence[first] != self._sentence[first - 1]


AS_SAID, TURNS, OWN_WORD = "may be meant as said", "turns the meaning", "a word of its own"


def _by_table(pieces: Sequence[Piece], ready: Index, context: Context) -> Iterator[Proposal]:
    for first, piece in enumerate(pieces):
        for heard, meant, note in ready.table.get(piece.text, ()):
            last = first + len(heard)
            if tuple(p.text for p in pieces[first:last]) != heard or not all(
                p.joined for p in pieces[first + 1 : last]
            ):
                continue
            if AS_SAID in note or (TURNS in note and ("".join(heard) != meant or len(heard[0]) < 2)):
                continue
            strange = any(not p.ordinary for p in pieces[first:last])
            if not strange and not _may_be_meant(pieces, first, last, meant, ready, context):
                continue
            if heard[0].replace("'", "") == meant:
                continue
            yield Proposal(first, last, meant, "table", 0.9 if strange else 0.7)
            break


def _may_be_meant(pieces: Sequence[Piece], first: int, last: int, meant: str, ready: Index, context: Context) -> bool:
    """Whether words of ordinary English may be repaired here: near something examined, not amid plan or history.

    One that says something is absent closes its clause ("no more.", not "no more of it"); a side stands before a place.
    """
    if meant in ready.patient:
        return context.patient(first, last)
    if not context.near(first, last) or context.talk(first):
        return False
    if any(context.text[pieces[i - 1].end : pieces[i].start] != " " for i in range(first + 1, last)):
        return False
    follows = pieces[last] if last < len(pieces) and pieces[last].joined else None
    words = meant.split()
    if words[0] in ready.fixed and len(words) > 1 and words[0] not in ready.clinical and last - first > 1:
        return follows is None
    if words[0] in ready.fixed and len(words) == 1:
        return follows is not None and follows.text in ready.clinical
    return True


BEST = 6


def _windows(pieces: Sequence[Piece]) -> Iterator[tuple[int, int, bool]]:
    """Neighbouring pieces that may be one mis-heard term, and whether one of them is strange."""
    for first in range(len(pieces)):
        strange = False
        for last in range(first + 1, min(first + WINDOW, len(pieces)) + 1):
            piece = pieces[last - 1]
            if piece.fixed or (last > first + 1 and not piece.joined):
                break
            strange = strange or not piece.ordinary
            yield first, last, strange


def _by_likeness(
    pieces: Sequence[Piece], ready: Index, context: Context, known: Callable[[str], bool]
) -> Iterator[Proposal]:
    strange: list[tuple[int, int]] = []
    for first, last, is_strange in _windows(pieces):
        if is_strange:
            strange.append((first, last))
        elif last - first > 1:
            yield from _of_english(pieces, first, last, ready, context)
    if strange:
        yield from _of_strange(pieces, strange, ready, context, known)


def _letters(pieces: Sequence[Piece]) -> str:
    return "".join(p.text for p in pieces).replace("'", "")


def _of_strange(
    pieces: Sequence[Piece],
    windows: list[tuple[int, int]],
    ready: Index,
    context: Context,
    known: Callable[[str], bool],
) -> Iterator[Proposal]:
    letters = [_letters(pieces[a:b]) for a, b in windows]
    heard = ["".join(sounds(p.text) for p in pieces[a:b]) for a, b in windows]
    spelt = process.cdist(letters, ready.letters, scorer=fuzz.ratio, score_cutoff=60, dtype=np.float32)
    spoken = process.cdist(
        [skeleton(h) for h in heard],
        ready.skeletons,
        scorer=Levenshtein.normalized_similarity,
        score_cutoff=0.6,
        dtype=np.float32,
    )
    both = spelt / 100 + spoken
    for row, (first, last) in enumerate(windows):
        best = np.argpartition(-both[row], BEST)[:BEST]
        best = {int(i) for i in best if both[row][i] > 0} | {
            int(i) for i in ready.by_skeleton.get(skeleton(heard[row]), ())[:BEST]
        }
        found = [p for at in best if (p := _compared(pieces, first, last, ready.targets[at], ready, context))]
        if not found:
            continue
        rival = _rival(pieces[first].text, heard[row], known) if last - first == 1 else 0.0
        for one in found:
            if one.score > rival:
                yield one


def _compared(
    pieces: Sequence[Piece], first: int, last: int, target: Target, ready: Index, context: Context
) -> Proposal | None:
    """The pieces as the target. Words that both begin or end with are left out: they need no repair, but speak for it."""
    meant, bonus = target.text.split(), target.bonus
    while len(meant) > 1 and last - first > 1 and pieces[first].text == meant[0]:
        first, meant, bonus = first + 1, meant[1:], 0.06
    while len(meant) > 1 and last - first > 1 and pieces[last - 1].text == meant[-1]:
        last, meant, bonus = last - 1, meant[:-1], 0.06
    window = pieces[first:last]
    letters, wanted = _letters(window), "".join(meant)
    if all(p.ordinary for p in window) or letters == wanted or _another_form(letters, wanted):
        return None
    heard = "".join(sounds(p.text) for p in window)
    told = target.sounds if len(meant) == target.words else "".join(map(sounds, meant))
    like, spell = likeness(heard, told), fuzz.ratio(letters, wanted) / 100
    score = 0.6 * like + 0.4 * spell + bonus
    for piece in window:
        if piece.ordinary and piece.text not in meant:
            score -= 0.12 if piece.text in ready.clinical else 0.04 if len(piece.text) > 3 else 0.02
    score += 0.03 * (sum(not p.ordinary for p in window) - 1)
    a, b = skeleton(heard), skeleton(told)
    if a[:1] != b[:1]:
        score -= 0.06
    if a[-1:] != b[-1:]:
        score -= 0.03
    if len(told) < 5:
        score -= 0.04
    if not context.near(first, last):
        score -= 0.06
    if context.talk(first):
        score -= 0.04
    if context.text[window[0].start].isupper() and not context.opens(first):
        score -= 0.05
    return Proposal(first, last, " ".join(meant), "sound" if like >= spell else "spelling", score)


LETTERS = "abcdefghijklmnopqrstuvwxyz"


def _rival(word: str, heard: str, known: Callable[[str], bool]) -> float:
    """How well the nearest word of ordinary English that is one letter away explains a strange word."""
    best = 0.0
    for at in range(len(word) + 1):
        head, tail = word[:at], word[at:]
        others = [head + tail[1:]] if tail else []
        others += [head + c + tail for c in LETTERS]
        others += [head + c + tail[1:] for c in LETTERS] if tail else []
        for other in others:
            if other != word and len(other) > 2 and known(other):
                best = max(best, 0.6 * likeness(heard, sounds(other)) + 0.4 * fuzz.ratio(word, other) / 100)
    return best


FORMING = frozenset(
    "al ic ical ous ed ing y er ers or ation itis osis ectomy oma um a ae ary ive s ly ish en ity e es".split()
)


def _another_form(heard: str, wanted: str) -> bool:
    """Whether both look like words of one stem ("sternal", "sternum"): then the heard one is a word of its own."""
    plain = [w.replace("ae", "e").replace("oe", "e").removesuffix("s") for w in (heard, wanted)]
    if plain[0] == plain[1]:
        return True
    shared = 0
    while shared < min(len(heard), len(wanted)) and heard[shared] == wanted[shared]:
        shared += 1
    return any(
        heard[at:] in FORMING and (wanted[at:] in FORMING or not wanted[at:])
        for at in range(max(4, shared - 2), shared + 1)
    )


def _of_english(pieces: Sequence[Piece], first: int, last: int, ready: Index, context: Context) -> Iterator[Proposal]:
    heard = "".join(sounds(p.text) for p in pieces[first:last])
    bones = skeleton(heard)
    if len(bones) < 4 or any(p.text in ready.clinical for p in pieces[first:last]) or context.talk(first):
        return
    if not context.near(first, last):
        return
    letters = _letters(pieces[first:last])
    said = {p.text for p in pieces[first:last]}
    for at in ready.by_skeleton.get(bones, ()):
        target = ready.targets[at]
        if (
            target.bonus < 0.02
            or target.words < 2
            and len(target.letters) < 7
            or letters == target.letters
            or said & set(target.text.split())
        ):
            continue
        like, spell = likeness(heard, target.sounds), fuzz.ratio(letters, target.letters) / 100
        score = 0.7 * like + 0.3 * spell + target.bonus - 0.06
        yield Proposal(first, last, target.text, "sound", score)


LEAST = 0.78  # chosen on the narrations for work: clean ones, and some heard


def _apply(text: str, pieces: Sequence[Piece], proposals: Sequence[Proposal]) -> Repaired:
    taken: set[int] = set()
    chosen: list[Proposal] = []
    for p in sorted(
        proposals, key=lambda p: (-(p.score - LEAST) * (pieces[p.last - 1].end - pieces[p.first].start), p.first)
    ):
        if (p.how == "table" or p.score >= LEAST) and not taken & set(range(p.first, p.last)):
            taken |= set(range(p.first, p.last))
            chosen.append(p)
    changes: list[Change] = []
    out: list[str] = []
    at = length = 0
    for p in sorted(chosen, key=lambda p: p.first):
        start, end = pieces[p.first].start, pieces[p.last - 1].end
        heard = text[start:end]
        meant = p.meant
        if heard[0].isupper():
            meant = meant[0].upper() + meant[1:]
        out += [text[at:start], meant]
        length += start - at
        changes.append(Change(heard, meant, start, end, length, length + len(meant), p.how, p.score))
        length += len(meant)
        at = end
    return Repaired("".join([*out, text[at:]]), tuple(changes))
