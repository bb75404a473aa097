"""How fast a folder is converted beside plain faster-whisper, and how good the records are: for `bench_bulk.py`."""

from __future__ import annotations

import csv
import json
import os
import re
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from parts import part_of  # noqa: E402
from score_spoken import sound_file  # noqa: E402
from scoring import Synonyms, score_one  # noqa: E402
from voices import HELD_VOICES, RATE, VOICES, missing  # noqa: E402

NARRATIONS = HERE.parent / "tests" / "narrations"
DICTATE = [sys.executable, "-c", "import sys; from dictate.cli import main; sys.exit(main())"]
PLAIN = """
import sys
from faster_whisper import WhisperModel
model = WhisperModel(sys.argv[1], device="cpu", compute_type="int8", cpu_threads=int(sys.argv[2]))
for file in sys.argv[3:]:
    segments, _ = model.transcribe(file, language="en")
    print(sum(len(s.text) for s in segments))
"""


@dataclass(frozen=True, slots=True)
class Taken:
    """What a command took: seconds on the clock, seconds of processors, and the most memory that all its processes
    held together, in MB."""

    seconds: float
    processor: float
    memory: float


def narrations(minutes: float, folder: Path, *, part: str) -> dict[Path, dict]:
    """Narrations of a part, spoken by the held voices in turn, each a file; as many as make so many minutes, and at
    least 30 for an hour. Nothing of a narration is printed."""
    from dictate.sound import decode

    voices = [v for v in (HELD_VOICES if part == "held" else VOICES) if not missing(v)]
    folder.mkdir(parents=True, exist_ok=True)
    found: dict[Path, dict] = {}
    seconds = 0.0
    for i, file in enumerate(sorted(f for f in NARRATIONS.glob("*.json") if part_of(f.stem) == part)):
        if seconds >= minutes * 60 and len(found) >= minutes / 2:
            break
        truth = {"id": file.stem, **json.loads(file.read_text(encoding="utf-8"))}
        path = _spoken(truth, voices, i, folder)
        found[path] = truth
        seconds += len(decode(path).samples) / RATE
    return found


def _spoken(truth: dict, voices: Sequence[str], turn: int, folder: Path) -> Path:
    """The narration spoken by the voice whose turn it is, or by the next one where its engine hangs."""
    for place in range(len(voices)):
        try:
            return sound_file(truth, voices[(turn + place) % len(voices)], None, folder)
        except subprocess.TimeoutExpired:
            continue
    raise SystemExit("no voice speaks this narration")


def timed(command: Sequence[str], *, cores: int, environment: dict[str, str]) -> Taken:
    """Run a command on the first `cores` processors this process may use, and all that it starts."""
    places = sorted(os.sched_getaffinity(0))[:cores]
    begun = time.perf_counter()
    child = subprocess.Popen(
        command,
        env={**os.environ, **environment},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
        preexec_fn=lambda: os.sched_setaffinity(0, places),
    )
    most = [0.0]
    watcher = threading.Thread(target=_watch, args=(child, most), daemon=True)
    watcher.start()
    said = child.stderr.read() if child.stderr else b""
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode not in (0, 1):
        raise SystemExit(
            f"{' '.join(command[:4])} ended with {child.returncode}: {said.decode(errors='replace')[-800:]}"
        )
    return Taken(time.perf_counter() - begun, used.ru_utime + used.ru_stime, most[0])


def _watch(child: subprocess.Popen[bytes], most: list[float]) -> None:
    while child.returncode is None:
        most[0] = max(most[0], group_memory(child.pid))
        time.sleep(0.5)


def group_memory(group: int) -> float:
    """The memory in MB that the processes of a group hold, what they share counted once (proportional set size)."""
    total = 0
    for place in Path("/proc").glob("[0-9]*"):
        try:
            if int(place.joinpath("stat").read_text().rpartition(")")[2].split()[2]) == group:
                found = re.search(r"^Pss:\s+(\d+)", place.joinpath("smaps_rollup").read_text(), re.MULTILINE)
                total += int(found.group(1)) if found else 0
        except (OSError, IndexError):
            continue
    return total / 1024


def converted(folder: Path, out: Path, cache: Path, *, cores: int, options: Sequence[str] = ()) -> Taken:
    """`dictate convert` over a folder."""
    command = [*DICTATE, "convert", str(folder), "--out", str(out), *options]
    return timed(command, cores=cores, environment={"DICTATE_CACHE": str(cache)})


def figures(out: Path, truths: dict[Path, dict]) -> Counter:
    """The figures of `scoring.py` for the drafts of a folder; a recording without a draft has lost all its facts."""
    total: Counter = Counter()
    for path, truth in truths.items():
        drafts = sorted(out.glob(f"{path.stem}.record.json")) or sorted(out.glob(f"{path.stem}.[0-9].record.json"))
        record = json.loads(drafts[0].read_text(encoding="utf-8")) if drafts else {}
        for more in drafts[1:]:  # a recording that was cut in error counts with all its parts
            record["observations"] += json.loads(more.read_text(encoding="utf-8"))["observations"]
        total += score_one(truth, record, Synonyms(None), lambda *_: None)
    return total


def shares(out: Path) -> tuple[float, float]:
    """Seconds of all workers that went into hearing, and into everything after it."""
    with sqlite3.connect(out / ".conversion.sqlite") as journal:
        hearing, seconds = journal.execute("SELECT SUM(hearing), SUM(seconds) FROM tasks").fetchone()
    return hearing, seconds - hearing


def decoding(files: Sequence[Path]) -> float:
    """Seconds of one processor that decoding these files takes."""
    from dictate.sound import decode

    begun = time.process_time()
    for file in files:
        decode(file)
    return time.process_time() - begun


def lines(out: Path) -> list[dict[str, str]]:
    """The lines of the table."""
    with (out / "drafts.csv").open(encoding="utf-8", newline="") as f:
        return list(csv.DictReader(f))


def on_cluster(folder: Path, out: Path, cache: Path, work: Path, *, workers: int) -> float:
    """Seconds of a conversion over a Dask cluster on loopback, each worker on a core of its own; the workers' start is
    not counted, loading their models is."""
    settings = {**os.environ, "DICTATE_CACHE": str(cache), "OMP_NUM_THREADS": "1"}
    quiet = {"env": settings, "stderr": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "cwd": work}
    place = work / f"scheduler-{workers}.json"
    module = [sys.executable, "-m", "distributed.cli.dask_scheduler"]
    scheduler = subprocess.Popen(
        [*module, "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", str(place)], **quiet
    )
    running: list[subprocess.Popen[bytes]] = []
    try:
        while not place.exists():
            time.sleep(0.1)
        cores = sorted(os.sched_getaffinity(0))
        module = [sys.executable, "-m", "distributed.cli.dask_worker"]
        own = ["--scheduler-file", str(place), "--nthreads", "1", "--no-nanny", "--no-dashboard"]
        for i in range(workers):
            pinned = ["taskset", "--cpu-list", str(cores[i % len(cores)])]
            running.append(subprocess.Popen([*pinned, *module, *own], **quiet))
        address = json.loads(place.read_text())["address"]
        _wait_for(address, workers)
        command = [*DICTATE, "convert", str(folder), "--out", str(out), "--cluster", address]
        begun = time.perf_counter()
        ended = subprocess.run(command, env=settings, capture_output=True, text=True)
        if ended.returncode:
            raise SystemExit(f"the conversion over a cluster ended with {ended.returncode}: {ended.stderr[-800:]}")
        return time.perf_counter() - begun
    finally:
        for process in (*running, scheduler):
            process.send_signal(signal.SIGKILL)
            process.wait()


def _wait_for(address: str, workers: int) -> None:
    from distributed import Client

    with Client(address) as client:
        client.wait_for_workers(workers, timeout=120)
