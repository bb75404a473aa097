"""What the pages about one visit show, as frozen values made from a record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dictate import store
from dictate.exam.page import pairs_joined
from dictate.exam.phrases import at, name_of, quoted, told
from dictate.exam.record import Evidence, Observation, Record
from dictate.lexicon.tables import Lexicon
from dictate.review import Line as SummaryLine
from dictate.review import Summary
from dictate.review.spoken import answered_aloud
from dictate.review.summary import TITLES
from dictate.store import Store, Visit


@dataclass(frozen=True, slots=True)
class Sounds:
    """Whether a visit's sound is here, and the address of a stretch of it. `why_not` says why it is not."""

    visit: int
    kept: bool
    why_not: str = ""

    def of(self, evidence: Sequence[Evidence]) -> str:
        """The address of the sound behind the first words that have one; "" where there is none."""
        spoken = next((e for e in evidence if e.start is not None and e.end is not None), None)
        if not self.kept or spoken is None:
            return ""
        return f"/visits/{self.visit}/sound?from={spoken.start:.3f}&to={spoken.end:.3f}"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a record: left and right together where they say the same."""

    ids: tuple[str, ...]
    name: str
    text: str
    status: str
    doubtful: bool
    heard: str
    time: str
    sound: str
    aloud: bool = False  # a doubt about it was answered aloud during the exam

    @property
    def anchor(self) -> str:
        return f"line-{self.ids[0]}"


@dataclass(frozen=True, slots=True)
class Region:
    """A part of the body: what is recorded of it, and the sites that nobody spoke of."""

    name: str
    lines: tuple[Line, ...]
    not_recorded: tuple[str, ...]


def sounds_of(house_store: Store, visit: Visit, record: Record) -> Sounds:
    """What there is of the sound that a visit's record was drafted from."""
    if record.source.kind != "sound":
        return Sounds(visit.id, False, "This record was drafted from a text; there is no sound.")
    recordings = store.recordings_of(house_store, visit.id)
    mine = [r for r in recordings if r.sha256 == record.source.sha256]
    if any(r.kept for r in mine):
        return Sounds(visit.id, True)
    why = next((r.why_not for r in mine if r.why_not), "the sound was not kept")
    return Sounds(visit.id, False, f"There is no sound to listen to: {why}.")


def line(alike: Sequence[Observation], sounds: Sounds, *, aloud: frozenset[str] = frozenset()) -> Line:
    """A line of the record; `aloud` are the ids of the observations about which an answer was spoken."""
    first = alike[0]
    spoken = [e for e in first.evidence if e.text]
    start = next((e.start for e in spoken if e.start is not None), None)
    return Line(
        ids=tuple(o.id for o in alike),
        name=name_of(alike),
        text=_text(first),
        status=first.status,
        doubtful=any(o.doubts for o in alike),
        heard=quoted(spoken),
        time=at(start) if start is not None else "",
        sound=sounds.of(spoken),
        aloud=any(o.id in aloud for o in alike),
    )


def _text(o: Observation) -> str:
    """What is said of it; of what was not examined the reason alone, for the page says the rest."""
    return str(o.qualifiers.get("reason") or "no reason given") if o.status == "not_examined" else told(o)


def regions(record: Record, lexicon: Lexicon, sounds: Sounds) -> tuple[Region, ...]:
    """The whole record by region, in the order of the form; regions with neither lines nor open sites are left out."""
    order = {site.site: rank for rank, site in enumerate(lexicon.sites)}
    region_of = {site.site: site.region for site in lexicon.sites}
    said = sorted(record.observations, key=lambda o: order.get(o.site, len(order)))
    found, aloud = [], answered_aloud(record)
    for name in dict.fromkeys([*region_of.values(), ""]):
        lines = pairs_joined([o for o in said if region_of.get(o.site, "") == name])
        missing = tuple(site for site in record.coverage.not_recorded if region_of.get(site, "") == name)
        if lines or missing:
            found.append(
                Region(name or "other sites", tuple(line(alike, sounds, aloud=aloud) for alike in lines), missing)
            )
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Shown:
    """A line of the page before signing, with the address of its sound."""

    name: str
    text: str
    note: str
    time: str
    sound: str


def with_sounds(summary: Summary, record: Record, sounds: Sounds) -> dict[str, tuple[Shown, ...]]:
    """The lists of the summary by name, each line with the sound of the first observation behind it."""
    by_id = {o.id: o for o in record.observations}
    return {name: tuple(_shown(line, by_id, sounds) for line in getattr(summary, name)) for name in TITLES}


def _shown(line: SummaryLine, by_id: Mapping[str, Observation], sounds: Sounds) -> Shown:
    found = next((by_id[i] for i in line.observations if i in by_id), None)
    evidence = found.evidence if found else ()
    start = next((e.start for e in evidence if e.start is not None), None)
    return Shown(line.name, line.text, line.note, at(start) if start is not None else "", sounds.of(evidence))
