"""Where a store is: a folder with an SQLite database and the sound, or a PostgreSQL database and a folder of sound."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from dictate.errors import InputError

DATABASE = "store.db"
SOUND = "sound"
KEY_VARIABLE = "DICTATE_STORE_KEY"


@dataclass(frozen=True, slots=True)
class Place:
    """`url` for SQLAlchemy; `sound` holds the recordings; `key` is the key file of an encrypted store, or None."""

    url: URL
    sound: Path
    key: Path | None = None

    @property
    def database(self) -> Path | None:
        """The file of an SQLite store; None for a server's."""
        return Path(self.url.database) if self.is_file and self.url.database else None

    @property
    def is_file(self) -> bool:
        return self.url.get_backend_name() == "sqlite"

    def __str__(self) -> str:
        """For messages: without a password."""
        return str(self.database.parent) if self.database else self.url.render_as_string(hide_password=True)


def place_of(text: str | Path, *, key: Path | None = None) -> Place:
    """The place that a text names: a folder, `sqlite:///FOLDER`, or `postgresql://USER@HOST/DATABASE?sound=FOLDER`.

    The key file is the one given, else the one that `$DICTATE_STORE_KEY` names, else none.

    Raises:
        InputError: the text names no such place.
    """
    if key is None and (named := os.environ.get(KEY_VARIABLE)):
        key = Path(named)
    if "://" not in str(text):
        folder = Path(text).expanduser()
        return _folder(folder, key)
    try:
        url = make_url(str(text))
    except (ArgumentError, ValueError):
        raise InputError("is no folder and no database URL", where=str(text).split("@")[-1]) from None
    backend = url.get_backend_name()
    if backend == "sqlite" and url.database:
        return _folder(Path(url.database), key)
    if backend != "postgresql":
        raise InputError("name a folder, or a postgresql:// URL", where=url.render_as_string(hide_password=True))
    query = dict(url.query)
    sound = query.pop("sound", None)
    if not isinstance(sound, str) or not sound:
        raise InputError(
            "say where the sound is kept: add ?sound=/a/folder to the URL",
            where=url.render_as_string(hide_password=True),
        )
    return Place(url.set(drivername="postgresql+psycopg", query=query), Path(sound), key)


def _folder(folder: Path, key: Path | None) -> Place:
    return Place(URL.create("sqlite", database=str(folder / DATABASE)), folder / SOUND, key)
