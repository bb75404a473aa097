"""Many records as CSV (RFC 4180), in UTF-8 with a mark by which spreadsheets know it; no cell runs as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import date, datetime

from dictate.exam.record import Record
from dictate.export.harmless import cell
from dictate.export.standing import Standing
from dictate.export.table import COLUMNS, Cell, rows


def as_csv(records: Sequence[tuple[Record, Standing]]) -> str:
    """One row an observation. Text that begins like a formula has an apostrophe before it; what is unknown is empty."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(COLUMNS))
    writer.writeheader()
    writer.writerows({column: written(value) for column, value in row.items()} for row in rows(records))
    return "\ufeff" + out.getvalue()


def written(value: Cell) -> str:
    """A cell: numbers as JSON writes them, times by ISO 8601, yes or no as true and false."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.15g}"
    if isinstance(value, datetime | date):
        return value.isoformat()
    return cell(value)
