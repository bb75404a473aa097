"""Looking whether anything that was kept has been changed since: chain, rows, words, what follows from them, sound.

Every fault names the row or file. A cut-off end of the chain shows only against a head that was printed or kept
elsewhere (`head`).
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from sqlalchemy import Connection, func, select

from dictate.store.chain import START, Head, entry_hash, head_of
from dictate.store.opening import Store
from dictate.store.tables import CHAINED, chain, records
from dictate.store.verifying_database import check_database
from dictate.store.verifying_follows import check_listing, check_now, check_words
from dictate.store.verifying_rows import Fault, check_rows, reading_faults, streamed
from dictate.store.verifying_sound import check_sound

NAMES = tuple(c.name for c in chain.c)


@dataclass(frozen=True, slots=True)
class Verified:
    """What was found: nothing in `faults` means that all is as it was written. `head` is the chain's newest entry."""

    faults: tuple[Fault, ...]
    entries: int
    records: int
    head: Head
    sounds: int | None = None


def verify(store: Store, *, sound: bool = False, heads: tuple[Head, ...] = ()) -> Verified:
    """Check everything; with `sound` hash every kept recording too. Each of `heads` must stand in the chain."""
    with ThreadPoolExecutor(1) as beside, store.reading() as connection:
        database = beside.submit(_database, store)  # SQLite looks through its file while the rows are hashed
        faults = check_chain(connection)
        for table in CHAINED:
            faults += check_rows(connection, table)
        faults += reading_faults("words", lambda: check_words(connection))
        faults += reading_faults("record_sites", lambda: check_listing(connection))
        faults += reading_faults("visit_now", lambda: check_now(connection))
        for head in heads:
            faults += check_head(connection, head)
        newest = head_of(connection)
        count = connection.execute(select(func.count()).select_from(records)).scalar() or 0
        sounds = None
        if sound:
            found, sounds = check_sound(store, connection)
            faults += found
        faults = [*database.result(), *faults]
    return Verified(tuple(dict.fromkeys(faults)), newest.number, count, newest, sounds)


def _database(store: Store) -> list[Fault]:
    with store.reading() as connection:
        return list(check_database(connection))


def check_chain(connection: Connection) -> list[Fault]:
    """Each entry's own hash, its link to the one before, and that no number is left out."""
    return reading_faults("chain", lambda: _chain_faults(connection))


def _chain_faults(connection: Connection) -> Iterator[Fault]:
    number, last = 0, START
    known = {table.name for table in CHAINED}
    with streamed(connection, select(chain).order_by(chain.c.number)) as rows:
        for row in rows:
            entry = dict(zip(NAMES, row, strict=True))
            number += 1
            if entry["number"] != number:
                missing = (
                    f"entry {number}" if entry["number"] == number + 1 else f"entries {number} to {entry['number'] - 1}"
                )
                yield Fault(f"chain, {missing}", "missing")
                number, last = entry["number"], entry["previous"]
            if entry["hash"] != entry_hash(entry):
                yield Fault(
                    f"chain, entry {number} ({entry['table_name']} row {entry['row_id']})",
                    "changed after it was written",
                )
            elif entry["previous"] != last:
                yield Fault(
                    f"chain, entry {number}", "does not follow on the entry before it: one of both was changed or moved"
                )
            elif entry["table_name"] not in known:
                yield Fault(f"chain, entry {number}", f"is about a table {entry['table_name']!r} that there is not")
            last = entry["hash"]


def check_head(connection: Connection, head: Head) -> list[Fault]:
    """Whether an entry that was printed or kept elsewhere still stands in the chain."""
    found = connection.execute(select(chain.c.hash).where(chain.c.number == head.number)).scalar()
    if found is None and head.number > 0:
        newest = head_of(connection).number
        return [Fault(f"chain, entry {head.number}", f"missing: the chain ends at {newest}, its end was cut off")]
    if head.number > 0 and not str(found).startswith(head.hash):
        return [Fault(f"chain, entry {head.number}", "is not the one that was printed")]
    return []
