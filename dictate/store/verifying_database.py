"""The database itself: its file, and the triggers that refuse changes."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import Connection, text
from sqlalchemy.exc import DBAPIError

from dictate.store.opening import plain
from dictate.store.tables import APPEND_ONLY
from dictate.store.triggers import REFUSE, REFUSE_UNTRACED, postgresql_triggers, sqlite_triggers
from dictate.store.verifying_rows import Fault

TRIGGERS = text("SELECT tgname, tgenabled FROM pg_trigger WHERE NOT tgisinternal")
FUNCTIONS = text("SELECT proname, prosrc FROM pg_proc WHERE proname IN ('refuse_change', 'refuse_untraced')")


def check_database(connection: Connection) -> Iterator[Fault]:
    """Faults of the file, and triggers that are missing, changed or switched off."""
    names = [table.name for table in APPEND_ONLY]
    try:
        if connection.dialect.name == "sqlite":
            yield from _file(connection)
            wanted = sqlite_triggers(names)
            found: dict[str, str] = dict(
                connection.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").all()
            )
            for name in wanted:
                if found.get(name) != wanted[name]:
                    yield Fault(f"trigger {name}", "changed" if name in found else "missing")
            for name in found.keys() - wanted.keys():
                yield Fault(f"trigger {name}", "added from outside")
        else:
            enabled: dict[str, str] = dict(connection.execute(TRIGGERS).tuples().all())
            for name in postgresql_triggers(names):
                if _text(enabled.get(name, "")) not in ("O", "A"):
                    yield Fault(f"trigger {name}", "switched off" if name in enabled else "missing")
            bodies: dict[str, str] = dict(connection.execute(FUNCTIONS).tuples().all())
            for name, made in (("refuse_change", REFUSE), ("refuse_untraced", REFUSE_UNTRACED)):
                if bodies.get(name) != made.split("$$")[1]:
                    yield Fault(f"function {name} of the triggers", "changed" if name in bodies else "missing")
    except DBAPIError as error:
        yield Fault("database", f"cannot be read ({plain(error)})")


def _file(connection: Connection) -> Iterator[Fault]:
    for (line,) in connection.exec_driver_sql("PRAGMA integrity_check(20)"):
        if line != "ok":
            yield Fault("database file", " ".join(str(line).split()))


def _text(value: str | bytes) -> str:
    return value.decode() if isinstance(value, bytes) else value
