"""The one screen before a signature: what a wrong record would get wrong, in short lines, and nothing left out.

Abnormal findings stand first, each with what is recorded of the other side; then values, with those of the last visit;
then what was found absent, not examined, cannot be told; the normal sites; sites of which one side alone is recorded;
words of findings that no line tells; and what was not recorded at all.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dictate.exam.page import pairs_joined
from dictate.exam.phrases import measured, name_of, told
from dictate.exam.record import Observation, Record
from dictate.lexicon.tables import Lexicon
from dictate.review.crosscheck import unclaimed

WHOLE_REGION = "nothing of this region"
OTHER = {"left": "right", "right": "left"}


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to look at. `note` is what stands beside it: the other side, or the last visit's value."""

    region: str
    name: str
    text: str
    observations: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class Summary:
    """All that a person signs, by what can be wrong in it. `patient` holds pairs of label and text."""

    patient: tuple[tuple[str, str], ...]
    abnormal: tuple[Line, ...]
    values: tuple[Line, ...]
    absent: tuple[Line, ...]
    not_examined: tuple[Line, ...]
    untold: tuple[Line, ...]
    normal: tuple[Line, ...]
    one_side: tuple[Line, ...]
    unclaimed: tuple[Line, ...]
    not_recorded: tuple[Line, ...]


TITLES = {
    "abnormal": "Abnormal findings",
    "values": "Values",
    "absent": "Looked for and absent",
    "not_examined": "Not examined",
    "untold": "Cannot be told",
    "normal": "Normal",
    "one_side": "Only one side recorded",
    "unclaimed": "Words of a finding that no line tells so",
    "not_recorded": "Not recorded",
}


def before_you_sign(record: Record, lexicon: Lexicon, *, earlier: Record | None = None) -> Summary:
    """The summary of a record; `earlier` is the patient's last visit before this one, for its values."""
    of_site = {site.site: site.region for site in lexicon.sites}
    order = {site.site: rank for rank, site in enumerate(lexicon.sites)}
    said = sorted(record.observations, key=lambda o: order.get(o.site, len(order)))

    def lines(observations: Iterable[Observation], note: bool = False) -> tuple[Line, ...]:
        return tuple(
            Line(
                region=of_site.get(alike[0].site, "other sites"),
                name=name_of(alike),
                text=_text(alike[0]),
                observations=tuple(o.id for o in alike),
                note=(other_side(alike, record) or last_value(alike[0], earlier)) if note else "",
            )
            for alike in pairs_joined(list(observations))
        )

    normal = [o for o in said if o.status == "normal" and o.value is None]
    return Summary(
        patient=_patient(record),
        abnormal=lines((o for o in said if o.status == "abnormal"), note=True),
        values=lines((o for o in said if o.value is not None and o.status != "abnormal"), note=True),
        absent=lines(o for o in normal if not o.present),
        not_examined=lines(o for o in said if o.status == "not_examined"),
        untold=lines(o for o in said if o.untold),
        normal=lines(o for o in normal if o.present),
        one_side=tuple(_one_side(record, lexicon)),
        unclaimed=tuple(
            Line(
                region=of_site.get(u.observations[0].site, "") if u.observations else "",
                name=u.finding,
                text=f"“{u.text}”",
                observations=tuple(o.id for o in u.observations),
                note="; ".join(f"{name_of(alike)}: {told(alike[0])}" for alike in pairs_joined(u.observations)),
            )
            for u in unclaimed(record, lexicon)
        ),
        not_recorded=tuple(_not_recorded(record, of_site)),
    )


def _text(o: Observation) -> str:
    """What is said of it; of what was not examined the reason alone."""
    return str(o.qualifiers.get("reason") or "no reason given") if o.status == "not_examined" else told(o)


def _patient(record: Record) -> tuple[tuple[str, str], ...]:
    p = record.patient
    age = measured(p.age.number, p.age.unit) if p.age else None
    neutered = {True: "neutered", False: "not neutered", None: None}[p.neutered]
    pairs = {
        "name": p.name,
        "species": p.species,
        "breed": p.breed,
        "sex": " ".join(w for w in (p.sex, neutered) if w) or None,
        "age": age,
        "reason": record.encounter.reason,
        "conditions": ", ".join(record.encounter.conditions) or None,
    }
    needed = ("name", "species", "sex", "age")
    return tuple((label, text or "not told") for label, text in pairs.items() if text or label in needed)


def other_side(alike: Sequence[Observation], record: Record) -> str:
    """What is recorded of the other side of one-sided findings: where a side is wrong, it shows here."""
    one = alike[0]
    if len(alike) > 1 or one.side is None:
        return ""
    other = [o for o in record.observations if o.site == one.site and o.side == OTHER[one.side]]
    return f"{OTHER[one.side]}: {'; '.join(told(o) for o in other) if other else 'not recorded'}"


def last_value(one: Observation, earlier: Record | None) -> str:
    """The value of the same measure at the last visit."""
    if one.value is None or earlier is None:
        return ""
    same = [o for o in earlier.observations if o.site == one.site and o.value is not None and not o.untold]
    return f"last visit: {'; '.join(told(o) for o in same)}" if same else ""


def _one_side(record: Record, lexicon: Lexicon) -> Iterable[Line]:
    sides: dict[str, set[str | None]] = {}
    for o in record.observations:
        sides.setdefault(o.site, set()).add(o.side)
    for site in lexicon.sites:
        told_of = sides.get(site.site, set())
        if site.paired and len(told_of) == 1 and (side := next(iter(told_of))) is not None:
            yield Line(site.region, site.site, f"{side} only")


def _not_recorded(record: Record, of_site: dict[str, str]) -> Iterable[Line]:
    """A line a region; its note says so where nothing of the region is recorded."""
    missing: dict[str, list[str]] = {}
    for site in record.coverage.not_recorded:
        missing.setdefault(of_site.get(site, "other sites"), []).append(site)
    spoken = {of_site.get(site, "other sites") for site in record.coverage.recorded}
    for region, sites in missing.items():
        yield Line(region, region, ", ".join(sites), note="" if region in spoken else WHOLE_REGION)


def summary_text(summary: Summary, *, width: int = 100) -> str:
    """The summary as plain text: findings and values a line each, the rest in running lines."""
    out = ["BEFORE YOU SIGN", ", ".join(f"{label} {text}" for label, text in summary.patient)]
    for name, title in TITLES.items():
        lines: tuple[Line, ...] = getattr(summary, name)
        out.append(f"{title} ({len(lines)})" if name != "not_recorded" else title)
        if not lines:
            out[-1] += ": none"
        elif name == "not_recorded":
            whole = [line.name for line in lines if line.note]
            parts = [f"all of: {', '.join(whole)}"] if whole else []
            parts += [f"{line.name}: {line.text}" for line in lines if not line.note]
            out += _wrapped("; ".join(parts), "   ", width)
        elif name in ("absent", "normal", "one_side"):
            text = "; ".join(f"{line.name}: {line.text}".removesuffix(": normal") for line in lines)
            out += _wrapped(text, "   ", width)
        else:
            for line in lines:
                text = line.text + (f"   [{line.note}]" if line.note else "")
                out += _wrapped(text, f"   {line.name:<28} ", width)
    return "\n".join(out) + "\n"


def _wrapped(text: str, lead: str, width: int) -> list[str]:
    hang = " " * min(len(lead), 32)
    return textwrap.wrap(text, width, initial_indent=lead, subsequent_indent=hang, break_on_hyphens=False)
