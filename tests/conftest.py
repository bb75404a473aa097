"""Fixtures that several files share: a PostgreSQL server for the whole run, and a store of each kind."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# How long an example takes is the machine's affair and no law of the program.
settings.register_profile("dictate", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("dictate")


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """The URL of a PostgreSQL server that is started for this run; skipped with the reason where there is none."""
    from store_cases import postgresql

    with tempfile.TemporaryDirectory(prefix="dictate-postgresql-") as folder:
        started = postgresql(Path(folder))
        try:
            url = started.__enter__()
        except LookupError as reason:
            pytest.skip(str(reason))
        yield url
        started.__exit__(None, None, None)


@pytest.fixture(params=["file", "encrypted", "server"])
def any_store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[object]:
    """A new store of each kind: an SQLite file, an encrypted one, a PostgreSQL server."""
    from store_cases import made

    server = request.getfixturevalue("server") if request.param == "server" else ""
    with made(request.param, tmp_path, server) as store:
        yield store


@pytest.fixture
def file_store(tmp_path: Path) -> Iterator[object]:
    """A new store in a folder."""
    from store_cases import made

    with made("file", tmp_path) as store:
        yield store
