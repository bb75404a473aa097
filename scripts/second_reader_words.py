"""The tables of words for made-up talks: words for sites, wordings of findings, phrases by kind."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from second_reader_augment import Alike
from second_reader_data import PLAIN, Names, Talk

HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Words:
    """The tables: words for each site (one, many), findings' words, phrases by kind, sites of each finding."""

    one: dict[str, list[str]]
    many: dict[str, list[str]]
    findings: dict[str, tuple[list[str], list[str], list[str]]]
    talk: dict[str, list[str]]
    at: dict[str, list[str]]


def read_words(names: Names, site_words: Path | None, talks: Sequence[Talk]) -> Words:
    """Reads the tables. Sites of a finding are those it stands at in the written talks, as often as there."""
    one: dict[str, list[str]] = {s: [s] for s in names.sites}
    many: dict[str, list[str]] = {s: [] for s in names.sites}
    if site_words and site_words.is_file():
        with site_words.open(encoding="utf-8") as stream:
            for row in csv.DictReader(stream):
                if row["site"] in one and not row["side"] and "weak" not in (row["note"] or ""):
                    (many if row["number"] == "plural" else one)[row["site"]].append(row["words"])
    with (HERE / "second_reader_findings.csv").open(encoding="utf-8") as stream:
        findings = {
            r["finding"]: tuple(_parts(r[k]) for k in ("nouns", "states", "clauses")) for r in csv.DictReader(stream)
        }
    with (HERE / "second_reader_talk.csv").open(encoding="utf-8") as stream:
        talk = {r["kind"]: (r["words"] or "").split(";") for r in csv.DictReader(stream)}
    at: dict[str, list[str]] = {f: [] for f in names.findings}
    for t in talks:
        for m in t.marks:
            for o in m.fact.outcomes if m.fact else ():
                if o >= len(PLAIN):
                    at[names.findings[(o - len(PLAIN)) % len(names.findings)]].append(names.sites[m.fact.site])
    return Words(one, many, findings, talk, at)  # type: ignore[arg-type]


def _parts(text: str) -> list[str]:
    return [t for t in (text or "").split(";") if t]


def alike_of(words: Words, names: Names) -> Alike:
    """Wordings that mean the same, from the tables."""

    def many(wordings: list[str]) -> tuple[tuple[str, ...], ...]:
        bare = {tuple(w.lower().split()) for w in wordings}
        return tuple(sorted(w[1:] if len(w) > 1 and w[0] in ("a", "an") else w for w in bare))

    outcomes = {}
    for i, finding in enumerate(names.findings):
        nouns, states, _ = words.findings[finding]
        outcomes[len(PLAIN) + i] = outcomes[len(PLAIN) + len(names.findings) + i] = (many(nouns), many(states))
    return Alike(tuple((many(words.one[s]), many(words.many[s])) for s in names.sites), outcomes)
