"""The whole record as a document: everything that it holds, in the order in which a clinician reads."""

from __future__ import annotations

from collections.abc import Iterator

from dictate.exam.page import NO_SPEECH, pairs_joined
from dictate.exam.phrases import at
from dictate.exam.record import Record
from dictate.export import parts
from dictate.export.document import Block, Document, Line, block
from dictate.export.standing import Standing
from dictate.lexicon.tables import Lexicon


def full(record: Record, lexicon: Lexicon, standing: Standing) -> Document:
    """What was said and measured, as it was said and measured, and what was not."""
    blocks = (
        parts.patient(record, standing),
        parts.encounter(record, standing),
        *regions(record, lexicon),
        parts.could_not_be_examined(record, lexicon),
        *parts.word_for_word(record, *parts.TITLES),
        not_recorded(record, lexicon),
        sound(record),
    )
    return parts.document("Exam record", record, standing, blocks)


def regions(record: Record, lexicon: Lexicon) -> Iterator[list[Block]]:
    """A block for each region with observations, in the order of the lexicon's table of sites."""
    order = {site.site: rank for rank, site in enumerate(lexicon.sites)}
    seen = sorted(
        (o for o in record.observations if o.status != "not_examined"), key=lambda o: order.get(o.site, len(order))
    )
    for region, sites in parts.by_region([o.site for o in seen], lexicon).items():
        group = [o for o in seen if o.site in sites]
        conditions = ", ".join(record.encounter.conditions) if any(o.value for o in group) else ""
        lines = [parts.said(alike, lexicon) for alike in pairs_joined(group)]
        yield block(region.capitalize(), lines, note=conditions)


def not_recorded(record: Record, lexicon: Lexicon) -> list[Block]:
    lines = [
        Line(", ".join(sites), region)
        for region, sites in parts.by_region(record.coverage.not_recorded, lexicon).items()
    ]
    return block("Not recorded", lines, note="not spoken of; neither normal nor abnormal")


def sound(record: Record) -> list[Block]:
    """What a reader must know of the sound: what could not be decoded, and speech that gave no sure words."""
    if record.sound is None:
        return []
    lines = [Line(f"could not be decoded: {g.why}", f"{at(g.start)} to {at(g.end)}") for g in record.sound.gaps]
    for u in record.sound.unheard:
        if u.kind not in NO_SPEECH:
            heard = f": “{u.text}”" if u.text else ""
            lines.append(Line(f"speech without sure words{heard}", f"{at(u.start)} to {at(u.end)}"))
    return block("Sound", [*lines, *(Line(warning) for warning in record.sound.warnings)])
