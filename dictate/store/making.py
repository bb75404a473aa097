"""Making a store, opening one, and bringing an older one to the present form of its tables."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from dictate.errors import InputError
from dictate.speech.files import private_folder
from dictate.store.opening import Store, engine_for, is_encrypted, is_there, key_of, told
from dictate.store.place import Place, place_of


@dataclass(frozen=True, slots=True)
class Upgraded:
    """The forms of the tables before and after; the same where there was nothing to do."""

    before: str
    after: str


def make_store(place: str | Path | Place, *, key: Path | None = None, form: str = "head") -> Store:
    """A new, empty store. With a key file the database and the sound are encrypted (see `dictate.store.keys`).
    `form` is an older form of the tables, for a backup of that time.

    Raises:
        InputError: there is a store already, or it cannot be written.
    """
    where = place if isinstance(place, Place) else place_of(place, key=key)
    secret = key_of(where)
    engine = engine_for(where, secret)
    try:
        if is_there(where, engine):
            raise InputError("there is a store already", where=str(where))
        _make_folders(where)
        with told(where), engine.connect() as connection:
            _migrate(connection, form)
    except BaseException:
        engine.dispose()
        raise
    return Store(where, engine, secret)


def open_store(place: str | Path | Place, *, key: Path | None = None) -> Store:
    """An existing store.

    Raises:
        InputError: there is none, its tables have another form, the key is wrong, or it cannot promise to sync.
    """
    store = _opened(place, key)
    try:
        found, wanted = form(store), newest_form()
        if found != wanted:
            older = found in {"", *_forms()}
            what = "is of an older version: run `dictate store upgrade`" if older else "was made by a newer version"
            raise InputError(f"{what} (form {found or 'none'}, this version's is {wanted})", where=str(store.place))
    except BaseException:
        store.close()
        raise
    return store


def upgrade_store(place: str | Path | Place, *, key: Path | None = None) -> Upgraded:
    """Bring the tables to the present form: all steps in one transaction, or none of them."""
    with _opened(place, key) as store:
        before = form(store)
        if before not in {"", *_forms()}:
            raise InputError(f"was made by a newer version (form {before})", where=str(store.place))
        with told(store.place), store.engine.connect() as connection:
            _migrate(connection)
        return Upgraded(before, form(store))


def form(store: Store) -> str:
    """The form of the store's tables: the last migration that ran; "" where none did."""
    with store.reading() as connection:
        return MigrationContext.configure(connection).get_current_revision() or ""


def newest_form() -> str:
    return ScriptDirectory.from_config(_config()).get_current_head() or ""


def _forms() -> set[str]:
    return {step.revision for step in ScriptDirectory.from_config(_config()).walk_revisions()}


def _opened(place: str | Path | Place, key: Path | None) -> Store:
    where = place if isinstance(place, Place) else place_of(place, key=key)
    if where.database is not None:
        if not where.database.is_file():
            raise InputError("there is no store here; `dictate store make` makes one", where=str(where))
        if is_encrypted(where.database) and where.key is None:
            raise InputError("the store is encrypted; name its key file with --key", where=str(where))
        if not is_encrypted(where.database) and where.key is not None:
            raise InputError("the store is not encrypted; leave the key file out", where=str(where))
    secret = key_of(where)
    engine = engine_for(where, secret)
    try:
        if not is_there(where, engine):
            raise InputError("there is no store in this database; `dictate store make` makes one", where=str(where))
    except BaseException:
        engine.dispose()
        raise
    return Store(where, engine, secret)


def _make_folders(place: Place) -> None:
    try:
        private_folder(place.sound)
        if place.database is not None:
            place.database.touch(mode=0o600)
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror})", where=str(place)) from None


def _migrate(connection: Connection, form: str = "head") -> None:
    with connection.begin():
        config = _config()
        config.attributes["connection"] = connection
        command.upgrade(config, form)


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    return config
