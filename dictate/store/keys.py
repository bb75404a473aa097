"""Encryption at rest, chosen when a store is made: one key file opens the database and the sound.

The key file holds an age identity (https://age-encryption.org/v1). Sound and backups are age files, which any age
program opens with it; the SQLite database is an SQLCipher 4 database whose raw key is derived from it (HKDF-SHA256).
A PostgreSQL server keeps its own disk encrypted; the sound beside it is encrypted by this key all the same.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from pyrage import DecryptError, IdentityError, decrypt, encrypt, encrypt_io, x25519

from dictate.errors import InputError
from dictate.speech.files import sync_folder


@dataclass(frozen=True, slots=True)
class Key:
    """An age identity. Its text is never printed."""

    identity: x25519.Identity

    def close(self, data: bytes) -> bytes:
        """The data as an age file."""
        return encrypt(data, [self.identity.to_public()])

    def close_stream(self, source: Any, target: BinaryIO) -> None:
        """All that is left in `source`, as an age file in `target`, in bounded memory."""
        encrypt_io(source, target, [self.identity.to_public()])

    def open(self, data: bytes, *, where: str) -> bytes:
        """The data of an age file; InputError where this key does not open it, or a byte of it was changed."""
        try:
            return decrypt(data, [self.identity])
        except DecryptError:
            raise InputError("cannot be decrypted: another key, or it was changed", where=where) from None

    def database_key(self) -> str:
        """The raw key of the database, 64 hexadecimal digits."""
        derived = HKDF(SHA256(), length=32, salt=None, info=b"dictate store database")
        return derived.derive(str(self.identity).encode()).hex()


def make_key_file(path: Path) -> Key:
    """A new key in a new file that only its owner can read. InputError where there is a file already."""
    identity = x25519.Identity.generate()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w") as file:
            file.write(f"# public key: {identity.to_public()}\n{identity}\n")
            file.flush()
            os.fsync(file.fileno())
        sync_folder(path.parent)
    except FileExistsError:
        raise InputError("there is a file already; a key is never written over", where=str(path)) from None
    except OSError as error:
        raise InputError(f"the key cannot be written ({error.strerror})", where=str(path)) from None
    return Key(identity)


def read_key_file(path: Path) -> Key:
    """The key in a file. InputError where there is none."""
    try:
        lines = path.read_text(encoding="utf-8").split("\n")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            f"the key file cannot be read ({getattr(error, 'strerror', None) or error})", where=str(path)
        ) from None
    for line in lines:
        if line.strip() and not line.startswith("#"):
            try:
                return Key(x25519.Identity.from_str(line.strip()))
            except IdentityError:
                break
    raise InputError("holds no key of this program (an age identity)", where=str(path))
