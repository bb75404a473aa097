"""The same conversion over a Dask cluster on loopback: a real scheduler, two workers, one of which is killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from bulk_cases import BELLA, ORDERS, content, converted, folder_of, table

from dictate.bulk.places import check_allowed, walk
from dictate.bulk.run import Conversion, Run
from dictate.errors import InputError

pytest.importorskip("distributed")
HERE = str(Path(__file__).parent)


@contextmanager
def cluster(folder: Path, workers: int = 2, **environment: str) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """The address of a scheduler, and its workers' processes."""
    settings = {**os.environ, "PYTHONPATH": HERE, **environment}
    place = folder / "scheduler.json"
    log = (folder / "cluster.log").open("ab")
    options = {"env": settings, "stderr": log, "stdout": log, "cwd": folder}
    dask = [sys.executable, "-m", "distributed.cli"]
    scheduler = subprocess.Popen(
        [*dask[:2], "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
         "--scheduler-file", str(place)], **options,
    )  # fmt: skip
    running = []
    try:
        deadline = time.monotonic() + 180
        while not place.exists() and scheduler.poll() is None and time.monotonic() < deadline:
            time.sleep(0.05)
        assert place.exists(), (folder / "cluster.log").read_text(errors="replace")[-2000:]
        for _ in range(workers):
            running.append(
                subprocess.Popen(
                    [*dask[:2], "distributed.cli.dask_worker", "--scheduler-file", str(place), "--nthreads", "1",
                     "--host", "127.0.0.1", "--no-dashboard", "--no-nanny"], **options,
                )
            )  # fmt: skip
        import json

        yield json.loads(place.read_text())["address"], running
    finally:
        for process in (*running, scheduler):
            process.kill()
            process.wait()
        log.close()


def over(address: str, folder: str, out: Path, *, killed: subprocess.Popen[bytes] | None = None) -> list[str]:
    """A conversion over the cluster; what was told of. After the first draft one worker is killed, if wanted."""
    from dictate.bulk.cluster import Cluster

    engine = Cluster(address, ORDERS)
    deadline = time.monotonic() + 60
    while engine.workers() < (2 if killed else 1) and time.monotonic() < deadline:
        time.sleep(0.05)
    events: list[str] = []

    def tell(what: str, values: dict[str, object], progress: object) -> None:
        if what == "progress":
            return
        events.append(f"{what} {values.get('file')}")
        if killed is not None and len(events) == 1:
            killed.send_signal(signal.SIGKILL)

    Run(Conversion(folder, out), engine, engine.workers, tell, None).run()
    return events


def test_a_dying_worker_costs_nothing(tmp_path: Path) -> None:
    """Its work is done again elsewhere, nothing is written twice, and the drafts are those of one machine."""
    folder = folder_of(tmp_path / "in", {f"r{i:02}.ogg": f"Pet{i}. {BELLA * 20}" for i in range(12)})
    converted(folder, tmp_path / "alone")
    with cluster(tmp_path, SLOW="0.3") as (address, workers):
        events = over(address, str(folder), tmp_path / "out", killed=workers[0])
    assert len(events) == len(set(events)) == 12
    assert content(tmp_path / "out") == content(tmp_path / "alone")


def test_files_are_read_by_their_fsspec_address(tmp_path: Path) -> None:
    """An address gives the drafts that the folder gives, over the cluster too."""
    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA, "sub/b.ogg": f"Tess. {BELLA}", "c.ogg": "bad"})
    converted(folder, tmp_path / "one")
    converted(f"file://{folder}", tmp_path / "two")
    assert content(tmp_path / "two") == content(tmp_path / "one")
    with cluster(tmp_path, workers=1) as (address, _):
        over(address, f"file://{folder}", tmp_path / "three")
    assert content(tmp_path / "three") == content(tmp_path / "one")


def test_an_address_elsewhere_must_be_allowed_by_name() -> None:
    """Nothing leaves the machine, nor comes from another one, that was not allowed."""
    for address in ("tcp://127.0.0.1:8786", "tls://localhost:8786", "file:///share/exams", "memory://exams"):
        check_allowed(address, ())
    for address, host in (
        ("tcp://10.0.0.5:8786", "10.0.0.5"),
        ("s3://exams/2024", "exams"),
        ("http://x.org/a", "x.org"),
    ):
        with pytest.raises(InputError, match=f"--allow {host}"):
            check_allowed(address, ())
        check_allowed(address, (host,))


def test_what_cannot_be_reached_is_told_in_one_line(tmp_path: Path) -> None:
    """No scheduler, no such folder, no such kind of address: an InputError each."""
    from dictate.bulk import cluster as module

    before, module._WAIT = module._WAIT, 0.5
    try:
        with pytest.raises(InputError, match="no Dask scheduler"):
            module.Cluster("tcp://127.0.0.1:9", ORDERS)
    finally:
        module._WAIT = before
    with pytest.raises(InputError, match="no such folder"):
        list(walk(f"file://{tmp_path}/nowhere"))
    with pytest.raises(InputError, match="cannot be opened"):
        list(walk("nonsense://x"))
    assert not table_exists(tmp_path)


def table_exists(out: Path) -> bool:
    """Whether anything was written."""
    return (out / "drafts.csv").exists() and bool(table(out))
