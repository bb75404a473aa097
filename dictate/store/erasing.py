"""Sound and the words of a talk are erased: entered first, then deleted, so that there is always a trace of it.

Erased are the sound files, the talk and the quoted words (`dictate.store.lifting`), and what the recogniser's cache
holds of these sounds. The record itself, its hashes and its signatures stay.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, select

from dictate.errors import InputError
from dictate.speech.cache import forget
from dictate.speech.settings import default_cache
from dictate.store.chain import Writer
from dictate.store.opening import Store
from dictate.store.sounds import delete_sound
from dictate.store.tables import erasures, recordings, words


@dataclass(frozen=True, slots=True)
class Erased:
    """How many visits an erasure was entered for, and how many sound files and cached transcripts were deleted."""

    visits: int = 0
    sounds: int = 0
    cached: int = 0


def enter_erasure(writer: Writer, visit_id: int, rule: str) -> tuple[str, ...]:
    """Enter the erasure of a visit's sound and words, and delete the words; the hashes whose files are to go now."""
    kept = select(recordings.c.sha256).where(recordings.c.visit_id == visit_id).distinct()
    sounds = tuple(sorted(writer.connection.execute(kept).scalars()))
    writer.add(erasures, why=rule, visit_id=visit_id, rule=rule, sounds=" ".join(sounds))
    writer.connection.execute(words.delete().where(words.c.visit_id == visit_id))
    return sounds


def delete_erased(
    store: Store, sounds: Iterable[str], *, cache: Path | None = None, older_than: datetime | None = None
) -> Erased:
    """Delete the files of erased sounds, and their words in the recogniser's cache (the user's own by default), there
    also what is older than `older_than`. Then no copy is left in the database's own files."""
    sounds = tuple(sounds)
    try:
        deleted = sum(delete_sound(store, sha256) for sha256 in sounds)
        cached = forget(cache or default_cache(), sounds, older_than=older_than)
    except OSError as error:
        what = f"cannot be deleted ({error.strerror}); mend it and run `dictate store retention --apply`"
        raise InputError(what, where=str(error.filename or "sound")) from None
    _sweep(store)
    return Erased(sounds=deleted, cached=cached)


def erased_sounds(connection: Connection, visit_id: int | None = None) -> dict[str, str]:
    """The hashes of the sounds that were erased (of one visit, or of all), and by which rule."""
    query = select(erasures) if visit_id is None else select(erasures).where(erasures.c.visit_id == visit_id)
    return {sha256: row.rule for row in connection.execute(query) for sha256 in row.sounds.split()}


def _sweep(store: Store) -> None:
    """Have the database let go of deleted rows: SQLite's write-ahead log, PostgreSQL's dead rows."""
    with store.engine.connect() as connection:
        raw = connection.execution_options(isolation_level="AUTOCOMMIT")
        if store.place.is_file:
            connection.connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
        else:
            raw.exec_driver_sql("VACUUM words")
