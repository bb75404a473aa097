"""Writing files so that a reader sees the old state or the new one, never half."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path


def private_folder(folder: Path) -> Path:
    """The folder, made if need be, open to its owner alone: what lies in it was spoken in an exam room."""
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    return folder


def write_whole(path: Path, data: bytes) -> None:
    """Write beside, sync, rename, sync the folder. Raises OSError; nothing half written is left then."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as f:
            f.write(data)
            f.flush()
            os.fsync(f.fileno())
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make a rename in this folder last; where folders cannot be synced (Windows), nothing is done."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
