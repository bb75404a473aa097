"""A document as one HTML page for the screen and the printer: no script, nothing from elsewhere, its own style."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib import resources

from jinja2 import Environment, StrictUndefined, Template

from dictate.export.document import Block, Document, Line
from dictate.export.harmless import clean


def as_html(document: Document) -> str:
    """The page. All text is escaped; the running head is repeated on every printed page."""
    return _template().render(document=cleaned(document))


@cache
def _template() -> Template:
    text = resources.files("dictate.export").joinpath("document.html").read_text(encoding="utf-8")
    return Environment(autoescape=True, undefined=StrictUndefined, keep_trailing_newline=True).from_string(text)


def cleaned(document: Document) -> Document:
    """The document with hidden characters taken out of everything that came from outside."""
    return replace(
        document,
        practice=clean(document.practice),
        subject=clean(document.subject),
        blocks=tuple(_block(b) for b in document.blocks),
        closing=tuple(clean(line) for line in document.closing),
    )


def _block(block: Block) -> Block:
    lines = tuple(
        Line(clean(line.text), clean(line.label), tuple(map(clean, line.gloss)), line.open) for line in block.lines
    )
    return replace(block, note=clean(block.note), lines=lines)
