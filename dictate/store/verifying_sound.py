"""The kept sound, file by file: there, and still the sound of its hash."""

from __future__ import annotations

from sqlalchemy import Connection, select

from dictate.errors import InputError
from dictate.store.erasing import erased_sounds
from dictate.store.opening import Store
from dictate.store.sounds import hash_of_kept, kept_hashes
from dictate.store.tables import recordings
from dictate.store.verifying_rows import Fault


def check_sound(store: Store, connection: Connection) -> tuple[list[Fault], int]:
    """Every recording that is said to be kept, and every file that lies there; the faults, and how many were hashed."""
    faults: list[Fault] = []
    erased = erased_sounds(connection)
    kept = {row.sha256: row for row in connection.execute(select(recordings).where(recordings.c.kept == 1))}
    for sha256, row in kept.items():
        if sha256 not in erased:
            faults += _check(store, sha256, f"sound {sha256[:16]} (visit {row.visit_id}, {row.name})")
    for name in kept_hashes(store):
        if name in erased:
            faults.append(
                Fault(f"sound {name[:16]}", "was erased, and its file is here; `dictate store retention --apply`")
            )
        elif name not in kept:
            faults.append(Fault(f"sound {name[:16]}", "no recording names this file"))
    return faults, sum(sha256 not in erased for sha256 in kept)


def _check(store: Store, sha256: str, where: str) -> list[Fault]:
    try:
        found = hash_of_kept(store, sha256)
    except (InputError, OSError) as error:
        return [Fault(where, error.what if isinstance(error, InputError) else f"cannot be read ({error.strerror})")]
    if not found:
        return [Fault(where, "missing")]
    return [] if found == sha256 else [Fault(where, "changed: another sound lies under its hash")]
