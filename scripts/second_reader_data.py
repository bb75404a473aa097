"""Narrations with truth, turned into words, marks and labels for the training of the second reader.

A talk is held as words (split at white space), so that every change made for training (lower case, dropped words,
spliced talks) keeps its marks. A stretch is a run of words; its labels come from the truth's quotes that overlap it.
"""

from __future__ import annotations

import csv
import json
import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

ROLES = (
    "fact",
    "history",
    "plan",
    "advice",
    "procedures",
    "laboratory",
    "teaching",
    "intention",
    "address",
    "joke",
    "other patient",
    "taken back",
)
OPEN_ROLES = frozenset(
    {"teaching", "intention", "address", "joke", "other patient"}
)  # the truth lists only the tempting ones
SECTIONS = ("history", "plan", "advice", "procedures", "laboratory")
SIDES = ("left", "right", "both", "none")
PLAIN = ("normal", "not_examined", "measured", "abnormal")
WHY_TO_ROLE = {"procedure": "procedures", "chat": "joke"}

CHOOSING = re.compile(r"(g7|h4|r1)_(0[1-9]|10)$")
SECOND_CHOOSING = re.compile(r"(k8|m1)_\d+$")
HELD = re.compile(r"(g2|h5)_\d+$|[ghr]\d_(11|12)$|n(09|10)$")

CONJUNCTIONS = frozenset(
    ["and", "but", "so", "then", "with", "while", "though", "although", "because", "except", "however", "or"]
)
ENDERS = ".?!"
STOPS = ".?!,;:\u2014\u2013\u2026-"
STRIP = ".,;:?!\u2014\u2013\u2026-\"'()[]\u2018\u2019\u201c\u201d"


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact of the truth in numbers: site, outcome columns (none where no column fits), side and hedge."""

    site: int
    outcomes: tuple[int, ...]
    side: str
    hedged: bool


@dataclass(frozen=True, slots=True)
class Mark:
    """Words `first` to `last` (half-open) carry a fact or a role."""

    first: int
    last: int
    role: str
    fact: Fact | None = None


@dataclass(frozen=True, slots=True)
class Talk:
    """A narration as words with marks, and the word indices at which fact-sized stretches and comma-parts begin."""

    name: str
    words: tuple[str, ...]
    marks: tuple[Mark, ...]
    fact_cuts: tuple[int, ...] = ()
    part_cuts: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Names:
    """Site and finding names in the order of the label columns, with texts that describe them."""

    sites: tuple[str, ...]
    findings: tuple[str, ...]
    paired: tuple[bool, ...]
    site_texts: tuple[str, ...]
    finding_texts: tuple[str, ...]

    @property
    def outcomes(self) -> int:
        """Number of outcome columns: plain ones, then findings present, then findings absent."""
        return len(PLAIN) + 2 * len(self.findings)


def read_names(folder: Path) -> Names:
    """The names of `sites.csv` and `findings.csv` in `folder`."""
    with (folder / "sites.csv").open(encoding="utf-8") as stream:
        sites = list(csv.DictReader(stream))
    with (folder / "findings.csv").open(encoding="utf-8") as stream:
        findings = list(csv.DictReader(stream))
    return Names(
        sites=tuple(r["site"] for r in sites),
        findings=tuple(r["finding"] for r in findings),
        paired=tuple(r["paired"] == "yes" for r in sites),
        site_texts=tuple(f"{r['site']}, {r['region']}. {r['note'] or ''}".strip() for r in sites),
        finding_texts=tuple(f"{r['finding']}. {r['note'] or ''}".strip() for r in findings),
    )


def words_with_places(text: str) -> list[tuple[str, int, int]]:
    """White-space words of a text with their half-open character places."""
    return [(m.group(), m.start(), m.end()) for m in re.finditer(r"\S+", text)]


def part_of(name: str) -> str:
    """`held` (never to be opened), `choosing`, `second` (a further choosing set of unseen authors) or `work`."""
    if HELD.search(name):
        return "held"
    if CHOOSING.search(name):
        return "choosing"
    if re.match(r"(g7|h4|r1)_", name):
        return "held"
    if SECOND_CHOOSING.search(name):
        return "second"
    return "work"


def load_part(folder: Path, part: str, names: Names) -> list[Talk]:
    """All talks of one part; files of the held part are not opened."""
    if part == "held":
        raise ValueError("the held part is never read here")
    return [read_talk(p, names) for p in sorted(folder.glob("*.json")) if part_of(p.stem) == part]


def read_talk(path: Path, names: Names) -> Talk:
    """One truth file as a talk."""
    truth = json.loads(path.read_text(encoding="utf-8"))
    return talk_of(path.stem, truth, names)


def talk_of(name: str, truth: dict, names: Names) -> Talk:
    """A truth dictionary as a talk. A quote that stands more than once is taken where it follows the fact before."""
    text = truth["text"]
    places = words_with_places(text)
    marks: list[Mark] = []
    after = 0
    for f in truth["facts"]:
        at = text.find(f["quote"], after)
        if at < 0:
            at = text.find(f["quote"])
        if at < 0:
            continue
        after = at if at >= after else after
        span = _span(places, at, at + len(f["quote"]))
        marks.append(Mark(*span, "fact", _fact(f, names)))
    for n in truth.get("not_facts") or []:
        at = text.find(n["quote"])
        if at >= 0:
            role = WHY_TO_ROLE.get(n["why"], n["why"])
            if role in ROLES:
                marks.append(Mark(*_span(places, at, at + len(n["quote"])), role))
    for section, quotes in (truth.get("other") or {}).items():
        for quote in quotes:
            at = text.find(quote)
            if at >= 0:
                marks.append(Mark(*_span(places, at, at + len(quote)), section))
    talk = Talk(name, tuple(w for w, _, _ in places), tuple(marks))
    return replace(talk, fact_cuts=tuple(fact_cuts(talk)), part_cuts=tuple(part_cuts(talk)))


def _span(places: list[tuple[str, int, int]], start: int, end: int) -> tuple[int, int]:
    inside = [i for i, (_, a, b) in enumerate(places) if a < end and b > start]
    return inside[0], inside[-1] + 1


def _fact(f: dict, names: Names) -> Fact:
    site = names.sites.index(f["site"])
    finding, outcomes = f.get("finding"), []
    index = names.findings.index(finding) if finding in names.findings else None
    if f.get("value") is not None:
        outcomes.append(PLAIN.index("measured"))
    if f["status"] == "not_examined":
        outcomes = [PLAIN.index("not_examined")]
    elif finding and index is None:
        outcomes = []
    elif finding and f.get("present") is False:
        outcomes.append(len(PLAIN) + len(names.findings) + index)
    elif finding:
        outcomes.append(len(PLAIN) + index)
    elif f.get("value") is None:
        outcomes.append(PLAIN.index("abnormal" if f["status"] == "abnormal" else "normal"))
    hedged = f.get("certainty") == "possible" or f.get("stated_as") == "possible"
    return Fact(site, tuple(outcomes), f.get("side") or "none", hedged)


# ---------------------------------------------------------------------------------------------------------------- cuts


def bare(word: str) -> str:
    """A word in lower case without the stops around it."""
    return word.lower().strip(STRIP)


def ends_part(word: str) -> bool:
    """Whether a comma-part or sentence ends with this word."""
    return word[-1:] in STOPS or word.rstrip("\"')\u2019\u201d")[-1:] in STOPS


def ends_sentence(word: str) -> bool:
    """Whether a sentence ends with this word."""
    return word.rstrip("\"')\u2019\u201d")[-1:] in ENDERS


def part_cuts(talk: Talk) -> list[int]:
    """Word indices at which comma-parts begin."""
    return [i for i in range(len(talk.words)) if i == 0 or ends_part(talk.words[i - 1])]


def fact_cuts(talk: Talk) -> list[int]:
    """Word indices at which stretches begin: sentences, comma-parts that no quote holds together, starts of quotes."""
    facts = {(m.first, m.last) for m in talk.marks if m.fact}
    starts = {m.first for m in talk.marks}
    cuts = {0}
    for i in range(1, len(talk.words)):
        held = any(a < i < b for a, b in facts)
        if bare(talk.words[i - 1]) in CONJUNCTIONS and i - 1 in cuts and i > 1:
            continue  # the conjunction already opened this stretch
        if (
            i in starts
            or ends_sentence(talk.words[i - 1])
            or (ends_part(talk.words[i - 1]) and not held)
            or (bare(talk.words[i]) in CONJUNCTIONS and any(b == i for _, b in facts))
        ):
            cuts.add(i)
    return sorted(cuts)


# -------------------------------------------------------------------------------------------------------------- labels


@dataclass(frozen=True, slots=True)
class Pair:
    """One stretch with one true site: outcome columns, ignored columns' flag, share of each side, hedge."""

    stretch: int
    site: int
    outcomes: tuple[int, ...]
    sides: tuple[float, float, float, float]
    hedged: bool


@dataclass(frozen=True, slots=True)
class Labels:
    """Targets and weights of every stretch. A weight of 0 leaves a column out of the loss."""

    roles: np.ndarray
    role_weights: np.ndarray
    sites: np.ndarray
    site_weights: np.ndarray
    findings: np.ndarray
    pairs: tuple[Pair, ...]


def label(talk: Talk, cuts: list[int], names: Names) -> Labels:
    """Labels of the stretches that begin at `cuts`.

    A quote counts where it covers half of the stretch, or where half of the quote lies in it.
    """
    ends = [*cuts[1:], len(talk.words)]
    n, many = len(cuts), len(names.findings)
    roles, weights = np.zeros((n, len(ROLES)), np.float32), np.ones((n, len(ROLES)), np.float32)
    sites, site_weights = np.zeros((n, len(names.sites)), np.float32), np.ones((n, len(names.sites)), np.float32)
    findings = np.zeros((n, many), np.float32)
    marked = np.zeros(n, bool)
    held: dict[tuple[int, int], list[Fact]] = {}
    for m in talk.marks:
        for k in range(n):
            over = min(m.last, ends[k]) - max(m.first, cuts[k])
            if over <= 0:
                continue
            column = ROLES.index(m.role)
            full = over >= 0.5 * min(ends[k] - cuts[k], m.last - m.first)
            if not full:
                if not roles[k, column]:
                    weights[k, column] = 0
                if m.fact and not sites[k, m.fact.site]:
                    site_weights[k, m.fact.site] = 0
                continue
            marked[k] = True
            roles[k, column] = weights[k, column] = 1
            if m.fact:
                sites[k, m.fact.site] = site_weights[k, m.fact.site] = 1
                held.setdefault((k, m.fact.site), []).append(m.fact)
                for o in m.fact.outcomes:
                    if o >= len(PLAIN):
                        findings[k, (o - len(PLAIN)) % many] = 1
    for name in OPEN_ROLES:
        column = ROLES.index(name)
        weights[~marked, column] = np.minimum(weights[~marked, column], 0.3)
    pairs = tuple(Pair(k, s, *_joined(facts)) for (k, s), facts in held.items())
    return Labels(roles, weights, sites, site_weights, findings, pairs)


def _joined(facts: list[Fact]) -> tuple[tuple[int, ...], tuple[float, float, float, float], bool]:
    outcomes = () if any(not f.outcomes for f in facts) else tuple(sorted({o for f in facts for o in f.outcomes}))
    by_outcome: dict[tuple[int, ...], set[str]] = {}
    for f in facts:
        by_outcome.setdefault(f.outcomes, set()).add(f.side)
    share = [0.0] * len(SIDES)
    for sides in by_outcome.values():
        for side in {"both"} if {"left", "right"} <= sides else sides:
            share[SIDES.index(side)] = 1.0
    total = sum(share)
    a, b, c, d = (s / total for s in share)
    return outcomes, (a, b, c, d), any(f.hedged for f in facts)


def mapped(talk: Talk, words: list[str | None]) -> Talk:
    """The talk with each word replaced. None drops a word, a text with spaces becomes several; marks follow."""
    new: list[str] = []
    at = []
    for w in words:
        at.append(len(new))
        new.extend((w or "").split())
    at.append(len(new))
    marks = [replace(m, first=at[m.first], last=at[m.last]) for m in talk.marks]
    cuts, parts = (tuple(sorted({at[c] for c in old if at[c] < len(new)})) for old in (talk.fact_cuts, talk.part_cuts))
    return Talk(talk.name, tuple(new), tuple(m for m in marks if m.last > m.first), cuts, parts)


def unpunctuated(talk: Talk) -> Talk:
    """The talk as a recogniser without stops and capitals gives it. Stops inside numbers stay."""
    return mapped(talk, [bare(w) or None for w in talk.words])


def part(talk: Talk, first: int, last: int) -> Talk:
    """Words `first` to `last` of a talk, with the marks that lie wholly or mostly inside."""
    marks = []
    for m in talk.marks:
        a, b = max(m.first, first), min(m.last, last)
        if b - a > 0.6 * (m.last - m.first):
            marks.append(replace(m, first=a - first, last=b - first))
    cuts, parts = (
        tuple(sorted({0, *(c - first for c in old if first < c < last)})) for old in (talk.fact_cuts, talk.part_cuts)
    )
    return Talk(talk.name, talk.words[first:last], tuple(marks), cuts, parts)


def joined(talks: list[Talk]) -> Talk:
    """Talks one after another as one."""
    words: list[str] = []
    marks: list[Mark] = []
    cuts: list[int] = []
    parts: list[int] = []
    for t in talks:
        cuts += [c + len(words) for c in t.fact_cuts]
        parts += [c + len(words) for c in t.part_cuts]
        marks += [replace(m, first=m.first + len(words), last=m.last + len(words)) for m in t.marks]
        words += t.words
    return Talk("+".join(t.name for t in talks), tuple(words), tuple(marks), tuple(cuts), tuple(parts))
