"""What is known of every file and what became of every task, on disk, so that a conversion can end at any moment.

An SQLite database in the folder of the drafts. One process writes it; a second conversion into it is refused.
A task is `waiting` from when its name is given until its drafts are written; only then it is `done`.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from dictate.bulk.values import Found, Member, Outcome, Task
from dictate.errors import InputError

NAME = ".conversion.sqlite"
_FORM = 1
_TABLES = """
CREATE TABLE files (name TEXT PRIMARY KEY, size INTEGER, stamp TEXT, sha256 TEXT, seconds REAL, task TEXT)
    WITHOUT ROWID;
CREATE TABLE tasks (id TEXT PRIMARY KEY, stem TEXT UNIQUE, members TEXT, state TEXT, reason TEXT, minutes REAL,
    seconds REAL, hearing REAL, ends INTEGER DEFAULT 0, joined TEXT) WITHOUT ROWID;
CREATE TABLE drafts (task TEXT, number INTEGER, stem TEXT, patient TEXT, minutes REAL, sites INTEGER, doubts INTEGER,
    quality TEXT, note TEXT, stored INTEGER DEFAULT 0, PRIMARY KEY (task, number)) WITHOUT ROWID;
CREATE INDEX files_by_sum ON files (sha256);
CREATE INDEX drafts_not_stored ON drafts (stored) WHERE stored = 0;
"""
# Asked for with every task that ends; journals from before it was there get it when they are opened.
_JOINED = "CREATE INDEX IF NOT EXISTS tasks_joined ON tasks (joined) WHERE joined IS NOT NULL"


@dataclass(frozen=True, slots=True)
class Known:
    """What the journal says of a file as it is now. `stems` are its task's drafts, where it is done."""

    sha256: str
    seconds: float | None
    task: str
    state: str
    stems: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the table: a draft, or a file without one."""

    file: str
    draft: str
    patient: str
    minutes: float | None
    sites: int | None
    doubts: int | None
    quality: str
    status: str
    seconds: float | None
    reason: str


class Journal:
    """The open journal. Every method that writes has written safely when it returns, unless it runs in `together`."""

    def __init__(self, folder: Path) -> None:
        """Open the journal of a folder, or begin one. InputError where it cannot be, or another process has it open."""
        self.place = folder / NAME
        try:
            self._db = sqlite3.connect(self.place, isolation_level=None, timeout=1.0, check_same_thread=False)
            # Kept to oneself from the first write on; the lock ends with the process, however that ends.
            self._db.execute("PRAGMA locking_mode = EXCLUSIVE")
            self._db.execute("PRAGMA synchronous = FULL")
            self._db.execute("BEGIN IMMEDIATE")
            form = self._db.execute("PRAGMA user_version").fetchone()[0]
            if not form:
                for line in _TABLES.strip().split(";\n"):
                    self._db.execute(line)
            if form in (0, _FORM):
                self._db.execute(_JOINED)
                # A write even where nothing changes: what a killed process left beside the journal is taken over by
                # this connection, which takes it away when it closes.
                self._db.execute(f"PRAGMA user_version = {_FORM}")
            self._db.execute("COMMIT")
        except sqlite3.OperationalError as e:
            why = "another conversion is writing into this folder" if "locked" in str(e) else f"the journal: {e}"
            raise InputError(why, where=str(folder)) from None
        except sqlite3.DatabaseError as e:
            raise InputError(
                f"the journal is damaged ({e}); move it away to begin anew", where=str(self.place)
            ) from None
        if form not in (0, _FORM):
            raise InputError("the journal is of another version of this program", where=str(self.place))

    def close(self) -> None:
        self._db.close()

    @contextmanager
    def together(self) -> Iterator[None]:
        """What is written within is written as one, or not at all."""
        if self._db.in_transaction:
            yield
            return
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            self._db.execute("ROLLBACK")
            raise
        self._db.execute("COMMIT")

    def known(self, found: Found) -> Known | None:
        """What is known of this file; None where it is new or has changed."""
        row = self._db.execute(
            "SELECT f.sha256, f.seconds, f.task, t.state, d.stem FROM files f LEFT JOIN tasks t ON t.id = f.task"
            " LEFT JOIN drafts d ON d.task = t.id WHERE f.name = ? AND f.size = ? AND f.stamp = ?",
            (found.name, found.size, found.stamp),
        ).fetchall()
        if not row:
            return None
        sha256, seconds, task, state, _ = row[0]
        return Known(sha256, seconds, task or "", state or "", tuple(r[4] for r in row if r[4] is not None))

    def note_file(self, found: Found, sha256: str, seconds: float | None) -> None:
        """Keep what was learned of a file."""
        self._db.execute(
            "INSERT INTO files (name, size, stamp, sha256, seconds) VALUES (?, ?, ?, ?, ?) ON CONFLICT (name) DO UPDATE"
            " SET size = excluded.size, stamp = excluded.stamp, sha256 = excluded.sha256, seconds = excluded.seconds,"
            " task = NULL",
            (found.name, found.size, found.stamp, sha256, seconds),
        )

    def task_of_sum(self, sha256: str) -> str:
        """The task in which a file of these bytes was taken up already, or ""."""
        row = self._db.execute("SELECT task FROM files WHERE sha256 = ? AND task IS NOT NULL", (sha256,)).fetchone()
        return row[0] if row else ""

    def state_of(self, task: str) -> Known | None:
        """What became of a task, and its drafts; None where there is no such task."""
        rows = self._db.execute(
            "SELECT t.state, d.stem FROM tasks t LEFT JOIN drafts d ON d.task = t.id WHERE t.id = ?", (task,)
        ).fetchall()
        return Known("", None, task, rows[0][0], tuple(r[1] for r in rows if r[1] is not None)) if rows else None

    def put_in(self, name: str, task: str) -> None:
        """Note that the file of this name belongs to the task."""
        self._db.execute("UPDATE files SET task = ? WHERE name = ?", (task, name))

    def begin(self, identity: str, stem: str, members: tuple[Member, ...]) -> Task:
        """The task of these members, with the name that it has from its first beginning on: `stem`, or, where another
        task has that name, the stem with the first eight digits of the task's own id."""
        if len(members) > 1:
            for member in members:
                self._give_way(member.name, identity)
        row = self._db.execute("SELECT stem FROM tasks WHERE id = ?", (identity,)).fetchone()
        if row is None:
            taken = self._db.execute("SELECT 1 FROM tasks WHERE stem = ?", (stem,)).fetchone()
            row = (f"{stem}-{identity[:8]}" if taken else stem,)
            self._db.execute(
                "INSERT INTO tasks (id, stem, members, state) VALUES (?, ?, ?, 'waiting')",
                (identity, row[0], json.dumps([[m.name, m.sha256] for m in members])),
            )
        else:
            named = json.dumps([[m.name, m.sha256] for m in members])  # the file may have another name by now
            self._db.execute("UPDATE tasks SET state = 'waiting', members = ? WHERE id = ?", (named, identity))
        for member in members:
            self.put_in(member.name, identity)
        return Task(identity, row[0], members)

    def _give_way(self, name: str, identity: str) -> None:
        """A file that was a task by itself, and is now joined with others: that task gives up its name."""
        self._db.execute(
            "UPDATE tasks SET state = 'joined', joined = ?1, stem = id WHERE id != ?1 AND id IN"
            " (SELECT task FROM files WHERE name = ?2)",
            (identity, name),
        )

    def joined_into(self, task: str) -> tuple[str, ...]:
        """The drafts of tasks that are now part of this one."""
        rows = self._db.execute("SELECT d.stem FROM drafts d JOIN tasks t ON t.id = d.task WHERE t.joined = ?", (task,))
        return tuple(r[0] for r in rows)

    def finish(self, outcome: Outcome, notes: tuple[str, ...]) -> None:
        """Note what became of a task; `notes` has a line for each draft, "" where there is nothing to tell."""
        with self.together():
            self._db.execute(
                "UPDATE tasks SET state = ?, reason = ?, minutes = ?, seconds = ?, hearing = ? WHERE id = ?",
                (
                    "set aside" if outcome.reason else "done",
                    outcome.reason,
                    outcome.minutes,
                    outcome.seconds,
                    outcome.hearing,
                    outcome.task,
                ),
            )
            self._db.execute(
                "DELETE FROM drafts WHERE task IN (SELECT id FROM tasks WHERE joined = ?)", (outcome.task,)
            )
            self._db.execute("DELETE FROM drafts WHERE task = ?", (outcome.task,))
            self._db.executemany(
                "INSERT INTO drafts (task, number, stem, patient, minutes, sites, doubts, quality, note)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                [
                    (outcome.task, i, d.stem, d.patient, d.minutes, d.sites, d.doubts, d.quality, note)
                    for i, (d, note) in enumerate(zip(outcome.drafts, notes, strict=True))
                ],
            )

    def ended_with(self, task: str) -> int:
        """Note that the process which did this task came to an end; how often that was by now."""
        self._db.execute("UPDATE tasks SET ends = ends + 1 WHERE id = ?", (task,))
        return int(self._db.execute("SELECT ends FROM tasks WHERE id = ?", (task,)).fetchone()[0])

    def not_stored(self) -> Iterable[tuple[str, int, str, str]]:
        """(task, number, stem, name of the first file) of every draft that no store has yet."""
        return self._db.execute(
            "SELECT d.task, d.number, d.stem, json_extract(t.members, '$[0][0]') FROM drafts d JOIN tasks t ON t.id ="
            " d.task WHERE d.stored = 0 AND t.state = 'done' ORDER BY d.stem"
        ).fetchall()

    def mark_stored(self, task: str, number: int) -> None:
        self._db.execute("UPDATE drafts SET stored = 1 WHERE task = ? AND number = ?", (task, number))

    def lines(self) -> Iterator[Line]:
        """The lines of the table, in the order of files and drafts; memory stays the same however many there are."""
        rows = self._db.execute(
            "SELECT f.name, d.stem, d.patient, COALESCE(d.minutes, t.minutes), d.sites, d.doubts, d.quality, t.state,"
            " t.seconds, t.reason, d.note, d.number, t.members"
            " FROM files f JOIN tasks t ON t.id = f.task LEFT JOIN drafts d ON d.task = t.id ORDER BY f.name, d.number"
        )
        for name, stem, patient, minutes, sites, doubts, quality, state, seconds, reason, note, number, members in rows:
            names = [member for member, _ in json.loads(members)]
            if name not in names:
                if not number:
                    yield Line(name, "", "", None, None, None, "", f"same as {names[0]}", None, "")
            elif name == names[0]:
                taken = None if number else seconds  # told once where a recording gave several drafts
                status = "drafted" if state == "done" else state
                why = reason or note or ""
                shown = " + ".join(names)
                yield Line(shown, stem or "", patient or "", minutes, sites, doubts, quality or "", status, taken, why)
