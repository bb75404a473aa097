"""Many records as Parquet, with typed columns; the text stands as it is, since nothing in such a file is ever run."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import UTC, date, datetime

import pyarrow as pa
import pyarrow.parquet as pq

from dictate.exam.record import Record
from dictate.export.standing import Standing
from dictate.export.table import COLUMNS, Cell, rows

TYPES = {
    str: pa.string(),
    float: pa.float64(),
    bool: pa.bool_(),
    date: pa.date32(),
    datetime: pa.timestamp("ms", tz="UTC"),
}
SCHEMA = pa.schema([(name, TYPES[kind]) for name, kind in COLUMNS.items()])


def as_parquet(records: Sequence[tuple[Record, Standing]]) -> bytes:
    """One row an observation; times in UTC. The same records give the same bytes with one version of the library."""
    table = pa.Table.from_pylist([{name: _utc(value) for name, value in row.items()} for row in rows(records)], SCHEMA)
    out = io.BytesIO()
    pq.write_table(table, out, compression="zstd")
    return out.getvalue()


def _utc(value: Cell) -> Cell:
    """A time without a zone is taken for UTC, which all times of this program are."""
    if isinstance(value, datetime):
        return (value if value.tzinfo else value.replace(tzinfo=UTC)).astimezone(UTC)
    return value
