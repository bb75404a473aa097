"""Writing what came of a task: drafts first, each whole or not at all, then the journal. One process does all of it."""

from __future__ import annotations

import json
import os
import re
import time
from contextlib import suppress
from pathlib import Path, PurePosixPath
from typing import Any

from dictate.bulk.journal import Journal
from dictate.bulk.values import Drafted, Outcome
from dictate.errors import InputError
from dictate.exam.record import is_untouched
from dictate.files import find_place, write

RECORD, PAGE = ".record.json", ".record.txt"
_HALF = re.compile(r"\.(?:.+\.record\.(?:json|txt)|drafts\.csv)\.[a-z0-9_]{8}")  # as tempfile names them


def keep(outcome: Outcome, out: Path, journal: Journal) -> None:
    """Write the drafts of a task and note that it is done. Ended anywhere within, it is done again and gives the same.

    Raises:
        InputError: the folder cannot be written in; nothing is noted as done then.
    """
    for stem in journal.joined_into(outcome.task):
        _remove_untouched(out / f"{stem}{RECORD}", out / f"{stem}{PAGE}")
    notes = tuple(_write(draft, out) for draft in outcome.drafts)
    journal.finish(outcome, notes)


def _write(draft: Drafted, out: Path) -> str:
    """Write a record and its page; what the table must say about it, or ""."""
    relative = PurePosixPath(draft.stem)
    folder = out / relative.parent
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as e:
        raise InputError(f"cannot be made ({e.strerror or e})", where=str(folder)) from None
    source = _source_of(json.loads(draft.record)) or ""
    place = find_place(folder, relative.name, source, ending=RECORD, hash_of=_source_of, may_replace=is_untouched)
    if place.kept or place.file(".review.json").exists():
        return "was reviewed or changed since it was drafted; it is kept as it is"
    write(place.file(PAGE), draft.page)
    write(place.file(RECORD), draft.record)
    return place.note


def _source_of(data: Any) -> str | None:
    source = data.get("source") if isinstance(data, dict) else None
    return source.get("sha256") if isinstance(source, dict) else None


def sweep(out: Path, *, older: float = 60.0) -> None:
    """Take away what a process that was killed left half written, at least so many seconds ago."""
    for folder, _, names in os.walk(out):
        for name in names:
            if name.startswith(".") and _HALF.fullmatch(name):
                file = Path(folder) / name
                with suppress(OSError):
                    if time.time() - file.stat().st_mtime >= older:
                        file.unlink()


def _remove_untouched(record: Path, page: Path) -> None:
    """Take away a draft that another one stands for now, unless a person has reviewed or changed it."""
    with suppress(OSError, ValueError):
        if is_untouched(json.loads(record.read_text(encoding="utf-8"))):
            record.unlink()
            page.unlink(missing_ok=True)
