"""The sites and findings of a signed record as rows that can be searched. They follow from the record alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection

from dictate.exam.phrases import told
from dictate.exam.record import Record
from dictate.store.canonical import Plain, canonical, sha256
from dictate.store.tables import record_sites

WITHOUT_ID = tuple(c.name for c in record_sites.c)[1:]


def rows_of(record: Record, *, date: str) -> list[dict[str, Plain]]:
    """A row for each observation, in the record's order; none for a record that was entered in error."""
    if record.status == "entered-in-error":
        return []
    return [
        {
            "place": place,
            "date": date,
            "site": o.site,
            "side": o.side or "",
            "status": o.status,
            "finding": o.finding or "",
            "present": int(o.present),
            "told": told(o)[:500],
        }
        for place, o in enumerate(record.observations)
    ]


def listing_hash(rows: Sequence[dict[str, Plain]]) -> str:
    """The hash of the rows, which stands in the record's own row."""
    return values_hash([[row[name] for name in WITHOUT_ID] for row in rows])


def values_hash(rows: Sequence[Sequence[Plain]]) -> str:
    """The same of the values alone, in the order of the table's columns without the record's id."""
    return sha256(canonical(rows))


def enter_rows(connection: Connection, record_id: int, rows: Sequence[dict[str, Plain]]) -> None:
    if rows:
        made: list[dict[str, Any]] = [{"record_id": record_id, **row} for row in rows]
        connection.execute(record_sites.insert(), made)
