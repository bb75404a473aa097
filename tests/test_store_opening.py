"""A store is made, opened and upgraded; what it acknowledges is synced; what it keeps, the database does not let go."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError
from store_cases import made, people, signed_visit

from dictate import store as s
from dictate.errors import InputError
from dictate.store.tables import APPEND_ONLY, meta

PROMISES = {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "recursive_triggers": 1, "secure_delete": 1}


@pytest.mark.parametrize("kind", ["file", "encrypted"])
def test_every_connection_syncs_each_commit(kind: str, tmp_path: Path) -> None:
    """Each of many connections at once has write-ahead logging, synchronous FULL and foreign keys on."""
    with made(kind, tmp_path) as store:

        def look(_: int) -> dict[str, object]:
            with store.reading() as connection:
                return {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in PROMISES}

        with ThreadPoolExecutor(6) as pool:
            assert list(pool.map(look, range(24))) == [PROMISES] * 24


def test_store_is_refused_where_a_promise_does_not_hold(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A database that does not keep a pragma is not opened, and the message says which."""
    s.make_store(tmp_path / "store").close()
    monkeypatch.setattr("dictate.store.opening.PRAGMAS", (("journal_mode", "somewhere"),))
    with pytest.raises(InputError, match="does not keep journal_mode"):
        s.open_store(tmp_path / "store")


WRITER = """
import sys
from dictate import store as s
with s.open_store(sys.argv[1]) as store:
    for number in range(10_000):
        s.add_patient(store, s.Facts(name=f"Number {number}", practice_number=str(number)), by=s.PROGRAM)
        print(number, flush=True)
"""


def test_what_was_acknowledged_outlives_a_killed_writer(tmp_path: Path) -> None:
    """A writer is killed in the middle of its work: all that it had acknowledged is there, whole, and verified."""
    s.make_store(tmp_path / "store").close()
    writer = subprocess.Popen([sys.executable, "-c", WRITER, tmp_path / "store"], stdout=subprocess.PIPE, text=True)
    assert writer.stdout
    acknowledged = [int(next(writer.stdout)) for _ in range(25)]
    os.kill(writer.pid, signal.SIGKILL)
    acknowledged += [int(line) for line in writer.stdout.read().split()]
    writer.wait()
    writer.stdout.close()
    with s.open_store(tmp_path / "store") as store:
        assert [s.patient_numbered(store, str(n)).facts.name for n in acknowledged] == [
            f"Number {n}" for n in acknowledged
        ]
        assert s.verify(store).faults == ()


def test_a_failed_change_leaves_nothing_behind(tmp_path: Path) -> None:
    """A transaction in which something fails after a row was written leaves neither the row nor an entry."""
    with made("file", tmp_path) as store:
        s.add_patient(store, s.Facts(name="Bramble", practice_number="1"), by=s.PROGRAM)
        before = s.head(store)
        with pytest.raises(InputError, match="practice number 1"):
            s.add_patient(store, s.Facts(name="Burdock", practice_number="1"), by=s.PROGRAM)
        assert s.head(store) == before
        assert s.verify(store).faults == ()


def test_database_refuses_to_change_or_delete_what_is_kept(any_store: s.Store, tmp_path: Path) -> None:
    """An UPDATE or DELETE of what is append-only, and of words without an erasure, is refused by the database."""
    boss, _ = people(any_store)
    visit = signed_visit(any_store, tmp_path, boss)
    s.set_consent(any_store, visit.id, True, by=boss)
    s.set_retention(any_store, 30, by=boss)
    s.note(any_store, "exported", by=boss, visit_id=visit.id)
    for table in [*(t.name for t in APPEND_ONLY if t.name != "erasures"), "words"]:
        column = meta.tables[table].c[1].name
        for statement in (f"UPDATE {table} SET {column} = {column}", f"DELETE FROM {table}"):
            refused = pytest.raises(DBAPIError, match=r"never changed|only after an erasure")
            with refused, any_store.engine.begin() as connection:
                connection.execute(text(statement))
    assert s.verify(any_store, sound=True).faults == ()


def test_migrations_make_the_tables_that_the_code_expects(any_store: s.Store) -> None:
    """Nothing differs between what the migrations make and the tables in `dictate/store/tables.py`."""
    with any_store.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), meta) == []


def test_a_store_of_another_version_is_named(tmp_path: Path) -> None:
    """A store whose form this version does not know says so; a place without a store, or with one, says that."""
    with pytest.raises(InputError, match="no store here"):
        s.open_store(tmp_path / "store")
    with s.make_store(tmp_path / "store") as store, store.changing() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(InputError, match="newer version"):
        s.open_store(tmp_path / "store")
    with pytest.raises(InputError, match="newer version"):
        s.upgrade_store(tmp_path / "store")
    with pytest.raises(InputError, match="there is a store already"):
        s.make_store(tmp_path / "store")


def test_an_unfinished_store_is_finished_by_upgrading(tmp_path: Path) -> None:
    """A database in which no migration has run yet is refused with the command that helps, and upgraded by it."""
    (tmp_path / "store" / "sound").mkdir(parents=True)
    (tmp_path / "store" / "store.db").touch()
    with pytest.raises(InputError, match="dictate store upgrade"):
        s.open_store(tmp_path / "store")
    assert s.upgrade_store(tmp_path / "store").after
    s.open_store(tmp_path / "store").close()


@pytest.mark.parametrize(
    ("place", "message"),
    [
        ("mysql://h/d", "postgresql://"),
        ("postgresql://reed:secret@h/d", "sound="),
        ("://", "no folder and no database URL"),
    ],
)
def test_places_that_cannot_be_used_are_named_without_passwords(place: str, message: str) -> None:
    """A URL that is no place for a store is refused in one line that does not show the password in it."""
    with pytest.raises(InputError, match=message) as caught:
        s.place_of(place)
    assert "secret" not in str(caught.value)


def test_wrong_key_and_missing_key_are_told(tmp_path: Path) -> None:
    """An encrypted store asks for its key, refuses another one, and nothing readable lies in its files."""
    with made("encrypted", tmp_path) as store:
        boss, _ = people(store)
        signed_visit(store, tmp_path, boss)
    everything = b"".join(f.read_bytes() for f in (tmp_path / "store").rglob("*") if f.is_file())
    for readable in (b"Bramble", b"cloudy", b"sound one", b"CREATE TABLE"):
        assert readable not in everything
    with pytest.raises(InputError, match="name its key file"):
        s.open_store(tmp_path / "store")
    from dictate.store.keys import make_key_file

    make_key_file(tmp_path / "other")
    with pytest.raises(InputError, match="another key"):
        s.open_store(tmp_path / "store", key=tmp_path / "other")
    with pytest.raises(InputError, match="never written over"):
        make_key_file(tmp_path / "other")


def test_opening_and_closing_leaves_no_open_files(tmp_path: Path) -> None:
    """Fifty times opened, used and closed, the process has no more files open than before."""
    s.make_store(tmp_path / "store").close()

    def count() -> int:
        return len(list(Path("/proc/self/fd").iterdir()))

    def once() -> None:
        with s.open_store(tmp_path / "store") as store:
            s.head(store)

    once()
    before = count()
    for _ in range(50):
        once()
    assert count() <= before
