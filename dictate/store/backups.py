"""Backup: all rows as one file, the sound beside it, and a page that says what they are.

    FOLDER/2026-05-04T103000Z-1234.json      the manifest: chain's head, hashes, counts
    FOLDER/2026-05-04T103000Z-1234.rows.gz   the rows, a JSON object a line (.rows.gz.age from an encrypted store)
    FOLDER/sound/ab/abcd…                    the sound, shared by all backups in the folder

It is the same for SQLite and PostgreSQL, and is restored into either.
"""

from __future__ import annotations

import contextlib
import gzip
import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from dictate.errors import InputError
from dictate.files import check_writable
from dictate.speech.files import private_folder, sync_folder, write_whole
from dictate.store.canonical import canonical
from dictate.store.chain import Head, Writer, head_of, stamp, time_of
from dictate.store.drafts import kept_sounds
from dictate.store.making import newest_form
from dictate.store.opening import Store
from dictate.store.people import PROGRAM
from dictate.store.sounds import file_of, sound_file
from dictate.store.tables import events, meta

SCHEMA = "dictate-backup/1"


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup holds. `form` is that of the tables; `sounds` are the hashes of the sound that belongs to it."""

    made: str
    form: str
    head_number: int
    head_hash: str
    rows_file: str
    rows_sha256: str
    encrypted: bool
    sounds: tuple[str, ...]
    counts: dict[str, int]
    schema: str = SCHEMA

    @property
    def head(self) -> Head:
        return Head(self.head_number, self.head_hash)


@dataclass(frozen=True, slots=True)
class BackedUp:
    """The manifest's file, and how many older backups were deleted."""

    file: Path
    manifest: Manifest
    dropped: int = 0


def backup(store: Store, folder: Path, *, keep: int | None = None) -> BackedUp:
    """Back everything up into a folder, while others go on working. With `keep`, only that many newest backups stay.

    Raises:
        InputError: the folder cannot be written, or lies within the store.
    """
    if store.place.database and folder.resolve().is_relative_to(store.place.database.parent.resolve()):
        raise InputError("lies within the store; a backup belongs on another disk", where=str(folder))
    check_writable(folder)
    made = stamp()
    with store.reading() as connection:
        head = head_of(connection)
        stem = f"{time_of(made):%Y-%m-%dT%H%M%SZ}-{head.number}"
        try:
            rows_file, digest, counts = _write_rows(store, connection, folder, stem)
            sounds = tuple(_copy_sounds(store, connection, folder))
        except OSError as error:
            raise InputError(f"the backup cannot be written ({error.strerror or error})", where=str(folder)) from None
    encrypted = store.key is not None
    manifest = Manifest(made, newest_form(), head.number, head.hash, rows_file, digest, encrypted, sounds, counts)
    file = folder / f"{stem}.json"
    write_whole(file, (json.dumps(asdict(manifest), indent=1) + "\n").encode())
    with store.changing() as connection:
        writer = Writer(connection, by_id=PROGRAM.id)
        writer.add(events, kind="backup", visit_id=None, what=f"{file.name}, head {head}")
    return BackedUp(file, manifest, _drop_older(folder, keep) if keep else 0)


def read_manifest(file: Path) -> Manifest:
    """The manifest of a backup. InputError where the file is none."""
    try:
        told = json.loads(file.read_text(encoding="utf-8"))
        if told["schema"] != SCHEMA:
            raise InputError(f"is a backup of another kind ({told['schema']!r})", where=str(file))
        return Manifest(**{**told, "sounds": tuple(told["sounds"])})
    except OSError as error:
        raise InputError(f"the backup cannot be read ({error.strerror})", where=str(file)) from None
    except (ValueError, KeyError, TypeError):
        raise InputError("is no backup; name its .json file", where=str(file)) from None


def manifests(folder: Path) -> list[Path]:
    """The manifests in a folder, newest first."""
    return sorted((f for f in folder.glob("*.json") if not f.name.startswith(".")), reverse=True)


def _write_rows(store: Store, connection: Connection, folder: Path, stem: str) -> tuple[str, str, dict[str, int]]:
    counts: dict[str, int] = {}
    name = f"{stem}.rows.gz" + (".age" if store.key else "")
    with tempfile.TemporaryFile(dir=folder) as whole:
        with gzip.GzipFile(fileobj=whole, mode="wb", compresslevel=1, mtime=0) as packed:
            for line in _lines(connection, counts):
                packed.write(line.encode("utf-8") + b"\n")
        whole.seek(0)
        handle, temporary = tempfile.mkstemp(dir=folder, prefix=".new.")
        try:
            with os.fdopen(handle, "wb") as target:
                if store.key:
                    store.key.close_stream(whole, target)
                else:
                    shutil.copyfileobj(whole, target, 1 << 20)
                target.flush()
                os.fsync(target.fileno())
            with open(temporary, "rb") as written:
                digest = hashlib.file_digest(written, "sha256").hexdigest()
            os.replace(temporary, folder / name)
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
            raise
    sync_folder(folder)
    return name, digest, counts


def _lines(connection: Connection, counts: dict[str, int]) -> Iterator[str]:
    for table in meta.sorted_tables:
        names = [c.name for c in table.c]
        counts[table.name] = 0
        for row in connection.execute(select(table).order_by(*table.primary_key.columns)).yield_per(500):
            counts[table.name] += 1
            values: dict[str, Any] = dict(zip(names, row, strict=True))
            yield canonical([table.name, values])


def _copy_sounds(store: Store, connection: Connection, folder: Path) -> Iterator[str]:
    for sha256 in sorted(kept_sounds(connection)):
        source = file_of(store, sha256)
        target = sound_file(folder / "sound", sha256, encrypted=store.key is not None)
        if not source.is_file():
            raise InputError("a sound is missing; see `dictate verify --sound`", where=str(source))
        if not target.exists() or target.stat().st_size != source.stat().st_size:
            private_folder(target.parent)
            write_whole(target, source.read_bytes())
        yield sha256


def _drop_older(folder: Path, keep: int) -> int:
    """Delete all but the newest backups, and the sound that none of those left belongs to."""
    files = manifests(folder)
    for file in files[keep:]:
        (folder / read_manifest(file).rows_file).unlink(missing_ok=True)
        file.unlink()
    wanted = {sha256 for file in files[:keep] for sha256 in read_manifest(file).sounds}
    for sound in (folder / "sound").glob("??/*"):
        if sound.name.removesuffix(".age") not in wanted:
            sound.unlink()
    sync_folder(folder)
    return len(files[keep:])
