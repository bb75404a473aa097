"""Drafts given as files come into a store, so that all reviewing goes one way; their recordings with them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dictate import store
from dictate.errors import InputError
from dictate.exam.record import Record, from_json
from dictate.sound import file_hash
from dictate.store import Store

FOLDER = "dictate-store"
ENDING = ".record.json"


def open_or_make(place: str | None, files: Sequence[Path]) -> Store:
    """The store at `place`; without one, the store beside the first draft, which is made where there is none yet."""
    if place is not None:
        return store.open_store(place)
    if not files:
        raise InputError("name drafts to review (NAME.record.json) or a store (--store PLACE)", where="dictate review")
    where = store.place_of(files[0].parent / FOLDER)
    there = where.database is not None and where.database.exists()
    return store.open_store(where) if there else store.make_store(where)


def take_in(into: Store, files: Sequence[Path]) -> tuple[str, tuple[str, ...]]:
    """Keep the drafts; the page to begin with, and what a user must be told. InputError names a file that is none."""
    drafts = [(file, _read(file)) for file in files]
    notes: list[str] = []
    visits: list[int] = []
    for file, draft in drafts:
        added = store.add_draft(into, draft, sound=_sound_of(file, draft))
        visits.append(added.visit.id)
        if added.note:
            notes.append(f"{file}: {added.note}")
    if len(visits) == 1:
        return f"/visits/{visits[0]}", tuple(notes)
    return ("/waiting" if visits else "/"), tuple(notes)


def _read(file: Path) -> Record:
    try:
        return from_json(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror or error})", where=str(file)) from None
    except ValueError:
        raise InputError(f"is no draft (NAME{ENDING}, as `dictate draft` writes it)", where=str(file)) from None


def _sound_of(file: Path, draft: Record) -> Path | None:
    """The recording that the draft was made from, if it lies beside the draft or one folder up."""
    if draft.source.kind != "sound" or Path(draft.source.name).name != draft.source.name:
        return None
    for folder in (file.parent, file.parent.parent):
        sound = folder / draft.source.name
        if sound.is_file() and file_hash(sound) == draft.source.sha256:
            return sound
    return None
