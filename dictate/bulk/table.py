"""`drafts.csv`: a line for each draft, and for each file that gave none."""

from __future__ import annotations

import csv
import os
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from dictate.bulk.journal import Line
from dictate.errors import InputError
from dictate.export.harmless import cell
from dictate.speech.files import sync_folder

NAME = "drafts.csv"
COLUMNS = (
    "file", "draft", "patient", "minutes", "sites recorded", "doubts", "sound quality", "status", "seconds taken",
    "reason",
)  # fmt: skip


def write_table(folder: Path, lines: Iterable[Line]) -> None:
    """Write the table whole or not at all; line by line, so that memory does not grow. InputError: it cannot be."""
    place = folder / NAME
    try:
        handle, beside = tempfile.mkstemp(dir=folder, prefix=f".{NAME}.")
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="") as f:
                writer = csv.writer(f)
                writer.writerow(COLUMNS)
                for line in lines:
                    writer.writerow(cells(line))
                f.flush()
                os.fsync(f.fileno())
            os.replace(beside, place)
        except BaseException:
            with suppress(OSError):
                os.unlink(beside)
            raise
        sync_folder(folder)
    except OSError as e:
        raise InputError(f"cannot be written ({e.strerror or e})", where=str(place)) from None


def cells(line: Line) -> tuple[str, ...]:
    """The cells of a line, in the order of COLUMNS."""
    return (
        cell(line.file),
        f"{cell(line.draft)}.record.json" if line.draft else "",
        cell(line.patient),
        "" if line.minutes is None else f"{line.minutes:.2f}",
        "" if line.sites is None else str(line.sites),
        "" if line.doubts is None else str(line.doubts),
        line.quality,
        cell(line.status),
        "" if line.seconds is None else f"{line.seconds:.1f}",
        cell(line.reason),
    )
