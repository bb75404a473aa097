"""The record held against the talk once more, without the readers: words of findings that no line tells.

It knows only the lexicon's phrases and where the record's evidence stands, so it sees what a reader or a reviewer
dropped or turned round. It asks nothing and changes nothing: its lines stand on the screen before the signature, a
little more than one an exam where nothing is wrong (scripts/measure_signing_screen.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from dictate.exam.record import Evidence, Observation, Record
from dictate.language.tokens import Token, tokenize
from dictate.language.vocabulary import PhraseTree, Term
from dictate.lexicon.tables import Lexicon

FINDING, NOT_EXAMINED, NEGATION = "finding_words", "not_examined", "negation"
TABLES = ("site_words", FINDING, "normal_words", NOT_EXAMINED, "sides")  # longer phrases of these hide shorter ones
AROUND = 5  # words shown before and after


@dataclass(frozen=True, slots=True)
class Unclaimed:
    """Words of a finding, or that something was not examined: `text` has some words around, `observations` are those
    that stand on these words, if any."""

    finding: str
    text: str
    observations: tuple[Observation, ...] = ()


@dataclass(frozen=True, slots=True)
class _Phrases:
    content: PhraseTree
    negation: PhraseTree
    spelling: dict[str, str]
    becomes: dict[str, frozenset[str]]


_BUILT: dict[tuple[str, int, int], _Phrases] = {}


def unclaimed(record: Record, lexicon: Lexicon) -> tuple[Unclaimed, ...]:
    """Words of findings in the talk that no observation tells, words that something could not be examined where none
    says so, and findings told absent without a word of negation.

    Words in a section, a doubtful ("weak") word, and words of a phrase that was dismissed are left out. Empty where the
    talk is not kept.
    """
    if record.talk is None:
        return ()
    phrases = _phrases(lexicon)
    return (*_untold(record, record.talk, phrases), *_absent_unsaid(record, phrases))


def _untold(record: Record, talk: str, phrases: _Phrases) -> Iterator[Unclaimed]:
    other = record.other
    aside: tuple[Evidence, ...] = tuple(chain.from_iterable(getattr(other, name) for name in type(other).model_fields))
    aside = (*aside, *record.unplaced, *record.dismissed)
    tokens = tokenize(talk, phrases.spelling)
    for term in phrases.content.find(tokens):
        if term.kind not in (FINDING, NOT_EXAMINED) or any(_covers(e, term) for e in aside):
            continue
        here = tuple(o for o in record.observations if any(_covers(e, term) for e in o.evidence))
        if term.kind == NOT_EXAMINED:
            if not any(o.status == "not_examined" or not o.present for o in here):
                yield Unclaimed("not examined", _around(talk, tokens, term), here)
            continue
        if _is_weak(term):
            continue
        names = _names(term, phrases)
        if not any(o.finding in names or o.status != "normal" or o.value or o.finding for o in here):
            yield Unclaimed(term.rows[0].finding, _around(talk, tokens, term), here)


def _absent_unsaid(record: Record, phrases: _Phrases) -> Iterator[Unclaimed]:
    """Findings told absent whose own words are in the evidence, with no word by which anything is absent."""
    for o in record.observations:
        if o.present or o.finding is None:
            continue
        texts = [e.text for e in o.evidence if e.by is None]
        found = [(text, tokenize(text, phrases.spelling)) for text in texts]
        terms = [t for _, tokens in found for t in phrases.content.find(tokens) if t.kind == FINDING]
        named = [t for t in terms if o.finding in _names(t, phrases)]
        negated = any(row.present is False for t in named for row in t.rows)
        if named and not negated and not any(_has_negation(tokens, phrases) for _, tokens in found):
            yield Unclaimed(o.finding, " ".join(" ".join(texts).split()), (o,))


def _is_weak(term: Term) -> bool:
    return any(row.note.startswith("weak") for row in term.rows)


def _covers(evidence: Evidence, term: Term) -> bool:
    return evidence.char_start <= term.start and term.end <= evidence.char_end


def _names(term: Term, phrases: _Phrases) -> frozenset[str]:
    """The findings that the words may be, also by the name that a finding has on some site."""
    names = {row.finding for row in term.rows}
    return frozenset(names.union(*(phrases.becomes.get(name, ()) for name in names)))


def _has_negation(tokens: tuple[Token, ...], phrases: _Phrases) -> bool:
    return any(row.kind in ("before", "after") for t in phrases.negation.find(tokens) for row in t.rows)


def _around(talk: str, tokens: tuple[Token, ...], term: Term) -> str:
    first, last = max(0, term.first - AROUND), min(len(tokens), term.last + AROUND)
    return " ".join(talk[tokens[first].start : tokens[last - 1].end].split())


def _phrases(lexicon: Lexicon) -> _Phrases:
    key = (lexicon.rule_set, len(lexicon.finding_words), len(lexicon.site_words))
    if key not in _BUILT:
        spelling = {row.british: row.american for row in lexicon.spelling}
        becomes: dict[str, set[str]] = {}
        for row in lexicon.site_findings:
            becomes.setdefault(row.finding, set()).add(row.becomes)
        _BUILT[key] = _Phrases(
            content=_tree(lexicon, TABLES, spelling),
            negation=_tree(lexicon, (NEGATION,), spelling),
            spelling=spelling,
            becomes={name: frozenset(others) for name, others in becomes.items()},
        )
    return _BUILT[key]


def _tree(lexicon: Lexicon, tables: tuple[str, ...], spelling: dict[str, str]) -> PhraseTree:
    tree = PhraseTree()
    for table in tables:
        for row in getattr(lexicon, table):
            words = [t.text for t in tokenize(row.words, spelling) if t.text not in "-–"]
            if words:
                tree.add(words, table, row)
    return tree
