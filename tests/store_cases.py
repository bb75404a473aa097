"""Makers for the tests of the store: stores of each kind, a PostgreSQL server, people, and small drafts."""

from __future__ import annotations

import hashlib
import os
import shutil
import socket
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from argon2 import PasswordHasher

from dictate import store as s
from dictate.exam.record import Coverage, Doubt, Evidence, MadeBy, Observation, Patient, Record, Source, Unplaced
from dictate.review import Dismiss, Settle
from dictate.store import passwords
from dictate.store.keys import make_key_file

DAY = date(2026, 5, 4)
NOW = datetime(2026, 5, 4, 10, 30, tzinfo=UTC)
TALK = "left eye cloudy right ear sore and something behind the stove"
DOUBT = Doubt(kind="heard", message="Heard with low probability", choices=("as heard", "something else"))
passwords._hasher = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)  # the cost is not the subject here
PASSWORD, PIN = "saltmarsh reeds", "274951"


def quote(text: str) -> Evidence:
    start = TALK.index(text)
    return Evidence(
        text=text, start=float(start), end=float(start + len(text)), char_start=start, char_end=start + len(text)
    )


def draft(sound: bytes = b"sound one", *, open_doubt: bool = True, name: str | None = "Bramble", **more: Any) -> Record:
    """A draft with two findings, one doubt and one unplaced phrase, made from these bytes of sound."""
    doubts = (DOUBT,) if open_doubt else ()
    unplaced = (Unplaced(**quote("something behind the stove").model_dump(), why="no place"),) if open_doubt else ()
    return Record(
        id=hashlib.sha256(sound).hexdigest()[:16],
        drafted=NOW,
        patient=Patient(name=name, species="dog"),
        observations=(
            Observation(id="a", site="eye", side="left", status="abnormal", finding="cloudiness", doubts=doubts,
                        qualifiers={"grade": 2.0}, evidence=(quote("left eye cloudy"),)),
            Observation(id="b", site="ear canal", side="right", status="abnormal", finding="pain",
                        evidence=(quote("right ear sore"),)),
        ),
        unplaced=unplaced,
        coverage=Coverage(recorded=("eye", "ear canal"), not_recorded=("teeth",)),
        source=Source(name="bramble.ogg", kind="sound", sha256=hashlib.sha256(sound).hexdigest()),
        made_by=MadeBy(program="dictate-exam", version="0", rule_set="test"),
        talk=TALK,
        **more,
    )  # fmt: skip


def settle(by: str = "Reed", choice: str = "as heard") -> Settle:
    return Settle(by=by, time=NOW, observations=("a",), doubt=DOUBT, choice=choice)


def dismiss(by: str = "Reed") -> Dismiss:
    return Dismiss(by=by, time=NOW, phrase=draft().unplaced[0])


def sound_file(folder: Path, sound: bytes = b"sound one") -> Path:
    file = folder / f"{hashlib.sha256(sound).hexdigest()[:8]}.ogg"
    file.write_bytes(sound)
    return file


def people(store: s.Store) -> tuple[s.Account, s.Account]:
    """An administrator who also signs, with a PIN; and a reviewer."""
    boss = s.first_administrator(store, "Dr Reed", PASSWORD, title="veterinarian")
    boss = s.change_account(store, boss.id, by=boss, roles={"administrator", "signer", "reviewer"})
    boss = s.set_pin(store, boss.id, PIN, by=boss, password=PASSWORD)
    return boss, s.add_account(store, "Tern", PASSWORD, {"reviewer"}, by=boss)


def bramble(store: s.Store, *, by: s.Account, number: str = "1042", owner: str = "A. Sedge") -> s.Patient:
    return s.add_patient(store, s.Facts(name="Bramble", species="dog", practice_number=number, owner=owner), by=by)


def reviewed(
    store: s.Store, folder: Path, by: s.Account, *, sound: bytes = b"sound one", number: str = "1042"
) -> s.Visit:
    """A visit with patient, sound and a draft whose doubt and phrase are settled: it may be signed."""
    patient = bramble(store, by=by, number=number)
    added = s.add_draft(store, draft(sound), sound=sound_file(folder, sound))
    s.assign_patient(store, added.visit.id, patient.id, by=by, expected=added.visit.version)
    state = s.working(store, added.visit.id).state
    return s.decide(store, added.visit.id, [settle(), dismiss()], by=by, state=state).visit


def sign(store: s.Store, visit: s.Visit, by: s.Account, *, secret: str = PIN) -> s.SignedRecord:
    before = s.before_signing(store, visit.id)
    assert visit.patient
    return s.sign(store, visit.id, by=by, secret=secret, seen=before.seen, patient_id=visit.patient.id)


def signed_visit(
    store: s.Store, folder: Path, by: s.Account, *, sound: bytes = b"sound one", number: str = "1042"
) -> s.Visit:
    sign(store, visit := reviewed(store, folder, by, sound=sound, number=number), by)
    return s.visit(store, visit.id)


@contextmanager
def made(kind: str, folder: Path, server: str = "") -> Iterator[s.Store]:
    """A new store: "file", "encrypted", or "server" (in a database of its own on `server`)."""
    if kind == "server":
        with database(server, folder.name) as url, s.make_store(f"{url}?sound={folder / 'sound'}") as store:
            yield store
        return
    key = None
    if kind == "encrypted":
        make_key_file(key := folder / "key")
    with s.make_store(folder / "store", key=key) as store:
        yield store


@contextmanager
def database(server: str, name: str) -> Iterator[str]:
    """An empty database on the server, dropped afterwards."""
    import psycopg

    name = "".join(c if c.isalnum() else "_" for c in name.lower())
    with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')
        try:
            yield f"{server}/{name}"
        finally:
            connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


@contextmanager
def postgresql(folder: Path) -> Iterator[str]:
    """A PostgreSQL server of its own, run as a user that is not root; its URL. LookupError says why there is none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if not found:
        raise LookupError("no PostgreSQL server is installed (Debian package postgresql)")
    programs = found[-1].parent
    as_user = []
    if os.geteuid() == 0:
        if not shutil.which("runuser"):
            raise LookupError("PostgreSQL does not run as root, and there is no runuser")
        as_user = ["runuser", "-u", "postgres", "--"]
        shutil.chown(folder, "postgres")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    data = folder / "data"
    make = [programs / "initdb", "-D", data, "-U", "saltmarsh", "--auth=trust", "--encoding=UTF8", "--locale=C"]
    options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1"
    control = [programs / "pg_ctl", "-D", data, "-w"]
    _run([*as_user, *make])
    _run([*as_user, *control, "-l", folder / "log", "-o", options, "start"])
    try:
        yield f"postgresql://saltmarsh@127.0.0.1:{port}"
    finally:
        _run([*as_user, *control, "-m", "fast", "stop"])


def _run(command: list[Any]) -> None:
    done = subprocess.run([str(c) for c in command], capture_output=True, text=True, cwd="/tmp", timeout=120)
    if done.returncode:
        raise LookupError(f"{Path(str(command[-1])).name}: {done.stderr[-300:]}")
