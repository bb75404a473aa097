"""What a record or a sheet says, before it takes a form: plain text, HTML and PDF are written from this one value."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

Weight = Literal["plain", "attention"]


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that is said: `label` (what it is about, may be empty), `text`, and `gloss`, explanations of its terms.

    `open` tells that a doubt about it is not settled.
    """

    text: str
    label: str = ""
    gloss: tuple[str, ...] = ()
    open: bool = False


@dataclass(frozen=True, slots=True)
class Block:
    """Lines under a title. A block that asks for "attention" is framed."""

    title: str
    lines: tuple[Line, ...]
    note: str = ""
    weight: Weight = "plain"


@dataclass(frozen=True, slots=True)
class Document:
    """`state` says what state the record is in; `page_mark`, a short word, stands on every page ("" for none).

    `subject` names the patient in one line, `stamp` the record; both stand on every page.
    """

    title: str
    state: str
    page_mark: str
    subject: str
    stamp: str
    practice: str = ""
    blocks: tuple[Block, ...] = ()
    closing: tuple[str, ...] = ()


def block(title: str, lines: list[Line], *, note: str = "", weight: Weight = "plain") -> list[Block]:
    """The block in a list, or an empty list where it has no lines."""
    return [Block(title, tuple(lines), note, weight)] if lines else []


def with_texts(document: Document, change: Callable[[str], str]) -> Document:
    """The document with every text that may come from outside changed by `change`."""
    return replace(
        document,
        subject=change(document.subject),
        stamp=change(document.stamp),
        practice=change(document.practice),
        blocks=tuple(_block_with(b, change) for b in document.blocks),
        closing=tuple(map(change, document.closing)),
    )


def _block_with(part: Block, change: Callable[[str], str]) -> Block:
    lines = tuple(
        Line(change(line.text), change(line.label), tuple(map(change, line.gloss)), line.open) for line in part.lines
    )
    return replace(part, note=change(part.note), lines=lines)
