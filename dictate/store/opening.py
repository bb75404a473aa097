"""Opening a store: the engine, what every connection must promise, and the two kinds of transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.exc import DatabaseError, DBAPIError, InternalError, OperationalError
from sqlalchemy.pool import QueuePool

from dictate.errors import InputError
from dictate.store.place import Place

if TYPE_CHECKING:
    from dictate.store.keys import Key

# What is acknowledged is synced: FULL syncs the write-ahead log at each commit (https://sqlite.org/pragma.html).
PRAGMAS = (
    ("journal_mode", "wal"),
    ("synchronous", 2),
    ("fullfsync", 1),
    ("foreign_keys", 1),
    ("recursive_triggers", 1),  # so that INSERT OR REPLACE does not slip past the triggers that forbid deletion
    ("secure_delete", 1),  # erased words are overwritten in the file
    ("trusted_schema", 0),
    ("busy_timeout", 20_000),
)


@dataclass(frozen=True, slots=True)
class Store:
    """An open store. Any thread may use it; each call takes a connection of its own."""

    place: Place
    engine: Engine
    key: Key | None = None

    def close(self) -> None:
        self.engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that sees one state of everything, whatever others write meanwhile."""
        with told(self.place), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def changing(self) -> Iterator[Connection]:
        """A transaction that writes, one at a time. It is synced when this returns, or nothing of it is kept."""
        with told(self.place), self.engine.connect() as connection:
            connection = connection.execution_options(store_writes=True)
            with connection.begin():
                yield connection


@contextmanager
def told(place: Place) -> Iterator[None]:
    """Faults of the database that are no fault of the program, as one clear line."""
    try:
        yield
    except DBAPIError as error:
        if type(error) not in (OperationalError, DatabaseError, InternalError):
            raise
        raise InputError(f"the database cannot be used ({plain(error)})", where=str(place)) from None


def plain(error: DBAPIError) -> str:
    """What the database said, on one line and without the statement."""
    return " ".join(str(error.orig).split())[:200]


def engine_for(place: Place, key: Key | None) -> Engine:
    """The engine; each of its connections keeps the promises above, or is refused with InputError."""
    if not place.is_file:
        try:
            engine = create_engine(place.url, isolation_level="REPEATABLE READ", pool_pre_ping=True)
        except ImportError:
            what = "PostgreSQL needs psycopg: pip install 'dictate-exam[postgresql]'"
            raise InputError(what, where=str(place)) from None
        event.listen(engine, "connect", _promise_server)
        event.listen(engine, "begin", _begin_server)
        return engine
    if key is None:
        module: Any = sqlite3
    else:
        from sqlcipher3 import dbapi2 as module
    file = str(place.database)

    def connect() -> Any:
        connection = module.connect(file, isolation_level=None, check_same_thread=False, timeout=20)
        try:
            if key is not None:
                connection.execute("PRAGMA cipher_log_level = NONE")
                connection.execute(f"PRAGMA key = \"x'{key.database_key()}'\"")
            promise(connection, place)
        except BaseException:
            connection.close()
            raise
        return connection

    engine = create_engine("sqlite://", creator=connect, module=module, poolclass=QueuePool, pool_size=8)
    event.listen(engine, "begin", _begin_file)
    return engine


def promise(connection: Any, place: Place) -> None:
    """Set every pragma and read it back. InputError where one does not hold, or the file is no database of this key."""
    try:
        for name, wanted in PRAGMAS:
            connection.execute(f"PRAGMA {name} = {wanted}")
            (got,) = connection.execute(f"PRAGMA {name}").fetchone()
            if got != wanted:
                raise InputError(f"SQLite does not keep {name} = {wanted} here (it says {got})", where=str(place))
    except Exception as error:
        if isinstance(error, InputError):
            raise
        known = "not a database" in str(error)
        what = "another key, or no database of this program" if known else " ".join(str(error).split())
        raise InputError(f"the database cannot be opened ({what})", where=str(place)) from None


def _begin_file(connection: Connection) -> None:
    writes = connection.get_execution_options().get("store_writes")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _promise_server(connection: Any, record: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SET synchronous_commit = on")
        cursor.execute("SET TIME ZONE 'UTC'")
        for name in ("fsync", "full_page_writes", "synchronous_commit"):
            (got,) = cursor.execute(f"SHOW {name}").fetchone()
            if got != "on":
                raise InputError(f"the server does not keep {name} = on (it says {got})")
    connection.commit()


def _begin_server(connection: Connection) -> None:
    """Writers queue before they look at anything: the snapshot is taken by the first query after the lock."""
    if connection.get_execution_options().get("store_writes"):
        connection.exec_driver_sql("LOCK TABLE chain IN EXCLUSIVE MODE")


def key_of(place: Place) -> Key | None:
    """The key of an encrypted store. InputError where it cannot be read, or what encryption needs is not installed."""
    return open_key(place.key) if place.key else None


def open_key(file: Path) -> Key:
    """The key in a key file. InputError as `key_of`."""
    try:
        import sqlcipher3  # noqa: F401

        from dictate.store.keys import read_key_file
    except ImportError as error:
        what = f"encryption needs {error.name}: pip install 'dictate-exam[encryption]'"
        raise InputError(what, where=str(file)) from None
    return read_key_file(file)


def is_encrypted(file: Path) -> bool:
    """Whether a database file is other than plain SQLite. InputError where it cannot be read."""
    try:
        f = file.open("rb")
    except OSError as error:
        raise InputError(f"the database cannot be read ({error.strerror})", where=str(file)) from None
    with f:
        return f.read(16) not in (b"", b"SQLite format 3\x00")


def is_there(place: Place, engine: Engine) -> bool:
    """Whether a store was made here."""
    if place.database is not None:
        return place.database.exists()
    with told(place), engine.connect() as connection:
        return connection.execute(text("SELECT to_regclass('alembic_version')")).scalar() is not None
