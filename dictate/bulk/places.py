"""Where the recordings lie: a folder of this machine, or an address that fsspec knows (s3://, sftp://, file:// ...)."""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from dictate.bulk.values import Found
from dictate.errors import InputError

# Endings of sound and video files that FFmpeg's libraries read; other files of a tree are passed over in silence.
ENDINGS = frozenset([
    ".3g2", ".3gp", ".aac", ".ac3", ".aif", ".aiff", ".amr", ".ape", ".asf", ".au", ".avi", ".caf", ".eac3", ".flac",
    ".flv", ".iff", ".m2ts", ".m4a", ".m4b", ".m4v", ".mka", ".mkv", ".mov", ".mp2", ".mp3", ".mp4", ".mpeg", ".mpg",
    ".mts", ".oga", ".ogg", ".ogv", ".opus", ".rm", ".tta", ".voc", ".w64", ".wav", ".webm", ".wma", ".wmv", ".wv",
])  # fmt: skip
NEAR = frozenset(["", "localhost", "127.0.0.1", "::1"])
_OF_THIS_MACHINE = frozenset(["file", "local", "memory"])
_SCHEDULERS = ("tcp", "tls", "ucx", "inproc")
_BLOCK = 1 << 20


def is_address(place: str) -> bool:
    """Whether this is an fsspec address and no path."""
    return "://" in place


def check_allowed(address: str, allowed: tuple[str, ...]) -> None:
    """No recording goes to or comes from another machine unless that was allowed by its name.

    Raises:
        InputError: the address lies on another machine and is none of `allowed`.
    """
    parts = urlsplit(address)
    host = parts.hostname or ""
    if parts.scheme in _OF_THIS_MACHINE or (host in NEAR and parts.scheme in _SCHEDULERS):
        return
    if host not in allowed:
        name = host or parts.scheme
        raise InputError(f"lies on another machine; allow it by name with --allow {name}", where=address)


def walk(folder: str, *, leave_out: Path | None = None) -> Iterator[Found]:
    """Every sound and video file under a folder, in the order of names; hidden files and folders are passed over.

    Args:
        leave_out: a folder that is not looked into (the one that drafts are written to).

    Raises:
        InputError: there is no such folder, or it cannot be read.
    """
    if is_address(folder):
        yield from _walk_address(folder)
        return
    top = Path(folder)
    if not top.is_dir():
        raise InputError("there is no such folder" if not top.exists() else "this is no folder", where=folder)
    yield from _walk_folder(top, "", leave_out.resolve() if leave_out else None)


def _walk_folder(folder: Path, above: str, leave_out: Path | None) -> Iterator[Found]:
    try:
        with os.scandir(folder) as entries:
            inside = sorted(((e.name, e) for e in entries if not e.name.startswith(".")), key=lambda pair: pair[0])
    except OSError as e:
        if above:
            return  # one folder that cannot be read does not end the run
        raise InputError(f"cannot be read ({e.strerror or e})", where=str(folder)) from None
    for name, entry in inside:
        with contextlib.suppress(OSError):
            if entry.is_dir(follow_symlinks=False):
                if leave_out is None or Path(entry.path).resolve() != leave_out:
                    yield from _walk_folder(Path(entry.path), f"{above}{name}/", leave_out)
            elif os.path.splitext(name)[1].lower() in ENDINGS and entry.is_file():
                stat = entry.stat()
                stamp = f"{stat.st_mtime_ns}"
                yield Found(f"{above}{name}", entry.path, stat.st_size, stamp, stat.st_mtime)


def _walk_address(folder: str) -> Iterator[Found]:
    system, top = _system(folder)
    try:
        found = system.find(top, detail=True)
    except Exception as e:  # every kind of address has errors of its own
        raise InputError(f"cannot be read ({type(e).__name__}: {e})", where=folder) from None
    if not found and not system.exists(top):
        raise InputError("there is no such folder", where=folder)
    for path, info in sorted(found.items()):
        name = path[len(top) :].lstrip("/")
        if os.path.splitext(name)[1].lower() in ENDINGS and not any(p.startswith(".") for p in name.split("/")):
            stamp = str(info.get("ETag") or info.get("mtime") or info.get("LastModified") or info.get("created") or "")
            yield Found(name, system.unstrip_protocol(path), int(info.get("size") or 0), stamp, None)


def _system(address: str) -> tuple[Any, str]:
    try:
        import fsspec
    except ImportError:
        raise InputError(
            "addresses need the package fsspec: pip install dictate-exam[cluster]", where=address
        ) from None
    try:
        system, path = fsspec.core.url_to_fs(address)
    except (ImportError, ValueError) as e:
        raise InputError(f"this kind of address cannot be opened ({e})", where=address) from None
    return system, path.rstrip("/")


def hash_of(address: str) -> str:
    """The SHA-256 of a file's bytes. InputError where it cannot be read."""
    if not is_address(address):
        from dictate.sound import file_hash

        return file_hash(address)
    digest = hashlib.sha256()
    system, path = _system(address)
    try:
        with system.open(path, "rb") as f:
            while block := f.read(_BLOCK):
                digest.update(block)
    except Exception as e:  # every kind of address has errors of its own
        raise InputError(f"cannot be read ({type(e).__name__}: {e})", where=address) from None
    return digest.hexdigest()


@contextlib.contextmanager
def at_hand(address: str) -> Iterator[Path]:
    """The file as one of this machine: itself, or a copy that is deleted afterwards. InputError: it cannot be read."""
    if not is_address(address):
        yield Path(address)
        return
    system, path = _system(address)
    with tempfile.TemporaryDirectory(prefix="dictate-bulk-") as folder:
        copy = Path(folder) / path.rpartition("/")[2]
        try:
            system.get_file(path, str(copy))
        except Exception as e:  # every kind of address has errors of its own
            raise InputError(f"cannot be read ({type(e).__name__}: {e})", where=address) from None
        yield copy


def is_same(found: Found) -> bool:
    """Whether the file is still as it was found; of an address nothing is asked again."""
    if is_address(found.address):
        return True
    try:
        stat = os.stat(found.address)
    except OSError:
        return False
    return (stat.st_size, str(stat.st_mtime_ns)) == (found.size, found.stamp)


def seconds_of(found: Found) -> float | None:
    """The length that a file's own head states, in seconds; None where it states none or cannot be opened."""
    if is_address(found.address):
        return None
    from dictate.sound.container import opened

    try:
        with opened(Path(found.address)) as file:
            return file.claimed
    except InputError:
        return None
