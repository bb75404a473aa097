"""Rows held against the chain: each row of each table has its entry, and each entry its row, unchanged."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Select, Table, select
from sqlalchemy.exc import DatabaseError, DBAPIError

from dictate.store.chain import row_hash
from dictate.store.opening import plain
from dictate.store.tables import chain

ABOUT = ("visit_id", "patient_id", "account_id")


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that is not as it was written: where, and what is wrong with it."""

    where: str
    what: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what}"


def reading_faults(where: str, check: Callable[[], Iterable[Fault]]) -> list[Fault]:
    """The faults of a check; what the database or the bytes themselves refuse to give is one more."""
    found: list[Fault] = []
    try:
        found.extend(check())
    except DBAPIError as error:
        found.append(Fault(where, f"cannot be read ({plain(error)})"))
    except (ValueError, TypeError, KeyError) as error:
        found.append(Fault(where, f"cannot be read ({type(error).__name__}: {' '.join(str(error).split())[:100]})"))
    return found


@contextmanager
def streamed(connection: Connection, query: Select[Any]) -> Iterator[Iterator[tuple[Any, ...]]]:
    """The rows of a query without values of its own, as plain tuples, a few at a time."""
    with closing(_streamed(connection, query)) as rows:  # closed here, not when the connection has gone already
        yield rows


def _streamed(connection: Connection, query: Select[Any]) -> Generator[tuple[Any, ...], None, None]:
    """SQLite's own cursor is asked where there is one: of half a million rows SQLAlchemy's take twice as long."""
    if connection.dialect.name != "sqlite":
        for row in connection.execute(query).yield_per(2000):
            yield tuple(row)
        return
    asked = str(query.compile(dialect=connection.dialect, compile_kwargs={"literal_binds": True}))
    cursor = connection.connection.cursor()
    try:
        cursor.execute(asked)
        while some := cursor.fetchmany(500):
            yield from some
    except connection.dialect.loaded_dbapi.Error as error:
        raise DatabaseError(asked, None, error) from None
    finally:
        cursor.close()


def check_rows(connection: Connection, table: Table) -> list[Fault]:
    """Every row of a table against its entry in the chain."""
    try:
        with closing(_row_faults(connection, table)) as found:
            return list(found)
    except (DBAPIError, ValueError, TypeError):
        return reading_faults(table.name, lambda: _one_by_one(connection, table))


def _row_faults(connection: Connection, table: Table) -> Generator[Fault, None, None]:
    names = tuple(c.name for c in table.c)
    entered = select(chain.c.row_id, chain.c.row_hash, chain.c.number).where(chain.c.table_name == table.name)
    kept = select(table).order_by(table.c.id)
    with streamed(connection, entered.order_by(chain.c.row_id)) as entries, streamed(connection, kept) as rows:
        entry, row = next(entries, None), next(rows, None)
        while entry is not None or row is not None:
            if row is None or (entry is not None and entry[0] < row[0]):
                assert entry is not None
                yield Fault(f"{table.name} row {entry[0]}", f"missing (it was entry {entry[2]} of the chain)")
                entry = next(entries, None)
                continue
            values = dict(zip(names, row, strict=True))
            if entry is None or row[0] < entry[0]:
                yield Fault(name_of(table, values), "has no entry in the chain: added from outside")
            else:
                if not _is_whole(table.name, values, entry[1]):
                    yield Fault(name_of(table, values), f"changed after it was written (entry {entry[2]} of the chain)")
                entry = next(entries, None)
            row = next(rows, None)


def _is_whole(table: str, values: dict[str, Any], expected: str) -> bool:
    try:
        return row_hash(table, values) == expected
    except TypeError:  # bytes or a fraction, where there was a text or a whole number
        return False


def _one_by_one(connection: Connection, table: Table) -> Iterator[Fault]:
    """The slow way, for a table with a row that cannot be read: the row is named and the others are checked."""
    names = tuple(c.name for c in table.c)
    entries = connection.execute(
        select(chain.c.row_id, chain.c.row_hash, chain.c.number).where(chain.c.table_name == table.name)
    ).all()
    for entry in entries:
        try:
            row = connection.execute(select(table).where(table.c.id == entry.row_id)).first()
        except (DBAPIError, ValueError) as error:
            told = plain(error) if isinstance(error, DBAPIError) else str(error)
            yield Fault(f"{table.name} row {entry.row_id}", f"cannot be read any more ({told})")
            continue
        if row is None:
            yield Fault(f"{table.name} row {entry.row_id}", f"missing (it was entry {entry.number} of the chain)")
        elif not _is_whole(table.name, values := dict(zip(names, row, strict=True)), entry.row_hash):
            yield Fault(name_of(table, values), f"changed after it was written (entry {entry.number} of the chain)")


def name_of(table: Table, values: dict[str, Any]) -> str:
    """A row for a message: its table, number, and what it is about."""
    about = [f"{name.removesuffix('_id')} {values[name]}" for name in ABOUT if values.get(name) is not None]
    return f"{table.name} row {values['id']}" + (f" ({', '.join(about)})" if about else "")
