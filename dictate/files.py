"""Where results are written: whole or not at all, and never over another source's result or a reviewed record."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dictate.errors import InputError
from dictate.speech.files import write_whole


@dataclass(frozen=True, slots=True)
class Place:
    """Where a source's result goes: `folder` / (`name` + ending). `note` says, where needed, why it is not elsewhere.

    `kept` is True where a reviewed result of this very source stands there already: nothing is written then.
    """

    folder: Path
    name: str
    note: str = ""
    kept: bool = False

    def file(self, ending: str) -> Path:
        return self.folder / f"{self.name}{ending}"


def find_place(
    folder: Path,
    stem: str,
    source_hash: str,
    *,
    ending: str,
    hash_of: Callable[[Any], str | None],
    may_replace: Callable[[Any], bool],
) -> Place:
    """The place of the result of a source called `stem`.

    A result of the same source is replaced, unless `may_replace` forbids it. One of another source, or a file that is
    none of ours, is left alone: the name then gets the first eight digits of the source's hash.

    Raises:
        InputError: both names are taken by files that must not be replaced.
    """
    taken = ""
    for name in (stem, f"{stem}-{source_hash[:8]}"):
        file = folder / f"{name}{ending}"
        note = f"{taken} is of another source; this one is written as {file.name}" if taken else ""
        if not file.exists():
            return Place(folder, name, note)
        data = _json_of(file)
        if hash_of(data) == source_hash:
            return Place(folder, name, note, kept=not may_replace(data))
        taken = file.name
    raise InputError(
        "both this name and the one with the source's hash are taken by other files", where=str(folder / stem)
    )


def _json_of(file: Path) -> Any:
    try:
        return json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None


def check_writable(folder: Path) -> None:
    """Make `folder` if it is not there; InputError where nothing can be written in it."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise InputError(f"cannot write in this folder ({error.strerror or error})", where=str(folder)) from None


def write(file: Path, text: str) -> None:
    """Write `text` to `file` so that it is there whole or not at all, and safe from a power cut once this returns.

    Raises:
        InputError: it cannot be written; what stood there before still stands.
    """
    try:
        write_whole(file, text.encode("utf-8"))
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror or error})", where=str(file)) from None
