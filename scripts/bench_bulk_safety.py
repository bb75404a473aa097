"""What a conversion costs that has little to do, and what is left of one that is killed; parts of `bench_bulk.py`.

Both with cheap steps in place of hearing and reading (tests/bulk_cases.py): recognition is not the subject.
"""

from __future__ import annotations

import os
import random
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
TESTS = HERE.parent / "tests"
sys.path[:0] = [str(HERE), str(HERE.parent), str(TESTS)]

from bulk_cases import BELLA, content  # noqa: E402

from dictate.bulk.journal import Journal  # noqa: E402
from dictate.bulk.places import walk  # noqa: E402
from dictate.bulk.values import Drafted, Member, Outcome  # noqa: E402

CASES = [sys.executable, str(TESTS / "bulk_cases.py")]


def kills(work: Path, count: int) -> tuple[bool, int]:
    """Kill a conversion so often, then let it end: whether the drafts are those of an undisturbed one, and after how
    many of the kills there were more drafts than before (the others met it starting, or soon after).

    The moments are random, up to about twice the time to the first draft; there are so many files that the work
    outlasts all kills.
    """
    folder = work / "in"
    for i in range(20 * count):
        _write(folder / f"{i % 7}" / f"r{i:05}.ogg", f"Pet{i}. {BELLA}")
    _write(folder / "bad.ogg", "bad")
    _write(folder / "copy.ogg", f"Pet1. {BELLA}")
    subprocess.run([*CASES, str(folder), str(work / "calm"), "2"], check=True, env={**os.environ, "SLOW": "0"})
    rng = random.Random(1)
    within, start = 0, _start(folder, work / "trial")
    environment = {**os.environ, "SLOW": "0.1"}
    for _ in range(count):
        before = _drafts(work / "out")
        process = subprocess.Popen([*CASES, str(folder), str(work / "out"), "2"], env=environment)
        time.sleep(rng.uniform(0.1, 2.2) * start)
        process.send_signal(signal.SIGKILL)
        process.wait()
        within += _drafts(work / "out") > before
    subprocess.run([*CASES, str(folder), str(work / "out"), "2"], check=True, env={**os.environ, "SLOW": "0"})
    return content(work / "calm") == content(work / "out"), within


def _start(folder: Path, out: Path) -> float:
    """Seconds from the start of a conversion to its first draft."""
    begun = time.perf_counter()
    process = subprocess.Popen([*CASES, str(folder), str(out), "2"], env={**os.environ, "SLOW": "0.1"})
    while not _drafts(out):
        time.sleep(0.05)
    took = time.perf_counter() - begun
    process.send_signal(signal.SIGKILL)
    process.wait()
    return took


def _drafts(out: Path) -> int:
    return sum(1 for _ in out.rglob("*.record.json"))


def _write(file: Path, words: str) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(words, encoding="utf-8")


def restart(work: Path, *, done: int, new: int) -> tuple[float, float, float, float]:
    """(seconds of a run with `done` files done and none new, its peak memory in MB, seconds of a run that finds `new`
    short files beside them, its peak memory). The journal of the done ones is written here, with empty drafts."""
    folder, out = work / f"in-{done}", work / f"out-{done}"
    for i in range(done):
        _write(folder / f"{i // 1000:03}" / f"r{i:06}.ogg", f"{i}")
    out.mkdir(parents=True)
    journal = Journal(out)
    with journal.together():
        for i, found in enumerate(walk(str(folder))):
            sum_ = f"{i:064x}"
            journal.note_file(found, sum_, 60.0)
            stem = found.name.removesuffix(".ogg")
            journal.begin(sum_, stem, (Member(found.name, found.address, sum_, 60.0),))
            draft = Drafted(stem, "", "", "Bella", 1.0, 7, 2, "good")
            journal.finish(Outcome(sum_, (draft,), minutes=1.0, seconds=3.0, hearing=2.9), ("",))
            (out / stem).parent.mkdir(exist_ok=True)
            (out / f"{stem}.record.json").touch()
    journal.close()
    seconds, memory = _run(folder, out)
    for i in range(new):
        _write(folder / "new" / f"n{i:05}.ogg", f"Pet{i}. {BELLA}")
    new_seconds, new_memory = _run(folder, out)
    return seconds, memory, new_seconds, new_memory


def _run(folder: Path, out: Path) -> tuple[float, float]:
    """Seconds on the clock and peak memory in MB of the process that gives out the work."""
    begun = time.perf_counter()
    child = subprocess.Popen([*CASES, str(folder), str(out), "2"], env={**os.environ, "SLOW": "0"})
    most = 0.0
    while child.poll() is None:
        try:
            status = Path(f"/proc/{child.pid}/status").read_text()
        except OSError:
            break
        found = re.search(r"^VmHWM:\s+(\d+)", status, re.MULTILINE)
        most = max(most, int(found.group(1)) / 1024 if found else 0.0)
        time.sleep(0.02)
    if child.wait():
        raise SystemExit(f"the conversion ended with {child.returncode}")
    return time.perf_counter() - begun, most
