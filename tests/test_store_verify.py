"""Whoever changes what was kept is found out: laws that hold for every byte, row, order and sound file."""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from store_cases import bramble, dismiss, draft, people, settle, signed_visit, sound_file

from dictate import store as s
from dictate.errors import InputError
from dictate.review import Remove
from dictate.store.tables import CHAINED, meta

MANY = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
TABLES = sorted(t.name for t in CHAINED if t.name not in ("erasures",))
FOLLOWING = ("record_sites", "words", "patient_now", "visit_now")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with three signed visits, one of them amended, and one still open; the folder must not be changed."""
    folder = tmp_path_factory.mktemp("kept")
    with s.make_store(folder / "store") as store:
        boss, _ = people(store)
        for number, sound in (("1", b"sound one"), ("2", b"sound two"), ("3", b"sound three")):
            visit = signed_visit(store, folder, boss, sound=sound, number=number)
            s.set_consent(store, visit.id, True, by=boss)
        at = s.working(store, visit.id)
        wrong = Remove(by="Reed", time=draft().drafted, observations=("b",))
        s.decide(store, visit.id, [wrong], by=boss, state=at.state)
        before = s.before_signing(store, visit.id)
        assert visit.patient
        s.amend(
            store, visit.id, by=boss, secret="274951", seen=before.seen, patient_id=visit.patient.id, why="ear was fine"
        )
        s.set_retention(store, 365, by=boss)
        s.note(store, "exported", by=boss, visit_id=visit.id)
        other = bramble(store, by=boss, number="4")
        added = s.add_draft(store, draft(b"sound four"), sound=sound_file(folder, b"sound four"))
        s.assign_patient(store, added.visit.id, other.id, by=boss, expected=1)
        s.decide(store, added.visit.id, [settle(), dismiss()], by=boss, state=s.working(store, added.visit.id).state)
        assert s.verify(store, sound=True).faults == ()
    return folder / "store"


@contextmanager
def copied(kept: Path) -> Iterator[Path]:
    """A copy that may be changed; in memory where that can be, for there are hundreds of them."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as folder:
        shutil.copytree(kept, Path(folder) / "store")
        yield Path(folder) / "store"


@contextmanager
def forcing(folder: Path) -> Iterator[sqlite3.Connection]:
    """What somebody with the file can do: no triggers while it is open, and all of them there again afterwards."""
    with closing(sqlite3.connect(folder / "store.db", isolation_level=None)) as connection:
        triggers = dict(connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall())
        connection.execute("PRAGMA synchronous = OFF")
        connection.execute("BEGIN")
        for name in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        yield connection
        for sql in triggers.values():
            connection.execute(sql)
        connection.execute("COMMIT")


def faults(folder: Path, *, sound: bool = False, heads: tuple[s.Head, ...] = ()) -> list[str]:
    with s.open_store(folder) as store:
        return [str(fault) for fault in s.verify(store, sound=sound, heads=heads).faults]


def content(connection: sqlite3.Connection) -> list[Any]:
    return [connection.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall() for table in sorted(meta.tables)]


def ids(folder: Path, table: str) -> list[int]:
    with closing(sqlite3.connect(folder / "store.db")) as connection:
        return [row[0] for row in connection.execute(f"SELECT id FROM {table} ORDER BY id")]


@MANY
@given(data=st.data())
def test_a_changed_byte_of_a_row_is_found_and_named(kept: Path, data: st.DataObject) -> None:
    """Whatever column of whatever row is changed by one character or number, verify names that very row."""
    table = data.draw(st.sampled_from(TABLES))
    row_id = data.draw(st.sampled_from(ids(kept, table)))
    column = data.draw(st.sampled_from([c.name for c in meta.tables[table].c if c.name != "id"]))
    with copied(kept) as folder:
        with forcing(folder) as connection:
            (old,) = connection.execute(f"SELECT {column} FROM {table} WHERE id = ?", (row_id,)).fetchone()
            new: Any
            if isinstance(old, str):
                place = data.draw(st.integers(0, max(0, len(old) - 1)))
                new = old[:place] + chr((ord(old[place]) ^ 1) if old else 33) + old[place + 1 :]
            else:
                new = (old or 0) + 1000
            connection.execute(f"UPDATE {table} SET {column} = ? WHERE id = ?", (new, row_id))
        assert any(
            f.startswith(f"{table} row {row_id}") and "changed after it was written" in f for f in faults(folder)
        )


@MANY
@given(data=st.data())
def test_a_deleted_row_is_found_and_named(kept: Path, data: st.DataObject) -> None:
    """A row that is gone is named, with the entry of the chain that it had."""
    table = data.draw(st.sampled_from(TABLES))
    row_id = data.draw(st.sampled_from(ids(kept, table)))
    with copied(kept) as folder:
        with forcing(folder) as connection:
            connection.execute(f"DELETE FROM {table} WHERE id = ?", (row_id,))
        assert any(f.startswith(f"{table} row {row_id}: missing") for f in faults(folder))


@MANY
@given(data=st.data())
def test_reordered_rows_are_found_and_named(kept: Path, data: st.DataObject) -> None:
    """Two rows of a table that change places are both named."""
    several = [table for table in TABLES if len(ids(kept, table)) > 1]
    table = data.draw(st.sampled_from(several))
    one, two = data.draw(st.lists(st.sampled_from(ids(kept, table)), min_size=2, max_size=2, unique=True))
    with copied(kept) as folder:
        with forcing(folder) as connection:
            for old, new in ((one, -1), (two, one), (-1, two)):
                connection.execute(f"UPDATE {table} SET id = ? WHERE id = ?", (new, old))
        found = faults(folder)
        assert all(any(f.startswith(f"{table} row {row}") for f in found) for row in (one, two))


@MANY
@given(data=st.data())
def test_changes_of_the_chain_itself_are_found_and_named(kept: Path, data: st.DataObject) -> None:
    """An entry that is changed, deleted or swapped with the next is named, or the one that follows on it."""
    with s.open_store(kept) as store:
        last = s.head(store).number
    number = data.draw(st.integers(1, last - 1))
    how = data.draw(st.sampled_from(["changed", "deleted", "swapped"]))
    with copied(kept) as folder:
        with forcing(folder) as connection:
            if how == "changed":
                column = data.draw(st.sampled_from(["at", "by_id", "why", "row_id", "row_hash", "previous", "hash"]))
                new = f"{column} + 1000" if column in ("by_id", "row_id") else f"{column} || '1'"
                connection.execute(f"UPDATE chain SET {column} = {new} WHERE number = ?", (number,))
            elif how == "deleted":
                connection.execute("DELETE FROM chain WHERE number = ?", (number,))
            else:
                for old, new in ((number, -1), (number + 1, number), (-1, number + 1)):
                    connection.execute("UPDATE chain SET number = ? WHERE number = ?", (new, old))
        found = faults(folder)
        named = f"chain, entry {number}"
        assert any(f.startswith((f"{named}:", f"{named} ", f"chain, entry {number + 1}")) for f in found)


@MANY
@given(data=st.data())
def test_what_follows_from_the_rows_cannot_be_changed_alone(kept: Path, data: st.DataObject) -> None:
    """Words, searchable lines, and what is true now are found when they are changed, deleted or invented."""
    table = data.draw(st.sampled_from(FOLLOWING))
    shown = {"open_doubts", "unplaced", "not_recorded", "told_name", "source"}  # shown in lists; nothing hangs on them
    column = data.draw(st.sampled_from([c.name for c in meta.tables[table].c if c.name not in shown]))
    with closing(sqlite3.connect(kept / "store.db")) as connection:
        rows = [row[0] for row in connection.execute(f"SELECT rowid FROM {table}")]
    row = data.draw(st.sampled_from(rows))
    delete = data.draw(st.booleans())
    with copied(kept) as folder:
        with forcing(folder) as connection:
            if delete:
                connection.execute(f"DELETE FROM {table} WHERE rowid = ?", (row,))
            else:
                new = (
                    f"coalesce({column}, 0) + 1000"
                    if "INT" in str(meta.tables[table].c[column].type)
                    else f"{column} || 'x'"
                )
                before = content(connection)
                connection.execute(f"UPDATE {table} SET {column} = {new} WHERE rowid = ?", (row,))
                if content(connection) == before:  # null and a letter are null
                    return
        assert any(table in f or (table == "words" and f.startswith("words")) for f in faults(folder))


@settings(MANY, max_examples=150)
@given(data=st.data())
def test_a_flipped_byte_of_the_file_is_found_or_harmless(kept: Path, data: st.DataObject) -> None:
    """After any bit of the database file is flipped, verify finds a fault, the store cannot be opened, or nothing that
    is kept has changed (the bit lay in unused space)."""
    size = (kept / "store.db").stat().st_size
    offset, bit = data.draw(st.integers(0, size - 1)), data.draw(st.integers(0, 7))
    with copied(kept) as folder:
        file = folder / "store.db"
        changed = bytearray(file.read_bytes())
        changed[offset] ^= 1 << bit
        file.write_bytes(changed)
        try:
            found = faults(folder)
        except InputError:
            return
        if not found:
            with closing(sqlite3.connect(file)) as one, closing(sqlite3.connect(kept / "store.db")) as other:
                assert content(one) == content(other)


@MANY
@given(data=st.data())
def test_changed_swapped_and_missing_sound_is_found_and_named(kept: Path, data: st.DataObject) -> None:
    """A sound file with a flipped bit, two that changed places, one that is gone, one too many: each is named."""
    with copied(kept) as folder:
        files = sorted((folder / "sound").glob("??/*"))
        file, other = data.draw(st.permutations(files))[:2]
        how = data.draw(st.sampled_from(["flipped", "swapped", "missing", "added"]))
        named = [file]
        if how == "flipped":
            bit = data.draw(st.integers(0, 8 * file.stat().st_size - 1))
            changed = bytearray(file.read_bytes())
            changed[bit // 8] ^= 1 << (bit % 8)
            file.write_bytes(changed)
        elif how == "swapped":
            one, two = file.read_bytes(), other.read_bytes()
            file.write_bytes(two)
            other.write_bytes(one)
            named.append(other)
        elif how == "missing":
            file.unlink()
        else:
            extra = hashlib.sha256(b"extra").hexdigest()
            (folder / "sound" / extra[:2]).mkdir(exist_ok=True)
            named = [folder / "sound" / extra[:2] / extra]
            named[0].write_bytes(b"extra")
        assert faults(folder) == []  # without --sound, only chain and rows are looked at
        found = faults(folder, sound=True)
        assert len(found) == len(named)
        assert all(any(f.startswith(f"sound {n.name[:16]}") for f in found) for n in named)


def test_an_invented_record_is_found(kept: Path) -> None:
    """A row that was put in from outside has no entry in the chain and is named."""
    with copied(kept) as folder:
        with forcing(folder) as connection:
            connection.execute("INSERT INTO events (id, kind, visit_id, what) VALUES (99, 'exported', NULL, '')")
        assert faults(folder) == ["events row 99: has no entry in the chain: added from outside"]


def test_a_cut_off_end_is_found_by_a_head_that_was_printed(
    kept: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """When the newest entries and their rows are cut off cleanly, the printed head tells it; without one nobody can."""
    with s.open_store(kept) as store:
        head = s.head(store)
    with copied(kept) as folder:
        with forcing(folder) as connection:
            (table, row) = connection.execute(
                "SELECT table_name, row_id FROM chain WHERE number = ?", (head.number,)
            ).fetchone()
            assert table == "decisions"
            (of,) = connection.execute("SELECT words_hash FROM decisions WHERE id = ?", (row,)).fetchone()
            connection.execute("DELETE FROM words WHERE hash = ?", (of,))
            connection.execute("DELETE FROM decisions WHERE id = ?", (row,))
            connection.execute("DELETE FROM chain WHERE number = ?", (head.number,))
        assert faults(folder) == []
        assert faults(folder, heads=(head,)) == [
            f"chain, entry {head.number}: missing: the chain ends at {head.number - 1}, its end was cut off"
        ]
        earlier = s.Head(head.number - 1, "0" * 64)
        assert "is not the one that was printed" in faults(folder, heads=(earlier,))[0]


def test_missing_and_changed_triggers_are_found(kept: Path) -> None:
    """A trigger that was dropped or weakened is a fault of its own."""
    with copied(kept) as folder:
        with closing(sqlite3.connect(folder / "store.db")) as connection:
            connection.execute("DROP TRIGGER records_no_update")
            connection.execute("DROP TRIGGER chain_no_delete")
            connection.execute("CREATE TRIGGER chain_no_delete BEFORE DELETE ON chain BEGIN SELECT 1; END")
        assert sorted(faults(folder)) == ["trigger chain_no_delete: changed", "trigger records_no_update: missing"]


def test_a_printed_head_is_read_again() -> None:
    """What is printed as a head is read as that head; anything else is refused."""
    head = s.Head(12, "ab" * 32)
    assert s.read_head(f" {head} ") == head
    for text in ("12", "ab", "12:xyz", "12:ab", "-1:" + "a" * 64):
        with pytest.raises(InputError, match="no head of a chain"):
            s.read_head(text)
