"""Narrations drafted for measuring, each with its truth, and by one reader or by both.

`READERS` are the ways to read a talk: `both` (the step as it is shipped), `rules` (the second reader is silenced) and
`second` (no rule is heard: the second reader's own stretches, roles, sites, sides and findings; only figures, which it
does not read, are taken from the stretch's words, and the patient from the opening).
"""

# ruff: noqa: E402  the number of threads must be set before numpy is loaded

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")  # more threads wait for each other longer than they help
HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from parts import Part
from score_drafts import cases, plain

from dictate.draft import Heard, Reader, Steps, draft
from dictate.exam.drafting import settle
from dictate.exam.record import Source, to_json
from dictate.exam.statements import Doubt, Evidence, Measure, Reading, Remark, Statement
from dictate.language import pipeline, step
from dictate.language.doubting import Thresholds
from dictate.language.marking import Vocabulary, vocabulary
from dictate.language.patient import patient_told
from dictate.language.quantities import quantities
from dictate.language.roles import SECTIONS
from dictate.language.second_reader import SecondReader, SiteReading, StretchReading
from dictate.language.second_reader import load as load_second_reader
from dictate.lexicon import Lexicon, load
from dictate.speech.words import Transcript

NARRATIONS = HERE.parent / "tests" / "narrations"
SECTION_FROM = 0.5  # the second reader's probability of a section from which its stretch is kept there
TAKEN_BACK_FROM = 0.5


@dataclass(frozen=True, slots=True)
class Drafted:
    """One narration: its truth, the record drafted from it, and the probability of each observation, in its order."""

    name: str
    truth: dict
    record: dict
    probabilities: tuple[float, ...]

    @property
    def observations(self) -> list[dict]:
        return self.record["observations"]


def drafted(part: Part, *, reader: str = "both", bare: bool = False, only: str = "") -> Iterator[Drafted]:
    """The narrations of one part, drafted from their text.

    Args:
        reader: one of `READERS`.
        bare: without punctuation and capitals.
        only: how the narrations' names begin.
    """
    lexicon = load()
    read = READERS[reader]
    for case in cases(NARRATIONS, None):
        if case.part == part and case.name.startswith(only):
            text = plain(case.truth["text"]) if bare else case.truth["text"]
            yield draft_one(case.name, case.truth, text, read, lexicon)


def draft_one(name: str, truth: dict, text: str, read: Reader, lexicon: Lexicon) -> Drafted:
    """One text drafted, just as `score_drafts.py` drafts it."""
    readings: list[Reading] = []

    def kept(transcript: Transcript, lexicon: Lexicon) -> Reading:
        readings.append(read(transcript, lexicon))
        return readings[-1]

    heard = Heard(Transcript((), text, name), Source(name=name, kind="text", sha256=name))
    steps = Steps(read=kept, listen=_deaf)
    record = json.loads(to_json(draft(heard, lexicon, steps=steps)))
    settled = settle(readings[0], heard.transcript, lexicon, settings=steps.exam)
    if len(settled) != len(record["observations"]):
        raise SystemExit(f"{name}: {len(record['observations'])} observations of {len(settled)} statements")
    return Drafted(name, truth, record, tuple(s.probability for s in settled))


def _deaf(file: Path) -> Transcript:
    raise SystemExit(f"{file}: only texts are measured here")


def by_both(transcript: Transcript, lexicon: Lexicon) -> Reading:
    """The language step as it is shipped."""
    return step.read(transcript, lexicon)


def by_rules(transcript: Transcript, lexicon: Lexicon) -> Reading:
    """The language step with the second reader silenced."""
    silent: Mapping[str, Callable] = {
        "second_readings": lambda marked: tuple(None for _ in marked.stretches),
        "begins": lambda text: frozenset(),
    }
    places = [(m, name) for m in (step, pipeline) for name in silent if hasattr(m, name)]
    if not {"second_readings", "begins"} <= {name for _, name in places}:
        raise SystemExit("the language step no longer asks the second reader where it is silenced here")
    before = [(m, name, getattr(m, name)) for m, name in places]
    try:
        for m, name in places:
            setattr(m, name, silent[name])
        return step.read(transcript, lexicon)
    finally:
        for m, name, function in before:
            setattr(m, name, function)


def by_second(transcript: Transcript, lexicon: Lexicon) -> Reading:
    """What the second reader alone makes of a talk, at the thresholds chosen for it (its `limits`)."""
    words = vocabulary(lexicon)
    patient, encounter = patient_told(transcript.text, words.patients, words.spelling, words.known)
    reader = second_reader()
    least, sure = reader.labels.limits["outcome"], reader.labels.limits["outcome_sure"]
    statements: list[Statement] = []
    remarks: list[Remark] = []
    for stretch in reader.read(transcript.text):
        evidence = Evidence(stretch.text, stretch.char_start, stretch.char_end)
        p, section = max((stretch.roles.get(s, 0.0), s) for s in SECTIONS)
        if p >= SECTION_FROM:
            remarks.append(Remark(section, evidence))  # type: ignore[arg-type]
        if stretch.taken_back < TAKEN_BACK_FROM:
            for site in stretch.sites:
                statements += _stated(stretch, site, evidence, words, least, sure)
    return Reading(patient, encounter, tuple(statements), (), tuple(remarks))


def _stated(
    stretch: StretchReading, site: SiteReading, evidence: Evidence, words: Vocabulary, least: float, sure: float
) -> Iterator[Statement]:
    side = max(site.sides, key=lambda s: site.sides[s])
    if site.site not in words.know.paired or side == "none":
        side = ""
    for outcome in site.outcomes:
        if outcome.probability < least:
            continue
        value = _number(stretch.text, site.site, words) if outcome.measured else None
        if outcome.measured and value is None:
            continue
        doubt = Doubt("reading", "may not be what was meant", ("as drafted", "not meant"))
        yield Statement(
            site=site.site,
            side=side or None,  # type: ignore[arg-type]
            status=outcome.status,  # type: ignore[arg-type]
            finding=outcome.finding,
            present=outcome.present,
            stated_as="possible" if site.hedged >= 0.5 else "certain",
            value=value,
            doubts=(doubt,) if outcome.probability < sure else (),
            evidence=(evidence,),
            probability=outcome.probability,
        )


def _number(text: str, site: str, words: Vocabulary) -> Measure | None:
    """The first figure of a stretch that is told in a unit of the site, or without any."""
    units = words.know.measures.get(site, ())
    found = next((q for q in quantities(text) if q.unit is None or q.unit in units), None)
    return Measure(found.number, found.unit or (units[0] if len(units) == 1 else None)) if found else None


@lru_cache(maxsize=1)
def second_reader() -> SecondReader:
    """The shipped second reader."""
    return load_second_reader()


READERS: Mapping[str, Reader] = {"rules": by_rules, "second": by_second, "both": by_both}
ASK = Thresholds().ask
