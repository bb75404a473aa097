"""A recording that goes on with another patient: where it is cut, and the doubt that marks each cut.

A patient is introduced by several of its details close together (kind or breed, sex or neutering, age). Where that
happens again later in a recording, with other details than before, another patient begins, if the words around say so
too (table `introductions`), or a long pause does, or the introduction is a full one.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from dictate.bulk.parts import between
from dictate.exam.record import Doubt, Evidence, Observation, Record, Unplaced
from dictate.language.patient import patient_tree
from dictate.language.quantities import quantities
from dictate.language.tokens import Token, tokenize
from dictate.language.vocabulary import PhraseTree, Term
from dictate.lexicon import Lexicon
from dictate.speech.words import Transcript

CLOSE = 16  # tokens in which the details of one introduction stand
LEAD = 14  # tokens before the first detail in which the introduction begins
LEAST = 40  # tokens that an exam has at least
PAUSE = 4.0  # seconds without a word that may part two exams
KIND = "another patient"
_AGE_UNITS = ("a", "mo", "wk")


@dataclass(frozen=True, slots=True)
class Edge:
    """A cut at one end of a piece. `words` are those by which the later patient is introduced, with their place in the
    piece's own text where they stand in it, and seconds of the whole sound."""

    words: str
    start: float
    end: float
    char_end: int


@dataclass(frozen=True, slots=True)
class Piece:
    """One exam of a recording. `before` and `after` are the cuts at its ends."""

    transcript: Transcript
    notes: tuple[str, ...] = ()
    before: Edge | None = None
    after: Edge | None = None


@dataclass(frozen=True, slots=True)
class _Detail:
    kind: str  # "breed", "sex" or "age"
    value: str
    first: int


def cut(transcript: Transcript, lexicon: Lexicon) -> tuple[Piece, ...]:
    """The exams of a recording, in order; mostly one. Every word is in exactly one piece."""
    places = cut_places(transcript, lexicon)
    if not places:
        return (Piece(transcript),)
    bounds = [0, *places, len(transcript.words)]
    edges = [None, *(_edge(transcript, at) for at in places), None]
    pieces = []
    for i, (first, last) in enumerate(pairwise(bounds)):
        part = between(transcript, first, last, number=i + 1)
        where = f"{_clock(part.words[0].start)} to {_clock(part.words[-1].end)}"
        told = f"part {i + 1} of {len(bounds) - 1} of the recording: {where}"
        pieces.append(Piece(part, (told,), edges[i], edges[i + 1]))
    return tuple(pieces)


def _edge(transcript: Transcript, at: int) -> Edge:
    words = transcript.words[at : at + 12]
    text = " ".join(w.text for w in words)
    return Edge(text, words[0].start, words[-1].end, len(text))


def _clock(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def cut_places(transcript: Transcript, lexicon: Lexicon) -> tuple[int, ...]:
    """The numbers of the words with which another patient begins."""
    if len(transcript.words) < 2 * LEAST:
        return ()
    people, around = _trees(lexicon)
    tokens = tokenize(transcript.text, {row.british: row.american for row in lexicon.spelling})
    details = _details(transcript.text, tokens, people.find(tokens))
    cues = around.find(tokens)
    starts = _word_starts(transcript)
    found: list[int] = []
    present: tuple[_Detail, ...] = ()
    last = -1
    told = {c.first: c.kind for c in cues if c.kind in ("surely", "next")}
    for first in sorted({d.first for d in details} | set(told)):
        cluster = tuple(d for d in details if first <= d.first <= first + CLOSE)
        if not present or first - last < LEAST:  # the first patient, or still the present introduction
            present, last = present or cluster, first if last < 0 else last
            continue
        if told.get(first) != "surely" and not _another(cluster, present, least=1 if first in told else 2):
            continue
        place = _place(transcript, tokens, starts, cluster or (_Detail("", "", first),), cues)
        if place is None or place - (found[-1] if found else 0) < LEAST or len(starts) - place < LEAST // 2:
            continue
        found.append(place)
        present, last = cluster, first
    return tuple(found)


_kept: dict[str, tuple[PhraseTree, PhraseTree]] = {}  # of the last lexicon, by its rule set


def _trees(lexicon: Lexicon) -> tuple[PhraseTree, PhraseTree]:
    """The phrases that tell of a patient, and those around an introduction."""
    if lexicon.rule_set not in _kept or not lexicon.rule_set:
        spelling = {row.british: row.american for row in lexicon.spelling}
        around = PhraseTree()
        for row in lexicon.introductions:
            around.add([t.text for t in tokenize(row.words, spelling)], row.kind, row)
        _kept.clear()
        _kept[lexicon.rule_set] = (patient_tree(lexicon, spelling), around)
    return _kept[lexicon.rule_set]


def _details(text: str, tokens: Sequence[Token], terms: Sequence[Term]) -> list[_Detail]:
    """What tells a patient from another, in the order of the talk."""
    found = []
    for term in terms:
        for row in term.rows[:1]:
            if term.kind == "breeds":
                found.append(_Detail("breed", row.species + row.breed, term.first))
            elif term.kind == "patient_words":
                if row.species:
                    found.append(_Detail("breed", row.species, term.first))
                if row.sex or row.neutered is not None:
                    found.append(_Detail("sex", f"{row.sex} {row.neutered}", term.first))
    begins = [t.start for t in tokens]
    for q in quantities(text):
        after = text[q.char_end : q.char_end + 12].lower()
        old = re.match(r"[\s-]*(old|of age)\b", after)
        if q.unit in _AGE_UNITS and (
            old or not re.match(r"[\s,]*(ago|later|since|back|now|post|after|before)\b", after)
        ):
            found.append(_Detail("age", f"{q.number:g} {q.unit}", bisect_right(begins, q.char_start) - 1))
        elif q.unit is None and q.kind == "number" and 0 < q.number <= 22 and re.match(r"\s*[,.]", after or "."):
            found.append(_Detail("number", f"{q.number:g} a", bisect_right(begins, q.char_start) - 1))
    found.sort(key=lambda d: d.first)
    # A bare number is an age only right beside a detail that is surely one.
    sure = [d.first for d in found if d.kind in ("breed", "sex")]
    return [
        _Detail("age", d.value, d.first) if d.kind == "number" else d
        for d in found
        if d.kind != "number" or any(abs(d.first - f) <= 5 for f in sure)
    ]


def _another(cluster: Sequence[_Detail], present: Sequence[_Detail], *, least: int) -> bool:
    """Whether these details, of `least` kinds or more, introduce a patient, and not the present one again."""
    kinds = {d.kind for d in cluster}
    if len(kinds) < least:
        return False
    known = {(d.kind, d.value) for d in present}
    same = {d.kind for d in cluster if (d.kind, d.value) in known}
    return len(same) < len(kinds)


def _place(
    transcript: Transcript,
    tokens: Sequence[Token],
    starts: Sequence[int],
    cluster: Sequence[_Detail],
    cues: Sequence[Term],
) -> int | None:
    """The word with which the introduction begins; None where too little says that it is one."""
    first = cluster[0].first
    lead = [c for c in cues if first - LEAD <= c.first <= cluster[-1].first]
    word = _word_of(starts, tokens[first].start)
    early = _word_of(starts, tokens[max(0, first - LEAD)].start)
    pauses = [i for i in range(early + 1, word + 1) if transcript.words[i].start - transcript.words[i - 1].end >= PAUSE]
    nexts = [c for c in lead if c.kind in ("surely", "next")]
    closes = [c for c in cues if c.kind == "closes" and first - 2 * LEAD <= c.first < first]
    opens = [c for c in lead if c.kind == "opens" and c.first <= first]
    full = len({d.kind for d in cluster}) == 3
    if pauses:
        return pauses[-1]
    if nexts:
        return _sentence(transcript, _word_of(starts, tokens[nexts[0].first].start))
    if closes:
        ended = _word_of(starts, tokens[closes[-1].last - 1].start) + 1
        return min(_sentence_after(transcript, ended), _sentence(transcript, word))
    if full or (opens and _begins(transcript, _word_of(starts, tokens[opens[0].first].start))):
        at = _word_of(starts, tokens[opens[0].first].start) if opens else word
        return _sentence(transcript, at)
    return None


def _word_starts(transcript: Transcript) -> list[int]:
    starts, at = [], 0
    for word in transcript.words:
        starts.append(at)
        at += len(word.text) + 1
    return starts


def _word_of(starts: Sequence[int], char: int) -> int:
    return max(0, bisect_right(starts, char) - 1)


def _begins(transcript: Transcript, word: int) -> bool:
    """Whether a sentence begins with this word."""
    return word == 0 or transcript.words[word - 1].text.endswith((".", "?", "!"))


def _sentence(transcript: Transcript, word: int) -> int:
    """The first word of the sentence that this word is in, at most twelve back."""
    for at in range(word, max(0, word - 12), -1):
        if _begins(transcript, at):
            return at
    return word


def _sentence_after(transcript: Transcript, word: int) -> int:
    for at in range(word, min(len(transcript.words), word + 8)):
        if _begins(transcript, at):
            return at
    return word


def doubt_the_cuts(record: Record, piece: Piece) -> Record:
    """The record with a doubt at each end that was cut; at an observation, or, without one, as an unplaced phrase."""
    if piece.after is not None:
        told = f"The recording goes on with another patient at {_clock(piece.after.start)} (“{piece.after.words}”)"
        record = _doubted(record, -1, told, piece, inside=False)
    if piece.before is not None:
        told = f"The recording was cut here: another patient came before {_clock(piece.before.start)}"
        record = _doubted(record, 0, told, piece, inside=True)
    return record


def _doubted(record: Record, at: int, told: str, piece: Piece, *, inside: bool) -> Record:
    doubt = Doubt(kind=KIND, message=told, choices=("of this patient", "of the other patient"))
    spoken = sorted(record.observations, key=_first_char)
    if spoken:
        chosen = spoken[at].id
        return record.model_copy(
            update={
                "observations": tuple(
                    o.model_copy(update={"doubts": (*o.doubts, doubt)}) if o.id == chosen else o
                    for o in record.observations
                )
            }
        )
    words = piece.transcript.words[:12] if inside else piece.transcript.words[-12:]
    text = " ".join(w.text for w in words)
    start = 0 if inside else len(piece.transcript.text) - len(text)
    evidence = Evidence(
        text=text, start=words[0].start, end=words[-1].end, char_start=start, char_end=start + len(text)
    )
    return record.model_copy(update={"unplaced": (*record.unplaced, Unplaced(**evidence.model_dump(), why=told))})


def _first_char(observation: Observation) -> int:
    return min((e.char_start for e in observation.evidence), default=0)
