"""What the room sees, as one value: made anew from the record so far, sent to the page as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from dictate.exam.page import pairs_joined
from dictate.exam.phrases import measured, name_of, told
from dictate.exam.record import Observation, Record
from dictate.lexicon.tables import Lexicon
from dictate.live.questions import Asking
from dictate.review.choices import KEEP, measure
from dictate.speech.words import Word

State = Literal["waiting", "listening", "paused", "finishing", "finished", "failed"]
LAST_WORDS, MOST_VALUES, MOST_TOLD = 26, 8, 5


@dataclass(frozen=True, slots=True)
class Region:
    """A region of the body: how many of its sites were spoken of, and which are open. `abnormal`: how many are."""

    name: str
    told: int
    due: int
    abnormal: int
    open: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """Something that was understood: the site and what is said of it. `doubtful`: a question stands about it."""

    name: str
    text: str
    doubtful: bool = False
    abnormal: bool = False


@dataclass(frozen=True, slots=True)
class Shown:
    """A question in large type: its number, what is asked, and what may be answered."""

    number: int
    title: str
    message: str
    choices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class View:
    """All that the page shows."""

    state: State = "waiting"
    seconds: float = 0.0
    patient: str = ""
    heard: str = ""
    provisional: str = ""
    lines: tuple[Line, ...] = ()
    values: tuple[Line, ...] = ()
    regions: tuple[Region, ...] = ()
    here: str = ""
    questions: tuple[Shown, ...] = ()
    waiting: int = 0
    troubles: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    wake: str = ""
    notice: str = ""
    source: str = ""
    review: str = ""

    def json(self) -> dict[str, Any]:
        return asdict(self)


def regions_of(record: Record, lexicon: Lexicon) -> tuple[Region, ...]:
    """The regions in the order of the table of sites, with those that this patient does not have left out."""
    due = {*record.coverage.recorded, *record.coverage.not_recorded}
    spoken = {o.site for o in record.observations}
    abnormal = {o.site for o in record.observations if o.status == "abnormal" and o.present}
    names = dict.fromkeys(s.region for s in lexicon.sites)
    found = []
    for name in names:
        sites = [s.site for s in lexicon.sites if s.region == name and s.site in due]
        if sites:
            still = tuple(s for s in sites if s not in spoken)
            found.append(Region(name, len(sites) - len(still), len(sites), len(abnormal & set(sites)), still))
    return tuple(found)


def lines_of(record: Record) -> tuple[Line, ...]:
    """The last observations, the newest last; values stand elsewhere."""
    seen = [o for o in record.observations if o.value is None]
    seen.sort(key=lambda o: max((e.char_end for e in o.evidence), default=0))
    return tuple(_line(alike) for alike in pairs_joined(seen[-2 * MOST_TOLD :])[-MOST_TOLD:])


def values_of(record: Record) -> tuple[Line, ...]:
    """The measured values, each measure's last one; in the order in which they were told."""
    last: dict[object, Observation] = {}
    for o in record.observations:
        if o.value is not None:
            last.pop((o.site, o.side), None)
            last[(o.site, o.side)] = o
    return tuple(_line([o]) for o in list(last.values())[-MOST_VALUES:])


def _line(alike: Sequence[Observation]) -> Line:
    first = alike[0]
    doubtful = any(o.doubts for o in alike)
    return Line(name_of(alike), told(first), doubtful, first.status == "abnormal" and first.present)


def questions_of(asking: Asking) -> tuple[Shown, ...]:
    return tuple(Shown(a.number, a.question.title, a.question.message, _labels(a.choices)) for a in asking.shown)


def _labels(choices: Sequence[str]) -> tuple[str, ...]:
    """The choices as people read them; a value with its sign of unit."""
    labels = []
    for choice in choices:
        value = measure(choice)
        if choice in KEEP:
            labels.append("as heard")
        else:
            labels.append(measured(value.number, value.unit, value.comparator) if value else choice)
    return tuple(labels)


def patient_of(record: Record) -> str:
    p = record.patient
    parts = [p.name or "", p.breed or p.species or ""]
    return ", ".join(part for part in parts if part)


def here_of(record: Record, lexicon: Lexicon) -> str:
    """The region that was spoken of last."""
    if not record.observations:
        return ""
    last = max(record.observations, key=lambda o: max((e.char_end for e in o.evidence), default=0))
    return next((s.region for s in lexicon.sites if s.site == last.site), "")


def last_words(words: Sequence[Word], most: int = LAST_WORDS) -> str:
    return " ".join(w.text for w in words[-most:])


def values_said(record: Record) -> tuple[str, ...]:
    """The values as they are read back."""
    return tuple(f"{line.name}: {line.text}" for line in values_of(record)) or ("no values yet",)


def missing_said(record: Record, lexicon: Lexicon) -> tuple[str, ...]:
    """What nobody spoke of yet, by region; regions of which nothing was told in one line."""
    found = regions_of(record, lexicon)
    nothing = [r.name for r in found if not r.told]
    parts = [f"{r.name}: {', '.join(r.open)}" for r in found if r.told and r.open]
    return (*parts, *([f"nothing yet of: {', '.join(nothing)}"] if nothing else [])) or ("nothing is missing",)
