"""Drafts into the practice's store as they come, by the one process that writes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from dictate.bulk.keeping import RECORD
from dictate.bulk.places import is_address
from dictate.errors import InputError
from dictate.exam.record import from_json

# (folder of the drafts, draft's stem, folder of the recordings, name of the first recording) -> what to tell, or ""
Keeper = Callable[[Path, str, str, str], str] | None


def keeper(url: str | None) -> Keeper:
    """The function that puts a written draft into the store at `url`; None without a store.

    The store itself sees to it that the same draft comes in once, and never over a reviewed one. InputError: no store.
    """
    if url is None:
        return None
    from dictate import store as stores

    store = stores.open_store(url)

    def put(out: Path, stem: str, folder: str, name: str) -> str:
        try:
            record = from_json((out / f"{stem}{RECORD}").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return "its draft is not there any more and was not put into the store"
        if record.status != "preliminary" or record.review or record.signature:
            return "was reviewed outside the store and was not put into it"
        # Of an exam that is a part of a recording, or lies in several, no one file is the sound.
        sound = None if is_address(folder) or record.source.notes else Path(folder) / name
        try:
            return stores.add_draft(store, record, sound=sound if sound and sound.is_file() else None).note
        except InputError as e:
            return str(e)

    return put
