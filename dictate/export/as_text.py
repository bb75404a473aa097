"""A document as plain text to paste anywhere: one statement a line, no columns, no wrapping, no markup."""

from __future__ import annotations

from collections.abc import Iterator

from dictate.export.document import Document, Line, with_texts
from dictate.export.harmless import clean

OPEN = "[?]"
GLUE = "; "


def as_text(document: Document) -> str:
    """The document's text. No line begins with text from outside: a title or "* " stands before it."""
    return "\n".join(_lines(with_texts(document, clean))) + "\n"


def _lines(document: Document) -> Iterator[str]:
    yield document.title.upper()
    yield document.state
    if document.practice:
        yield f"Practice: {document.practice}"
    yield f"Patient: {document.subject}"
    for block in document.blocks:
        note = f" ({block.note})" if block.note else ""
        yield ""
        yield f"{block.title.upper()}{note}"
        yield from (f"* {statement(line)}" for line in block.lines)
    yield ""
    yield "CAUTIONS"
    yield from (f"* {line}" for line in document.closing)


def statement(line: Line) -> str:
    """A line in one string: label, text, explanation, and [?] where it is not settled."""
    label = f"{line.label}: " if line.label else ""
    gloss = f" ({GLUE.join(line.gloss)})" if line.gloss else ""
    mark = f" {OPEN}" if line.open else ""
    return f"{label}{line.text}{gloss}{mark}"
