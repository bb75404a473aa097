"""The sheet for the person who anaesthetises: findings, values, what was not examined. It clears no patient.

Which sites come first stands in the lexicon (`anaesthesia_sites`); every other abnormal finding follows, so that none
is hidden. The physical status class is there only in the words in which it was spoken.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from dictate.exam.page import pairs_joined
from dictate.exam.record import Evidence, Observation, Record
from dictate.export import parts
from dictate.export.document import Block, Document, Line, block
from dictate.export.standing import Standing
from dictate.lexicon.tables import Lexicon

NOT_SPOKEN = "not spoken of"


def anaesthesia(record: Record, lexicon: Lexicon, standing: Standing) -> Document:
    """The sheet, abnormal findings first."""
    first = {row.site: row.group for row in lexicon.anaesthesia_sites}
    abnormal = [o for o in record.observations if o.status == "abnormal"]
    here = [o for o in abnormal if o.site in first]
    elsewhere = [o for o in abnormal if o.site not in first]
    blocks = (
        parts.patient(record, standing),
        conditions(record, standing),
        physical_status(record, lexicon),
        statements("Abnormal findings that bear on anaesthesia", here, lexicon, weight=True),
        statements("Other abnormal findings", elsewhere, lexicon),
        values(record, lexicon),
        parts.could_not_be_examined(record, lexicon),
        *rest(record, lexicon),
        *parts.word_for_word(record, "general", "history", "assessment", "procedures", "laboratory", "plan"),
        not_spoken_of(record, lexicon),
    )
    return parts.document("Exam findings before anaesthesia", record, standing, blocks)


def conditions(record: Record, standing: Standing) -> list[Block]:
    told = {
        "examined": parts.examined_line(record, standing),
        "conditions of the exam": ", ".join(record.encounter.conditions),
        "reason": record.encounter.reason or "",
    }
    return block("Encounter", [Line(text, label) for label, text in told.items() if text])


def physical_status(record: Record, lexicon: Lexicon) -> list[Block]:
    """The talk in which a physical status class was told, word for word; that none was told is said too."""
    words = "|".join(re.escape(row.words) for row in lexicon.physical_status_words)
    told = re.compile(rf"(?<!\w)(?:{words})(?!\w)", re.IGNORECASE) if words else None
    spoken = sorted((e for e in all_talk(record) if told and told.search(e.text)), key=lambda e: e.char_start)
    lines = [Line(parts.heard([e]), "as it was spoken") for e in spoken] or [Line(NOT_SPOKEN)]
    return block("Physical status class", lines)


def all_talk(record: Record) -> Iterator[Evidence]:
    """Every stretch of talk that the record keeps, each once."""
    kept = [e for section in type(record.other).model_fields for e in getattr(record.other, section)]
    kept += [*record.unplaced, *record.dismissed, *(e for o in record.observations for e in o.evidence)]
    yield from {(e.char_start, e.char_end, e.text): e for e in kept}.values()


def statements(title: str, observations: list[Observation], lexicon: Lexicon, *, weight: bool = False) -> list[Block]:
    lines = [parts.said(alike, lexicon) for alike in pairs_joined(observations)]
    return block(title, lines or [Line("none recorded")], weight="attention" if weight and lines else "plain")


def values(record: Record, lexicon: Lexicon) -> list[Block]:
    """All values of the record, as they were measured; those that a sheet needs and that are missing are named."""
    measured = [o for o in record.observations if o.value is not None]
    lines = [parts.said(alike, lexicon) for alike in pairs_joined(measured)]
    numbers = {row.site for row in lexicon.measures}
    told = {o.site for o in record.observations}
    missing = [s.site for s in lexicon.anaesthesia_sites if s.site in numbers and s.site not in told]
    return block("Values, as they were measured", [*lines, *(Line(NOT_SPOKEN, site) for site in missing)])


def rest(record: Record, lexicon: Lexicon) -> Iterator[list[Block]]:
    """What else was said of the sites that come first, group by group: normal, or looked for and absent."""
    for name in dict.fromkeys(row.group for row in lexicon.anaesthesia_sites):
        order = [row.site for row in lexicon.anaesthesia_sites if row.group == name]
        group = [o for o in record.observations if o.site in order and o.status == "normal" and o.value is None]
        group.sort(key=lambda o, order=order: order.index(o.site))  # type: ignore[misc]
        yield block(name.capitalize(), [parts.said(alike, lexicon) for alike in pairs_joined(group)])


def not_spoken_of(record: Record, lexicon: Lexicon) -> list[Block]:
    """The sites that come first and were not spoken of; those with a value are named beside the values."""
    numbers = {row.site for row in lexicon.measures}
    missing = [s.site for s in lexicon.anaesthesia_sites if s.site in set(record.coverage.not_recorded) - numbers]
    lines = [Line(", ".join(missing))] if missing else []
    return block("Not recorded of what bears on anaesthesia", lines, note="neither normal nor abnormal")
