"""Bodies with their words: what is written of a record or decision, and what comes back."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, select

from dictate.exam.record import Record
from dictate.store.chain import Writer
from dictate.store.lifting import join, lift
from dictate.store.tables import words


def keep_body(writer: Writer, visit_id: int, data: Any, *, words_too: bool = True) -> dict[str, str]:
    """Keep the words of a JSON value apart, or leave them away; the columns `body` and `words_hash` of its row."""
    lifted = lift(data)
    if not words_too:
        return {"body": lifted.body, "words_hash": ""}
    if lifted.words:
        row = {"hash": lifted.words_hash, "visit_id": visit_id, "body": lifted.words}
        writer.connection.execute(words.insert(), row)
    return {"body": lifted.body, "words_hash": lifted.words_hash}


def body_of(connection: Connection, body: str, words_hash: str) -> Any:
    """The JSON value of a row; without its words where they were erased."""
    kept = connection.execute(select(words.c.body).where(words.c.hash == words_hash)).scalar() if words_hash else None
    return join(body, kept)


def bodies_of(connection: Connection, rows: Iterable[Any]) -> list[Any]:
    """The same for many rows that have the columns `body` and `words_hash`."""
    rows = list(rows)
    hashes = [row.words_hash for row in rows if row.words_hash]
    kept: dict[str, str] = {}
    for start in range(0, len(hashes), 500):
        some = select(words.c.hash, words.c.body).where(words.c.hash.in_(hashes[start : start + 500]))
        kept.update((row.hash, row.body) for row in connection.execute(some))
    return [join(row.body, kept.get(row.words_hash)) for row in rows]


def record_data(record: Record) -> dict[str, Any]:
    return record.model_dump(mode="json")


def record_of(connection: Connection, body: str, words_hash: str) -> Record:
    return Record.model_validate(body_of(connection, body, words_hash))
