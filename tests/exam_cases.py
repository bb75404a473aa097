"""Small hand-made values for the tests of the exam step: a lexicon of a few rows, statements, transcripts."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

from dictate.exam.context import Context, ExamSettings
from dictate.exam.drafting import make_record, settle
from dictate.exam.record import MadeBy, Record, Source
from dictate.exam.statements import Evidence, PatientTold, Reading, Statement
from dictate.lexicon import tables
from dictate.lexicon.tables import Lexicon
from dictate.speech.words import Transcript, Word

NOW = datetime(2026, 5, 4, 10, 30, tzinfo=UTC)


def site(name: str, region: str, *, paired: bool = False, applies_to: tuple[str, ...] = ()) -> tables.Site:
    return tables.Site(name, region, paired, applies_to, "", "")


def limits(measure: str, species: str, stage: str, low: float, high: float, unit: str) -> tables.Range:
    return tables.Range(measure, species, stage, low, high, low, high, unit, "invented")


LEXICON = Lexicon(
    sites=(
        site("gait", "general"),
        site("weight", "vital signs"),
        site("temperature", "vital signs"),
        site("heart rate", "vital signs"),
        site("eye", "eyes", paired=True),
        site("cornea", "eyes", paired=True),
        site("ear canal", "ears", paired=True),
        site("teeth", "mouth"),
        site("lips", "mouth"),
        site("elbow", "forelimbs", paired=True),
        site("skin", "trunk"),
        site("abdomen", "abdomen"),
        site("prostate", "abdomen", applies_to=("male",)),
        site("vulva", "perineum", applies_to=("female",)),
        site("lung", "chest", paired=True),
        site("femoral pulse", "chest", paired=True),
    ),
    findings=tuple(
        tables.Finding(name, (), None, "", "") for name in ("discharge", "mass", "thickening", "crackles", "fever")
    ),
    site_words=(
        tables.SiteWords("elbow", "elbow", None, None, ""),
        tables.SiteWords("eyes", "eye", "both", "plural", ""),
    ),
    finding_words=(tables.FindingWords("thick", "thickening", None, None, {}, ""),),
    normal_words=(tables.NormalWords("clear", None, "", ""),),
    sides=(tables.SideWords("left", "left", ""), tables.SideWords("right", "right", "")),
    negation=(tables.Negation("no", "before", ""),),
    site_traits=(tables.SiteTrait("femoral pulse", "open side", "", "invented"),),
    rest_words=(tables.RestWords("otherwise", ""),),
    repeat_words=(tables.RepeatWords("now", ""),),
    teeth=tuple(
        tables.Tooth(species, number, "left" if number[0] in "23" else "right", "invented")
        for species, numbers in (("dog", ("104", "105", "208", "411")), ("cat", ("104",)))
        for number in numbers
    ),
    ranges=(
        limits("temperature", "dog", "adult", 34, 42.5, "Cel"),
        limits("temperature", "cat", "adult", 34, 42.5, "Cel"),
        limits("heart rate", "dog", "adult", 30, 260, "/min"),
        limits("heart rate", "cat", "adult", 80, 320, "/min"),
        limits("weight", "dog", "adult", 0.8, 110, "kg"),
        limits("weight", "cat", "adult", 1.2, 16, "kg"),
        limits("weight", "cat", "kitten", 0.05, 4, "kg"),
    ),
    measures=(tables.MeasureOf("weight", ("kg", "[lb_av]"), True, 0.05, 120, "", "invented"),),
    species_facts=tuple(
        tables.SpeciesFact(species, fact, value, "invented")
        for species in ("dog", "cat")
        for fact, value in (("grown from months", "12"), ("front digits", "5"))
    ),
    rule_set="test",
)


def said(text: str, quote: str, place: str, side: Any = None, **more: Any) -> Statement:
    """A statement whose evidence is the first `quote` in `text`."""
    start = text.index(quote)
    return Statement(place, side, evidence=(Evidence(quote, start, start + len(quote)),), **more)


def written(text: str) -> Transcript:
    return Transcript((), text, "0" * 64)


def spoken(text: str, *, unsure: dict[str, float] | None = None) -> Transcript:
    """A transcript in which word number n lasts from n to n + 1 seconds; `unsure` gives some words a probability."""
    words = tuple(
        Word(w, float(n), n + 1.0, (unsure or {}).get(re.sub(r"\W", "", w), 0.99)) for n, w in enumerate(text.split())
    )
    return Transcript(words, " ".join(w.text for w in words), "0" * 64)


def context(text: str = "", patient: PatientTold | None = None) -> Context:
    return Context(written(text), LEXICON, patient or PatientTold())


def settled(
    *statements: Statement,
    text: str = "",
    patient: PatientTold | None = None,
    transcript: Transcript | None = None,
    settings: ExamSettings | None = None,
) -> tuple[Statement, ...]:
    """The statements as all steps of the exam leave them."""
    reading = Reading(patient or PatientTold(), statements=statements)
    return settle(reading, transcript or written(text), LEXICON, settings=settings)


def recorded(reading: Reading, transcript: Transcript, *, lexicon: Lexicon = LEXICON, **more: Any) -> Record:
    return make_record(
        reading,
        transcript,
        lexicon,
        source=Source(name="exam.txt", kind="sound" if transcript.words else "text", sha256=transcript.source_hash),
        made_by=MadeBy(program="dictate-exam", version="0", rule_set=lexicon.rule_set),
        **{"drafted": NOW, **more},
    )


def kinds(statement: Statement) -> list[str]:
    return [doubt.kind for doubt in statement.doubts]
