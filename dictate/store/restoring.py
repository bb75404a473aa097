"""Restore: a backup becomes a new store, which is verified whole before anything is said to be well. And the drill."""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby, islice
from pathlib import Path
from typing import Any

from sqlalchemy import Connection
from sqlalchemy.exc import SQLAlchemyError

from dictate.errors import InputError
from dictate.store.backups import Manifest, read_manifest
from dictate.store.making import make_store, upgrade_store
from dictate.store.opening import Store, open_key
from dictate.store.place import place_of
from dictate.store.sounds import keep_bytes, sound_file
from dictate.store.tables import meta
from dictate.store.verifying import Verified, verify

BATCH = 500


@dataclass(frozen=True, slots=True)
class Restored:
    """A backup that was restored, and what checking the restored store found."""

    place: str
    manifest: Manifest
    verified: Verified


def restore(file: Path, place: str | Path, *, key: Path | None = None, backup_key: Path | None = None) -> Restored:
    """A new store at `place` from a backup's manifest, verified with its sound against the head that the backup names.

    `key` is the key file of the new store, `backup_key` that of the backup; by default the same one. A backup of a
    plain store restored with a key becomes an encrypted store.

    Raises:
        InputError: the backup is damaged or the key is another; there is a store at `place` already. Then nothing is
            left at a folder; an empty store may be left in a PostgreSQL database.
    """
    manifest = read_manifest(file)
    backup_key = backup_key or (key if manifest.encrypted else None)
    if manifest.encrypted and backup_key is None:
        raise InputError("the backup is encrypted; name its key file", where=str(file))
    target = place_of(place, key=key)
    if target.database is None:
        with make_store(target, form=manifest.form) as store:
            return _fill(store, file, manifest, backup_key)
    final = target.database.parent
    if target.database.exists():
        raise InputError("there is a store already", where=str(final))
    if final.exists() and any(final.iterdir()):
        raise InputError("the folder is not empty", where=str(final))
    final.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".restoring.", dir=final.parent) as beside:
        with make_store(Path(beside) / "store", key=target.key, form=manifest.form) as store:
            done = _fill(store, file, manifest, backup_key)
        if final.exists():
            final.rmdir()
        (Path(beside) / "store").rename(final)
    return Restored(str(target), manifest, done.verified)


def drill(file: Path, *, key: Path | None = None) -> Restored:
    """Restore a backup into a folder that is thrown away afterwards, to see that it can be done."""
    with tempfile.TemporaryDirectory(prefix="dictate-drill-") as folder:
        done = restore(file, Path(folder) / "store", key=key if read_manifest(file).encrypted else None, backup_key=key)
    return Restored("(drill)", done.manifest, done.verified)


def _fill(store: Store, file: Path, manifest: Manifest, backup_key: Path | None) -> Restored:
    key = open_key(backup_key) if backup_key and manifest.encrypted else None
    folder = file.parent
    packed = _checked(folder / manifest.rows_file, manifest)
    if key is not None:
        packed = key.open(packed, where=manifest.rows_file)
    with store.changing() as connection:
        try:
            _insert(connection, packed, manifest)
        except (OSError, EOFError, ValueError, KeyError, TypeError, SQLAlchemyError) as error:
            what = f"the backup's rows cannot be restored ({type(error).__name__})"
            raise InputError(what, where=manifest.rows_file) from None
    for sha256 in manifest.sounds:
        source = sound_file(folder / "sound", sha256, encrypted=manifest.encrypted)
        try:
            data = source.read_bytes()
        except OSError as error:
            raise InputError(f"a sound of the backup cannot be read ({error.strerror})", where=str(source)) from None
        keep_bytes(store, key.open(data, where=str(source)) if key else data, expected=sha256, where=str(source))
    upgrade_store(store.place)
    found = verify(store, sound=True, heads=(manifest.head,))
    if found.faults:
        more = f" ({len(found.faults) - 1} more)" if len(found.faults) > 1 else ""
        raise InputError(f"the backup is not whole: {found.faults[0]}{more}", where=str(file))
    return Restored(str(store.place), manifest, found)


def _checked(file: Path, manifest: Manifest) -> bytes:
    try:
        data = file.read_bytes()
    except OSError as error:
        raise InputError(f"the backup's rows cannot be read ({error.strerror})", where=str(file)) from None
    if hashlib.sha256(data).hexdigest() != manifest.rows_sha256:
        raise InputError("was changed since the backup was made (another hash)", where=str(file))
    return data


def _insert(connection: Connection, packed: bytes, manifest: Manifest) -> None:
    counts = dict.fromkeys(manifest.counts, 0)
    with gzip.GzipFile(fileobj=io.BytesIO(packed)) as lines:
        for name, group in groupby((json.loads(line) for line in lines), key=lambda pair: str(pair[0])):
            for rows in _batches(pair[1] for pair in group):
                connection.execute(meta.tables[name].insert(), rows)
                counts[name] += len(rows)
    if counts != manifest.counts:
        raise ValueError("rows are missing")


def _batches(rows: Iterator[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    while some := list(islice(rows, BATCH)):
        yield some
