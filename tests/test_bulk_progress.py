"""What a person and a program are told while a conversion goes on, watching, and a clean end."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from bulk_cases import BELLA, ORDERS, REX, Inline, content, converted, folder_of, table

from dictate.bulk import run as module
from dictate.bulk.machine import Arrangement, arrangement
from dictate.bulk.progress import Progress, duration, line, summary
from dictate.bulk.run import Conversion, Run
from dictate.store import make_store, open_store

DICTATE = [sys.executable, "-c", "import sys; from dictate.cli import main; sys.exit(main())"]


def test_figures_of_the_progress_follow_from_each_other() -> None:
    """Speed is sound over clock, the time left is the sound left at that speed; before anything is done none."""
    half = Progress(files=10, files_done=5, set_aside=1, minutes=30, minutes_left=60, seconds=600)
    assert half.speed == pytest.approx(3.0)
    assert half.seconds_left == pytest.approx(1200)
    assert line(half) == "5 of 10 files, 30.0 minutes of sound, 3.0 times real time, about 20 min left, 1 set aside"
    assert Progress().speed is None
    assert Progress().seconds_left is None
    assert "3 were done before" in summary(half, done_before=3)
    assert [duration(s) for s in (45, 720, 11100)] == ["45 s", "12 min", "3 h 05 min"]


def test_progress_only_grows_and_ends_at_all_files(tmp_path: Path) -> None:
    """Files and minutes done never fall, and at the end nothing is left."""
    folder = folder_of(tmp_path / "in", {f"r{i}.ogg": f"Pet{i}. {BELLA}" for i in range(20)} | {"bad.ogg": "bad"})
    seen: list[Progress] = []
    engine = Inline()
    Run(Conversion(str(folder), tmp_path / "out"), engine, lambda: 1, lambda w, v, p: seen.append(p), None).run()
    assert [p.files_done for p in seen] == sorted(p.files_done for p in seen)
    assert [p.minutes for p in seen] == sorted(p.minutes for p in seen)
    assert (seen[-1].files_done, seen[-1].files, seen[-1].set_aside, seen[-1].drafts) == (21, 21, 1, 20)
    assert seen[-1].minutes_left == pytest.approx(0, abs=0.01)


def test_watching_takes_files_as_they_arrive_and_leaves_growing_ones(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that was changed a moment ago waits; a new one that rests is drafted by the next look."""
    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA, "growing.ogg": REX})
    os.utime(folder / "a.ogg", (1, 1))
    looks = 0

    def sleep(seconds: float) -> None:
        nonlocal looks
        if seconds < 1:  # the cheap listener's
            return
        looks += 1
        if looks == 1:
            folder_of(folder, {"b.ogg": f"Tess. {BELLA}"})
            os.utime(folder / "b.ogg", (1, 1))
        if looks == 3:
            raise KeyboardInterrupt

    monkeypatch.setattr(module.time, "sleep", sleep)
    with pytest.raises(KeyboardInterrupt):
        converted(folder, tmp_path / "out", watch=True)
    assert {row["file"]: row["status"] for row in table(tmp_path / "out")} == {"a.ogg": "drafted", "b.ogg": "drafted"}


def test_a_stop_leaves_a_table_and_the_rest_for_the_next_run(tmp_path: Path) -> None:
    """Ctrl-C in the middle keeps what was drafted; the next run does the rest and ends as an undisturbed one."""
    folder = folder_of(tmp_path / "in", {f"r{i:02}.ogg": f"Pet{i}. {BELLA}" for i in range(40)})
    converted(folder, tmp_path / "calm")

    def stop(what: str, values: dict[str, object], progress: Progress) -> None:
        if progress.drafts == 20 and what == "drafted":
            raise KeyboardInterrupt

    run = Run(Conversion(str(folder), tmp_path / "out"), Inline(), lambda: 1, stop, None)
    with pytest.raises(KeyboardInterrupt):
        run.run()
    statuses = [row["status"] for row in table(tmp_path / "out")]
    assert statuses.count("drafted") == 20
    _, engine = converted(folder, tmp_path / "out")
    assert len(engine.worked) == 20
    assert content(tmp_path / "out") == content(tmp_path / "calm")


def test_drafts_go_into_the_store_once(tmp_path: Path) -> None:
    """Each draft comes in once, also those that were drafted before a store was named."""
    from dictate.bulk.storing import keeper

    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA, "b.ogg": BELLA + REX})
    make_store(tmp_path / "store").close()
    out = tmp_path / "out"
    converted(folder, out)
    for _ in range(2):
        Run(
            Conversion(str(folder), out), Inline(ORDERS), lambda: 1, lambda *_: None, keeper(str(tmp_path / "store"))
        ).run()
    with open_store(tmp_path / "store") as store, store.reading() as connection:
        from dictate.store.tables import drafts

        assert len(connection.execute(drafts.select()).all()) == 3


@pytest.mark.parametrize(
    ("cores", "memory", "card", "wanted"),
    [
        (2, 16e9, False, Arrangement(2, 1)),
        (8, 3e9, False, Arrangement(2, 4)),
        (16, 64e9, True, Arrangement(4, 1)),
        (1, 0.5e9, False, Arrangement(1, 1)),
    ],
)
def test_processes_follow_from_cores_memory_and_card(
    cores: int, memory: float, card: bool, wanted: Arrangement
) -> None:
    """A process for each core that the memory has room for; a card is shared by a few."""
    assert arrangement(cores=cores, memory=memory, card=card) == wanted


def test_the_command_tells_machines_and_people(tmp_path: Path) -> None:
    """A file that is no sound: lines of JSON on the output, the reason and a summary on the error stream, status 1."""
    folder = folder_of(tmp_path / "in", {"a.ogg": "this is no sound"})
    command = [*DICTATE, "convert", str(folder), "--out", str(tmp_path / "out"), "--json", "--processes", "1"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300)
    events = [json.loads(text) for text in done.stdout.splitlines()]
    assert done.returncode == 1
    assert events[-1]["event"] == "summary"
    assert (events[-1]["files_done"], events[-1]["set_aside"], events[-1]["stopped"]) == (1, 1, False)
    assert {"event": "set aside", "file": "a.ogg"}.items() <= next(
        e for e in events if e["event"] != "progress"
    ).items()
    assert "cannot be read as sound" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_stopped_command_ends_cleanly(tmp_path: Path, number: int) -> None:
    """Watching an empty folder, stopped from outside: a summary, status 130, no traceback, a table."""
    (tmp_path / "in").mkdir()
    command = [*DICTATE, "convert", str(tmp_path / "in"), "--out", str(tmp_path / "out"), "--watch"]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    deadline = time.monotonic() + 60
    while not (tmp_path / "out" / ".conversion.sqlite").exists() and time.monotonic() < deadline:
        time.sleep(0.05)
    time.sleep(0.5)
    process.send_signal(number)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "stopped; 0 of 0 files" in said
    assert "Traceback" not in said
    assert (tmp_path / "out" / "drafts.csv").exists()
