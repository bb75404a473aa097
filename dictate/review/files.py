"""A review kept in a file beside its draft, for work without a store: NAME.record.json stays as it was drafted."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dictate.errors import InputError
from dictate.exam.record import Record, from_json, seal
from dictate.files import write
from dictate.review.applying import apply
from dictate.review.decisions import DECISIONS, Decision

SCHEMA = "exam-review/1"
DRAFT, REVIEW = ".record.json", ".review.json"


@dataclass(frozen=True, slots=True)
class ReviewFile:
    """A draft, and the decisions about it so far. `seal` names the draft's exact content."""

    file: Path
    draft: Record
    seal: str
    decisions: tuple[Decision, ...] = ()

    @property
    def record(self) -> Record:
        """The record as it stands now."""
        return apply(self.draft, self.decisions)

    @property
    def place(self) -> Path:
        """Where the decisions are written."""
        return self.file.with_name(self.file.name.removesuffix(DRAFT) + REVIEW)


def load_review(file: Path) -> ReviewFile:
    """The draft of a file and the decisions that lie beside it, if any.

    Raises:
        InputError: either cannot be read, is none, or the decisions are about another draft.
    """
    if not file.name.endswith(DRAFT):
        raise InputError(f"a drafted record is wanted (NAME{DRAFT}, made by `dictate draft`)", where=str(file))
    text = _read(file)
    try:
        draft = from_json(text)
    except ValueError:
        raise InputError("this is no drafted record of this program", where=str(file)) from None
    review = ReviewFile(file, draft, seal(json.loads(text)))
    return replace(review, decisions=_decisions(review)) if review.place.exists() else review


def _decisions(review: ReviewFile) -> tuple[Decision, ...]:
    where = str(review.place)
    try:
        data = json.loads(_read(review.place))
        if data["schema"] != SCHEMA:
            raise InputError(f"this is no review of this program (schema {SCHEMA} is wanted)", where=where)
        decisions = DECISIONS.validate_python(data["decisions"])
        of = data["seal"]
    except (ValueError, KeyError, TypeError):
        raise InputError("this is no review of this program", where=where) from None
    if of != review.seal:
        raise InputError(
            f"its decisions are about another draft than {review.file.name}; move it away first", where=where
        )
    return decisions


def add_decisions(review: ReviewFile, new: Sequence[Decision]) -> ReviewFile:
    """The review with more decisions, written.

    Raises:
        InputError: it cannot be written, or somebody else has decided meanwhile: nothing is written then.
    """
    if load_review(review.file).decisions != review.decisions:
        raise InputError("somebody else has decided meanwhile; open it again", where=str(review.place))
    grown = replace(review, decisions=(*review.decisions, *new))
    decisions = [d.model_dump(mode="json") for d in grown.decisions]
    data = {"schema": SCHEMA, "draft": review.draft.id, "seal": review.seal, "decisions": decisions}
    write(review.place, json.dumps(data, indent=1, ensure_ascii=False) + "\n")
    return grown


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise InputError("the file is not UTF-8 text", where=str(file)) from None
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror})", where=str(file)) from None
