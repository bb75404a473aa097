"""Blocks that every document of a record has: its state, the patient, what is open, who signed, the cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from dictate.exam.page import pairs_joined
from dictate.exam.phrases import at, cautions, measured, name_of, quoted, sentence, told
from dictate.exam.record import Doubt, Evidence, Observation, Patient, Record
from dictate.exam.sides import MAY_STAY_OPEN
from dictate.export.document import Block, Document, Line, block
from dictate.export.standing import Signature, Standing, amends_of, examined, signature_of
from dictate.lexicon.tables import Lexicon

STATES = {
    "preliminary": ("DRAFT: not reviewed to the end, not signed", "DRAFT"),
    "final": ("FINAL", ""),
    "amended": ("AMENDED", ""),
    "entered-in-error": ("ENTERED IN ERROR: do not use", "ENTERED IN ERROR"),
}
TITLES = {
    "general": "General statements, word for word (no site is recorded by them)",
    "history": "History",
    "assessment": "Assessment",
    "procedures": "Procedures",
    "laboratory": "Laboratory",
    "plan": "Plan",
    "advice": "Advice to the owner",
}


def document(title: str, record: Record, standing: Standing, blocks: Sequence[list[Block]]) -> Document:
    """The document with what all of them share around `blocks`; what is not settled comes first, the signature last."""
    state, page_mark = STATES[record.status]
    made = record.made_by
    model = f", speech model {made.model}" if made.model else ""
    return Document(
        title,
        f"{state} (status: {record.status})",
        page_mark,
        subject(record.patient, standing),
        f"Record {record.id}",
        standing.practice,
        tuple(
            b
            for part in (to_settle(record), unplaced(record), *blocks, dismissed(record), signed(record, standing))
            for b in part
        ),
        (*cautions(), f"Made by {made.program} {made.version}, vocabulary {made.rule_set}{model}. Record {record.id}."),
    )


def subject(patient: Patient, standing: Standing) -> str:
    """The patient in one line: the name, and what tells it from another of the same name."""
    facts = standing.patient
    parts = (
        patient.name or "patient's name not told",
        patient.breed or patient.species,
        f"no. {facts.number}" if facts.number else "",
        f"microchip {facts.microchip}" if facts.microchip else "",
        f"owner {facts.owner}" if facts.owner else "",
        f"born {facts.birth_date}" if facts.birth_date else "",
    )
    return ", ".join(part for part in parts if part)


def patient(record: Record, standing: Standing) -> list[Block]:
    """Who the patient is. What is not told is said to be so."""
    p, facts = record.patient, standing.patient
    neutered = {True: "neutered", False: "not neutered", None: "whether neutered: not told"}[p.neutered]
    born = f"born {facts.birth_date}" if facts.birth_date else ""
    age = measured(p.age.number, p.age.unit) if p.age else ""
    told_of = {
        "name": p.name or "not told",
        "species": p.species or "not told",
        "breed": p.breed or "not told",
        "sex": f"{p.sex or 'not told'}, {neutered}",
        "age": ", ".join(part for part in (age, born) if part) or "not told",
        "practice number": facts.number,
        "microchip": facts.microchip,
        "owner": facts.owner,
    }
    return block("Patient", [Line(text, label) for label, text in told_of.items() if text])


def encounter(record: Record, standing: Standing) -> list[Block]:
    e = record.encounter
    length = f", {at(record.sound.seconds)} min" if record.sound else ""
    told_of = {
        "examined": examined_line(record, standing),
        "reason": e.reason,
        "clinician": e.clinician,
        "conditions": ", ".join(e.conditions),
        "drafted": f"{when(record.drafted)} from {record.source.name} ({record.source.kind}{length})",
        "note": " ".join(record.source.notes),
    }
    return block("Encounter", [Line(text, label) for label, text in told_of.items() if text])


def to_settle(record: Record) -> list[Block]:
    """Every doubt that is open, with its choices and the words that it is about."""
    lines = []
    for alike, doubt in open_doubts(record):
        choices = f" Choose: {' | '.join(doubt.choices)}." if doubt.choices else ""
        said_so = f" Heard: {heard(alike[0].evidence)}." if alike[0].evidence else ""
        lines.append(Line(f"{told(alike[0])}. {sentence(doubt.message)}{choices}{said_so}", name_of(alike), open=True))
    return block(f"To settle before signing ({len(lines)})", lines, weight="attention")


def open_doubts(record: Record) -> Iterator[tuple[list[Observation], Doubt]]:
    """Each open doubt once, with the observation or the two sides that it is about."""
    for alike in pairs_joined(record.observations):
        for doubt in alike[0].doubts:
            yield alike, doubt


def unplaced(record: Record) -> list[Block]:
    lines = [Line(f"{heard([u])}: {sentence(u.why)}") for u in record.unplaced]
    return block(f"Heard but not placed ({len(lines)})", lines, weight="attention")


def dismissed(record: Record) -> list[Block]:
    """Phrases that a reviewer looked at and left unplaced: they are kept."""
    return block("Heard, and left unplaced by the reviewer", [Line(heard([u])) for u in record.dismissed])


def signed(record: Record, standing: Standing) -> list[Block]:
    """Who signed, when and over which content. Nothing of the kind on a draft: nobody has signed it."""
    if record.status == "preliminary":
        return []
    signature, amends = signature_of(record, standing), amends_of(record, standing)
    lines = [Line(signature_line(signature) if signature else "the signature was not handed over", "signed by")]
    if signature and signature.record_hash:
        lines.append(Line(signature.record_hash, "content signed (SHA-256)"))
    if amends:
        lines.append(Line(amends.record, "takes the place of"))
        lines.append(Line(amends.reason, "reason"))
        lines += [Line(signature_line(s), "signed before by") for s in amends.earlier]
    if standing.withdrawn:
        lines.append(Line(signature_line(standing.withdrawn), "entered in error, said by"))
        lines += [Line(standing.withdrawn_why, "reason")] if standing.withdrawn_why else []
    if reviewers := ", ".join(dict.fromkeys(mark.by for mark in record.review)):
        lines.append(Line(reviewers, "reviewed by"))
    if standing.chain_head:
        number = f" (entry {standing.chain_number})" if standing.chain_number is not None else ""
        lines.append(Line(standing.chain_head + number, "head of the record chain"))
    return block("Signature", lines)


def signature_line(signature: Signature) -> str:
    role = f" ({signature.role})" if signature.role else ""
    return f"{signature.by}{role}, {when(signature.time)}"


def heard(evidence: Sequence[Evidence]) -> str:
    """The words in quotation marks with their time; words that were typed or deleted are said to be so."""
    return ", ".join(
        "(words deleted with the sound)" if e.deleted else quoted([e]) + (f" (typed by {e.by})" if e.by else "")
        for e in evidence
    )


def examined_line(record: Record, standing: Standing) -> str:
    time = examined(record, standing)
    return when(time) if isinstance(time, datetime) else str(time or "time not told")


def when(time: datetime) -> str:
    return f"{time:%Y-%m-%d %H:%M %Z}".rstrip()


def sided(alike: Sequence[Observation], lexicon: Lexicon) -> str:
    """The site with its side; a paired site of which no side is recorded says so."""
    site = alike[0].site
    paired = any(s.site == site and s.paired for s in lexicon.sites)
    may_stay_open = any(t.site == site and t.trait == MAY_STAY_OPEN for t in lexicon.site_traits)
    if paired and not may_stay_open and not alike[0].untold and {o.side for o in alike} == {None}:
        return f"{site}, side not stated"
    return name_of(alike)


def said(alike: Sequence[Observation], lexicon: Lexicon) -> Line:
    """The line of one observation, or of the two sides that say the same."""
    return Line(told(alike[0]), sided(alike, lexicon), open=any(o.doubts for o in alike))


def could_not_be_examined(record: Record, lexicon: Lexicon) -> list[Block]:
    """What was tried and could not be examined, with the reason as it was told."""
    lines = [
        Line(
            str(alike[0].qualifiers.get("reason") or "no reason given"),
            sided(alike, lexicon),
            open=any(o.doubts for o in alike),
        )
        for alike in tried(record)
    ]
    return block("Could not be examined", lines)


def tried(record: Record) -> list[list[Observation]]:
    """The observations that say that a site could not be examined, left and right together where they say the same."""
    return pairs_joined([o for o in record.observations if o.status == "not_examined"])


def by_region(sites: Sequence[str], lexicon: Lexicon) -> dict[str, list[str]]:
    """The sites by region, in the order in which the regions come up."""
    region_of = {site.site: site.region for site in lexicon.sites}
    regions: dict[str, list[str]] = {}
    for site in sites:
        regions.setdefault(region_of.get(site, "other sites"), []).append(site)
    return regions


def word_for_word(record: Record, *sections: str) -> Iterator[list[Block]]:
    """The named sections of talk that is no finding, word for word."""
    for name in sections:
        lines = [Line(heard([e])) for e in getattr(record.other, name)]
        yield block(TITLES[name], lines)
