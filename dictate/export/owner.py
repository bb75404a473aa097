"""The owner's sheet: what was looked at, what was found and what was not, in plain words.

It explains the record's terms from the lexicon and adds nothing: no diagnosis, no comfort that was not spoken.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from dictate.exam.page import pairs_joined
from dictate.exam.phrases import told
from dictate.exam.record import Observation, Record
from dictate.export import parts
from dictate.export.document import Block, Document, Line, block
from dictate.export.plain import explanation, plain_site
from dictate.export.standing import Standing
from dictate.lexicon.tables import Lexicon

ABOUT = (
    "This sheet says what stands in the exam record, and explains its words. What is not listed was not recorded, "
    "which says neither that it is well nor that it is not. Your veterinarian can tell you what a finding means."
)
GROUPS: tuple[tuple[str, str, Callable[[Observation], bool]], ...] = (
    ("What was found", "", lambda o: o.value is None and o.finding is not None and o.present),
    ("What was called abnormal", "", lambda o: o.value is None and o.finding is None and o.status == "abnormal"),
    ("What was measured", "the values as they were measured", lambda o: o.value is not None),
    ("Looked for and not found", "", lambda o: o.value is None and o.finding is not None and not o.present),
    ("Looked at and called normal", "", lambda o: o.value is None and o.finding is None and o.status == "normal"),
)


def owner(record: Record, lexicon: Lexicon, standing: Standing) -> Document:
    """The sheet. The record's words stand as they are, with the explanation of each term under them."""
    looked_at = [o for o in record.observations if o.status != "not_examined"]
    blocks = (
        parts.patient(record, standing),
        *(group(title, note, [o for o in looked_at if of(o)], record, lexicon) for title, note, of in GROUPS),
        could_not_be_examined(record, lexicon),
        *parts.word_for_word(record, "general", "assessment", "plan", "advice"),
        not_spoken_of(record, lexicon),
        block("About this sheet", [Line(ABOUT)]),
    )
    return parts.document("Exam sheet for the owner", record, standing, explained_once(blocks))


def explained_once(blocks: Sequence[list[Block]]) -> list[list[Block]]:
    """The blocks with each explanation where it comes first, and not again."""
    told: dict[str, None] = {}
    result = []
    for part in (b for blocks_of in blocks for b in blocks_of):
        lines = []
        for line in part.lines:
            lines.append(replace(line, gloss=tuple(g for g in line.gloss if g not in told)))
            told |= dict.fromkeys(line.gloss)
        result.append([replace(part, lines=tuple(lines))])
    return result


def group(title: str, note: str, observations: list[Observation], record: Record, lexicon: Lexicon) -> list[Block]:
    lines = [
        Line(
            told(alike[0]),
            parts.sided(alike, lexicon),
            explanation(alike[0], record, lexicon),
            open=any(o.doubts for o in alike),
        )
        for alike in pairs_joined(observations)
    ]
    return block(title, lines, note=note)


def could_not_be_examined(record: Record, lexicon: Lexicon) -> list[Block]:
    """As on the record, each site explained."""
    plain = [
        Line(line.text, line.label, explanation(alike[0], record, lexicon), line.open)
        for part in parts.could_not_be_examined(record, lexicon)
        for line, alike in zip(part.lines, parts.tried(record), strict=True)
    ]
    return block("What could not be examined", plain)


def not_spoken_of(record: Record, lexicon: Lexicon) -> list[Block]:
    regions = parts.by_region(record.coverage.not_recorded, lexicon)
    lines = [Line("; ".join(plain_site(s, lexicon) for s in sites), region) for region, sites in regions.items()]
    return block("Not in the record", lines, note="not spoken of; neither normal nor abnormal")
