"""A mis-hearing that reviewers corrected twice is offered as an entry of the practice's own lexicon, never just taken.

Only strange words are offered: a word that the lexicon itself uses ("left" for "right") is never made into another.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path

from dictate.exam.record import Evidence, Observation, Record
from dictate.files import write
from dictate.lexicon.loader import load
from dictate.lexicon.tables import Lexicon
from dictate.review.decisions import Decision, in_force
from dictate.usual_words import usual_words

ENOUGH = 2  # times
LONGEST = 4  # words on either side of an entry
TABLE, HEADER = "mishearings.csv", ("heard", "meant", "note")


@dataclass(frozen=True, slots=True)
class Offer:
    """`heard` was corrected to `meant` so many times."""

    heard: str
    meant: str
    times: int


def offers(reviews: Iterable[tuple[Record, Sequence[Decision]]], lexicon: Lexicon) -> tuple[Offer, ...]:
    """The entries to offer, the most frequent first; none that the lexicon has or that was answered already.

    Args:
        reviews: each draft with the decisions about it.
    """
    counts: Counter[tuple[str, str]] = Counter()
    answered: set[tuple[str, str]] = set()
    for draft, decisions in reviews:
        for decision in in_force(tuple(decisions)):
            if decision.kind == "offer answered":
                answered.add((decision.heard, decision.meant))
            counts.update(set(corrections(decision, draft, lexicon)))
    known = {row.heard.casefold() for row in lexicon.mishearings}
    fitting = [
        Offer(heard, meant, times)
        for (heard, meant), times in counts.items()
        if times >= ENOUGH and heard not in known and (heard, meant) not in answered
    ]
    return tuple(sorted(fitting, key=lambda offer: (-offer.times, offer.heard)))


def corrections(decision: Decision, draft: Record, lexicon: Lexicon) -> Iterator[tuple[str, str]]:
    """The pairs (heard, meant) that one decision tells, in lower case."""
    if decision.kind == "replace":
        before = [o for o in draft.observations if o.id in decision.observations]
        evidence: tuple[Evidence, ...] = tuple(dict.fromkeys(e for o in before for e in o.evidence if e.by is None))
        was, becomes = {o.site for o in before}, decision.becomes
    elif decision.kind == "place":
        evidence, was, becomes = (decision.phrase,), set(), decision.observations
    else:
        return
    heard = _words(" ".join(e.text for e in evidence))
    usual = usual_words(lexicon)
    if decision.words:
        pairs = _changed_words(heard, _words(decision.words))
    else:
        pairs = _named_site(heard, was, becomes, usual)
    for words, meant in pairs:
        strange = any(w not in usual and w.isalpha() for w in words)
        if strange and all(w in usual for w in meant) and max(len(words), len(meant)) <= LONGEST:
            yield " ".join(words), " ".join(meant)


def _changed_words(heard: list[str], meant: list[str]) -> Iterator[tuple[list[str], list[str]]]:
    """The stretches that differ between what was heard and what was typed instead."""
    for tag, i, j, k, m in SequenceMatcher(None, heard, meant, autojunk=False).get_opcodes():
        if tag == "replace":
            yield heard[i:j], meant[k:m]


def _named_site(
    heard: list[str], was: set[str], becomes: Sequence[Observation], usual: frozenset[str]
) -> Iterator[tuple[list[str], list[str]]]:
    """The one strange run of words, for the one site that was chosen instead by its name."""
    sites = {o.site for o in becomes}
    runs: list[list[str]] = [[]]
    for word in heard:
        if word.isalpha() and word not in usual:
            runs[-1].append(word)
        else:
            runs.append([])
    strange = [run for run in runs if run]
    if len(sites) == 1 and sites != was and len(strange) == 1:
        yield strange[0], _words(sites.pop())


def _words(text: str) -> list[str]:
    return re.findall(r"[\w']+(?:-\w+)*", text.casefold())


def add_own_word(folder: Path, offer: Offer) -> None:
    """Write an offer that was taken into the practice's own table of mis-hearings.

    Raises:
        InputError: the folder's tables, with the entry, are not in order; nothing is written then.
    """
    file = folder / TABLE
    stood = file.read_text(encoding="utf-8-sig") if file.exists() else ",".join(HEADER) + "\n"
    row = io.StringIO()
    csv.writer(row, lineterminator="\n").writerow((offer.heard, offer.meant, "corrected at review"))
    before = file.read_bytes() if file.exists() else None
    write(file, stood + ("" if stood.endswith("\n") else "\n") + row.getvalue())
    try:
        load(folder)
    except Exception:
        if before is None:
            file.unlink()
        else:
            write(file, before.decode("utf-8"))
        raise
