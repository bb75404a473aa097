"""Processes that end: the starting one at any moment, a worker over a file, all of them on Ctrl-C."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from bulk_cases import BELLA, ORDERS, content, folder_of, table

from dictate.bulk.engine import Processes
from dictate.bulk.journal import Journal
from dictate.bulk.keeping import sweep
from dictate.bulk.run import Conversion, Run

CASES = str(Path(__file__).with_name("bulk_cases.py"))


def started(folder: Path, out: Path, slow: str = "0.02") -> subprocess.Popen[bytes]:
    """A conversion in a process group of its own."""
    environment = {**os.environ, "SLOW": slow}
    return subprocess.Popen([sys.executable, CASES, str(folder), str(out)], env=environment, start_new_session=True)


def test_a_conversion_killed_again_and_again_ends_as_an_undisturbed_one(tmp_path: Path) -> None:
    """Kills at random moments lose nothing and leave nothing half: the drafts are the same but for times."""
    files = {f"{i % 3}/r{i:02}.ogg": f"Pet{i}. {BELLA}" for i in range(24)} | {
        "bad.ogg": "bad",
        "copy.wav": f"Pet1. {BELLA}",
    }
    folder = folder_of(tmp_path / "in", files)
    assert started(folder, tmp_path / "calm", slow="0").wait(120) == 0
    rng = random.Random(7)
    for _ in range(5):
        process = started(folder, tmp_path / "out")
        deadline = time.monotonic() + 60
        while not (tmp_path / "out").exists() and time.monotonic() < deadline:
            time.sleep(0.02)
        time.sleep(rng.uniform(0.0, 3.0))
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert started(folder, tmp_path / "out", slow="0").wait(120) == 0
    assert content(tmp_path / "out") == content(tmp_path / "calm")
    sweep(tmp_path / "out", older=0)
    assert [p.name for p in (tmp_path / "out").rglob(".*")] == [".conversion.sqlite"]


def test_what_a_killed_process_left_beside_the_journal_goes_with_the_next_one(tmp_path: Path) -> None:
    """A conversion that is killed after its last write leaves no file for good, though the next has nothing to do."""
    killed = """
import os, sys
from pathlib import Path
from dictate.bulk.journal import Journal
Journal(Path(sys.argv[1]))
os._exit(9)
"""
    assert subprocess.run([sys.executable, "-c", killed, str(tmp_path)]).returncode == 9
    Journal(tmp_path).close()
    assert [p.name for p in tmp_path.iterdir()] == [".conversion.sqlite"]


def test_a_file_over_which_the_program_ends_is_set_aside(tmp_path: Path) -> None:
    """Its process dies, twice when given alone; the others are drafted all the same."""
    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA, "b.ogg": "die", "c.ogg": f"Tess. {BELLA}"})
    run = Run(Conversion(str(folder), tmp_path / "out"), Processes(1, ORDERS), lambda: 1, lambda *_: None, None)
    progress = run.run()
    rows = {row["file"]: (row["status"], row["reason"]) for row in table(tmp_path / "out")}
    assert rows["b.ogg"][0] == "set aside"
    assert "came to an end" in rows["b.ogg"][1]
    assert {rows["a.ogg"][0], rows["c.ogg"][0]} == {"drafted"}
    assert progress.set_aside == 1


def test_workers_end_with_the_process_that_started_them(tmp_path: Path) -> None:
    """After a kill of the starting process no worker goes on for longer than a moment."""
    folder = folder_of(tmp_path / "in", {f"r{i}.ogg": f"Pet{i}. {BELLA}" for i in range(4)})
    process = started(folder, tmp_path / "out", slow="60")
    group = process.pid
    deadline = time.monotonic() + 60
    while len(_members(group)) < 2 and time.monotonic() < deadline:
        time.sleep(0.05)
    process.send_signal(signal.SIGKILL)
    process.wait()
    while _members(group) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert _members(group) == []


def _members(group: int) -> list[int]:
    """The processes of a group that are alive."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            fields = place.joinpath("stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[2]) == group and fields[0] != "Z":
            found.append(int(place.name))
    return found
