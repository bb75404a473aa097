"""The chain: one entry for each row that is kept, each linked to the one before by its hash.

An entry says who (`by_id`), when (`at`, UTC) and why, names the row and holds the row's hash. Its own hash is over all
of that and the hash before it, so a later change of one byte anywhere breaks it. A cut-off end cannot be seen from
inside: the head (number and hash of the newest entry) is printed on signed exports and kept in backups.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Table, func, select

from dictate.errors import InputError
from dictate.store.canonical import Plain, canonical, sha256
from dictate.store.tables import LONG, chain

START = "0" * 64
HEAD = re.compile(r"\s*(\d{1,18})\s*:\s*([0-9a-fA-F]{16,64})\s*")


@dataclass(frozen=True, slots=True)
class Head:
    """The newest entry: its number (0 for an empty store) and its hash. Written as NUMBER:HASH."""

    number: int
    hash: str

    def __str__(self) -> str:
        return f"{self.number}:{self.hash}"


def read_head(text: str) -> Head:
    """A head as it was printed; at least 16 digits of the hash. InputError where the text is none."""
    if not (found := HEAD.fullmatch(text)):
        raise InputError("is no head of a chain; wanted NUMBER:HASH as printed", where=text.strip()[:80] or "head")
    return Head(int(found[1]), found[2].lower())


def row_hash(table: str, row: Mapping[str, Plain]) -> str:
    """The hash of a row: over its canonical JSON, long columns by their own hash."""
    told: dict[str, Any] = {k: sha256(v) if k in LONG and isinstance(v, str) else v for k, v in row.items()}
    return sha256(f"{table}\n{canonical(told)}")


def entry_hash(entry: Mapping[str, Plain]) -> str:
    """The hash of an entry: over the canonical JSON of all its columns but the hash itself."""
    return sha256(canonical({k: v for k, v in entry.items() if k != "hash"}))


def head_of(connection: Connection) -> Head:
    found = connection.execute(select(chain.c.number, chain.c.hash).order_by(chain.c.number.desc()).limit(1)).first()
    return Head(found.number, found.hash) if found else Head(0, START)


class Writer:
    """What one person enters in one transaction. It knows the chain's head, which moves with each row."""

    def __init__(self, connection: Connection, *, by_id: int, at: datetime | None = None) -> None:
        self.connection = connection
        self.by_id = by_id
        self.at = stamp(at)
        self.head = head_of(connection)
        self._next: dict[str, int] = {}

    def add(self, table: Table, *, why: str = "", **values: Plain) -> int:
        """Keep a row and its entry in the chain; the row's id."""
        row_id = self._next.get(table.name)
        if row_id is None:
            row_id = (self.connection.execute(select(func.max(table.c.id))).scalar() or 0) + 1
        self._next[table.name] = row_id + 1
        row: dict[str, Plain] = {"id": row_id, **values}
        self.connection.execute(table.insert(), row)
        entry: dict[str, Plain] = {
            "number": self.head.number + 1,
            "at": self.at,
            "by_id": self.by_id,
            "why": why,
            "table_name": table.name,
            "row_id": row_id,
            "row_hash": row_hash(table.name, row),
            "previous": self.head.hash,
        }
        entry["hash"] = entry_hash(entry)
        self.connection.execute(chain.insert(), entry)
        self.head = Head(self.head.number + 1, str(entry["hash"]))
        return row_id


def stamp(at: datetime | None = None) -> str:
    """A time as the store keeps it: UTC, to the microsecond, so that texts sort as times do."""
    return (at or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="microseconds")


def time_of(text: str) -> datetime:
    return datetime.fromisoformat(text)
