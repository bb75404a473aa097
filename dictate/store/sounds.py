"""Sound, kept as files under their hash beside the database, encrypted where the store has a key."""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from dictate.errors import InputError
from dictate.speech.files import private_folder, sync_folder
from dictate.store.opening import Store
from dictate.store.refusals import Gone

BLOCK = 1 << 20


@dataclass(frozen=True, slots=True)
class Kept:
    """A sound file in the store: the SHA-256 of the sound itself, and its size in bytes."""

    sha256: str
    size: int


def sound_file(folder: Path, sha256: str, *, encrypted: bool) -> Path:
    """Where the sound of this hash lies."""
    return folder / sha256[:2] / (f"{sha256}.age" if encrypted else sha256)


def file_of(store: Store, sha256: str) -> Path:
    return sound_file(store.place.sound, sha256, encrypted=store.key is not None)


def keep_sound(store: Store, source: Path, *, expected: str) -> Kept:
    """Copy a sound file into the store. It is there whole and synced when this returns, or not at all.

    Raises:
        InputError: it cannot be read or written, or is not the sound of the hash `expected`.
    """
    try:
        with source.open("rb") as file:
            return _copy(store, file, expected, where=str(source))
    except OSError as error:
        raise InputError(f"the sound cannot be kept ({error.strerror or error})", where=str(source)) from None


def keep_bytes(store: Store, data: bytes, *, expected: str, where: str) -> Kept:
    """The same for a sound that is in memory."""
    try:
        return _copy(store, io.BytesIO(data), expected, where=where)
    except OSError as error:
        raise InputError(f"the sound cannot be kept ({error.strerror or error})", where=where) from None


def _copy(store: Store, source: BinaryIO, expected: str, *, where: str) -> Kept:
    place = file_of(store, expected)
    private_folder(store.place.sound)
    private_folder(place.parent)
    handle, name = tempfile.mkstemp(dir=place.parent, prefix=".new.")
    try:
        with os.fdopen(handle, "wb") as target:
            reader = _Hashing(source)
            if store.key is None:
                while block := reader.read(BLOCK):
                    target.write(block)
            else:
                store.key.close_stream(reader, target)
            target.flush()
            os.fsync(target.fileno())
        if reader.digest.hexdigest() != expected:
            raise InputError("is not the sound that the draft was made from (another hash)", where=where)
        os.replace(name, place)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise
    sync_folder(place.parent)
    sync_folder(store.place.sound)
    return Kept(expected, reader.size)


class _Hashing:
    """A file that is hashed as it is read."""

    def __init__(self, source: BinaryIO) -> None:
        self.source = source
        self.digest = hashlib.sha256()
        self.size = 0

    def read(self, size: int = -1) -> bytes:
        block = self.source.read(size)
        self.digest.update(block)
        self.size += len(block)
        return block


def sound_of(store: Store, sha256: str) -> bytes:
    """The bytes of a kept sound. Gone where its file is not there; InputError where it cannot be read or decrypted."""
    file = file_of(store, sha256)
    try:
        data = file.read_bytes()
    except FileNotFoundError:
        raise Gone("the sound is not kept (any more)", where=sha256[:16]) from None
    except OSError as error:
        raise InputError(f"the sound cannot be read ({error.strerror})", where=str(file)) from None
    return store.key.open(data, where=str(file)) if store.key else data


def hash_of_kept(store: Store, sha256: str) -> str:
    """The hash of what is really kept under this hash; "" where there is no such file. InputError as `sound_of`."""
    file = file_of(store, sha256)
    if not file.exists():
        return ""
    if store.key is not None:
        return hashlib.sha256(sound_of(store, sha256)).hexdigest()
    with file.open("rb") as f:
        return hashlib.file_digest(f, "sha256").hexdigest()


def delete_sound(store: Store, sha256: str) -> bool:
    """Delete a sound file; whether there was one. The trace of it is entered before (`dictate.store.erasing`)."""
    file = file_of(store, sha256)
    try:
        file.unlink()
    except FileNotFoundError:
        return False
    sync_folder(file.parent)
    return True


def kept_hashes(store: Store) -> Iterator[str]:
    """The hashes of all sound files that are there."""
    ending = ".age" if store.key else ""
    for file in sorted(store.place.sound.glob("??/*")):
        name = file.name.removesuffix(ending) if ending else file.name
        if not name.startswith("."):
            yield name
