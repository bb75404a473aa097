"""A record as a page of plain text, in the order in which a clinician reads; what is doubtful comes first."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from dictate.exam.phrases import at, cautions, measured, name_of, quoted, sentence, told
from dictate.exam.record import Doubt, Evidence, Observation, Record
from dictate.lexicon.tables import Lexicon

WIDTH = 100
MARK = "[?]"
NO_SPEECH = ("silence", "noise")


def page(record: Record, lexicon: Lexicon) -> str:
    """The record as text of at most 100 columns. It prints what was said and measured, and no judgement of its own."""
    blocks = [
        heading(record),
        to_settle(record),
        unplaced(record),
        patient(record),
        encounter(record),
        *regions(record, lexicon),
        not_examined(record),
        *sections(record),
        not_recorded(record, lexicon),
        sound(record),
        closing(record),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def heading(record: Record) -> list[str]:
    """The title and what state the record is in."""
    state = {
        "preliminary": "DRAFT (status: preliminary): not reviewed, not signed",
        "final": "FINAL (status: final)",
        "amended": "AMENDED (status: amended)",
        "entered-in-error": "ENTERED IN ERROR (status: entered-in-error): do not use",
    }[record.status]
    length = f", {at(record.sound.seconds)} min" if record.sound else ""
    return [
        "EXAM RECORD",
        state,
        f"From {record.source.name} ({record.source.kind}{length})",
        f"Drafted {record.drafted:%Y-%m-%d %H:%M %Z}".rstrip(),
        *record.source.notes,
    ]


def to_settle(record: Record) -> list[str]:
    """Every doubt, numbered, with its choices and the words that it is about."""
    lines: list[str] = []
    for number, (observations, doubt) in enumerate(_doubts(record), start=1):
        first = observations[0]
        text = f"{name_of(observations)}: {told(first)}. {sentence(doubt.message)}"
        if doubt.choices:
            text += f" Choose: {' | '.join(doubt.choices)}."
        lines += item(f"{number:>2} {MARK} ", f"{text} Heard: {quoted(first.evidence)}")
    return titled(f"TO SETTLE BEFORE SIGNING ({_count(record)})", lines)


def unplaced(record: Record) -> list[str]:
    lines = [line for u in record.unplaced for line in item("   ", f"{quoted([u])}: {sentence(u.why)}")]
    return titled(f"HEARD BUT NOT PLACED ({len(record.unplaced)})", lines)


def patient(record: Record) -> list[str]:
    p = record.patient
    neutered = {True: "yes", False: "no", None: None}[p.neutered]
    age = measured(p.age.number, p.age.unit) if p.age else None
    told_of = {"name": p.name, "species": p.species, "breed": p.breed, "sex": p.sex, "neutered": neutered, "age": age}
    return titled("PATIENT", [row(key, value or "not told") for key, value in told_of.items()])


def encounter(record: Record) -> list[str]:
    e = record.encounter
    time = f"{e.time:%Y-%m-%d %H:%M}" if e.time else None
    told_of = {"time": time, "reason": e.reason, "clinician": e.clinician, "conditions": ", ".join(e.conditions)}
    return titled("ENCOUNTER", [line for key, value in told_of.items() if value for line in _row(key, value)])


def regions(record: Record, lexicon: Lexicon) -> Iterator[list[str]]:
    """A block for each region of the body with observations, in the order of the lexicon's table of sites."""
    order = {site.site: rank for rank, site in enumerate(lexicon.sites)}
    region_of = {site.site: site.region for site in lexicon.sites}
    seen = [o for o in record.observations if o.status != "not_examined"]
    seen.sort(key=lambda o: order.get(o.site, len(order)))
    for region in dict.fromkeys([*region_of.values(), ""]):
        group = [o for o in seen if region_of.get(o.site, "") == region]
        title = (region or "other sites").upper()
        if record.encounter.conditions and any(o.value for o in group):
            title += f" ({', '.join(record.encounter.conditions)})"
        lines = []
        for alike in pairs_joined(group):
            mark = f" {MARK}" if any(o.doubts for o in alike) else ""
            lines += _row(name_of(alike), told(alike[0]) + mark)
        yield titled(title, lines)


def not_examined(record: Record) -> list[str]:
    lines: list[str] = []
    for alike in pairs_joined([o for o in record.observations if o.status == "not_examined"]):
        reason = str(alike[0].qualifiers.get("reason") or "no reason given")
        lines += _row(name_of(alike), reason + (f" {MARK}" if any(o.doubts for o in alike) else ""))
    return titled("COULD NOT BE EXAMINED", lines)


def sections(record: Record) -> Iterator[list[str]]:
    """The talk that is no finding, word for word."""
    titles = {
        "general": "GENERAL STATEMENTS (word for word; no site is recorded by them)",
        "history": "HISTORY",
        "assessment": "ASSESSMENT",
        "procedures": "PROCEDURES",
        "laboratory": "LABORATORY",
        "plan": "PLAN",
        "advice": "ADVICE TO THE OWNER",
    }
    for name, title in titles.items():
        kept: Sequence[Evidence] = getattr(record.other, name)
        yield titled(title, [line for e in kept for line in item("   ", quoted([e]))])


def not_recorded(record: Record, lexicon: Lexicon) -> list[str]:
    """The sites nobody spoke of, by region."""
    region_of = {site.site: site.region for site in lexicon.sites}
    missing = record.coverage.not_recorded
    lines: list[str] = []
    for region in dict.fromkeys(region_of.get(site, "other sites") for site in missing):
        names = ", ".join(site for site in missing if region_of.get(site, "other sites") == region)
        lines += _row(region, names)
    return titled("NOT RECORDED (not spoken of; neither normal nor abnormal)", lines)


def sound(record: Record) -> list[str]:
    if record.sound is None:
        return []
    lines = [f"{at(g.start)} to {at(g.end)} could not be decoded: {g.why}" for g in record.sound.gaps]
    for u in record.sound.unheard:
        if u.kind not in NO_SPEECH:
            lines.append(
                f"{at(u.start)} to {at(u.end)} speech without sure words" + (f": “{u.text}”" if u.text else "")
            )
    lines += record.sound.warnings
    return titled("SOUND", [line for text in lines for line in item("   ", text)])


def closing(record: Record) -> list[str]:
    made = record.made_by
    model = f", speech model {made.model}" if made.model else ""
    lines = [line for caution in cautions() for line in item("   ", caution)]
    lines += item(
        "   ", f"Made by {made.program} {made.version}, vocabulary {made.rule_set}{model}. Record {record.id}."
    )
    return titled("CAUTIONS", lines)


def pairs_joined(observations: Sequence[Observation]) -> list[list[Observation]]:
    """The observations, left and right of one site together where they say the same."""
    groups: dict[tuple[object, ...], list[Observation]] = {}
    for o in observations:
        same = o.model_copy(update={"id": "", "side": None, "evidence": ()}).model_dump_json()
        key = (same, o.side is None)
        group = groups.setdefault(key, [])
        if o.side in [other.side for other in group]:  # e.g. two alike masses: both are printed
            groups[(*key, o.id)] = [o]
        else:
            group.append(o)
    return list(groups.values())


def titled(title: str, lines: list[str]) -> list[str]:
    return [title, *lines] if lines else []


def row(label: str, text: str) -> str:
    return f"   {label:<28} {text}"


def _row(label: str, text: str) -> list[str]:
    return item(f"   {label:<28} ", text)


def item(lead: str, text: str) -> list[str]:
    """`text` wrapped after `lead`; the lines that follow are indented to it."""
    return textwrap.wrap(
        text, WIDTH, initial_indent=lead, subsequent_indent=" " * min(len(lead), 32), break_on_hyphens=False
    )


def _doubts(record: Record) -> Iterator[tuple[list[Observation], Doubt]]:
    for alike in pairs_joined(record.observations):
        for doubt in alike[0].doubts:
            yield alike, doubt


def _count(record: Record) -> int:
    return sum(1 for _ in _doubts(record))
