"""What must be done before a record may be signed, and the signature itself. Who may sign is not known here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from dictate.errors import InputError
from dictate.exam.content import content_hash
from dictate.exam.record import Amends, Record, Signature
from dictate.review.questions import questions


@dataclass(frozen=True, slots=True)
class Block:
    """One thing that stands in the way of a signature. `question` is the id of the question that clears it."""

    kind: Literal["doubt", "unplaced", "status"]
    message: str
    question: str | None = None

    def __str__(self) -> str:
        return self.message


def blocks(record: Record) -> tuple[Block, ...]:
    """All that must be settled first. Empty: the record may be signed."""
    asked = tuple(Block(q.about, f"{q.title}. {q.message}", q.id) for q in questions(record))
    if record.status != "preliminary":
        return (Block("status", f"The record is {record.status}; only what is preliminary can be signed."), *asked)
    return asked


def sign(record: Record, *, by: str, role: str, time: datetime, amends: Amends | None = None) -> Record:
    """The record as it is signed: final, or amended where it amends another; its signature is over its content.

    Raises:
        InputError: something is open, or the record is signed already.
    """
    if in_the_way := blocks(record):
        first, more = in_the_way[0], len(in_the_way) - 1
        raise InputError(f"cannot be signed: {first}" + (f" ({more} more)" if more else ""), where=record.source.name)
    status = "amended" if amends else "final"
    final = record.model_copy(update={"status": status, "amends": amends, "signature": None})
    signature = Signature(by=by, role=role, time=time, over=content_hash(final))
    return final.model_copy(update={"signature": signature})


def is_signed(record: Record) -> bool:
    """Whether the record carries a signature over exactly the content that it has now."""
    return record.signature is not None and record.signature.over == content_hash(record)
