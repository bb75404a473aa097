"""`dictate convert`: a folder of recordings becomes drafts and a table of them, unattended."""

from __future__ import annotations

import json
import signal
import sys
import time
from argparse import Namespace
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

from dictate.cli import DONE, SOME_FAILED, STOPPED, say
from dictate.cli.batch import quiet

_EVERY = 60.0  # seconds between two lines of progress where the error stream is no terminal


def run(options: Namespace) -> int:
    """Convert the folder; the exit status: 1 where a file was set aside, 130 where it was stopped."""
    from dictate.bulk.places import check_allowed, is_address
    from dictate.bulk.progress import line, summary
    from dictate.bulk.run import Conversion, Run, check_places, words_of_parts
    from dictate.bulk.storing import keeper
    from dictate.bulk.values import Orders
    from dictate.lexicon import load

    quiet()
    if is_address(options.folder):
        check_allowed(options.folder, tuple(options.allow))
    if options.cluster:
        check_allowed(options.cluster, tuple(options.allow))
    check_places(options.folder, options.out)
    lexicon = load(options.lexicon)
    put = keeper(options.store)
    orders = Orders(way=options.way, model=options.model, plain=options.plain, lexicon=options.lexicon)
    conversion = Conversion(
        folder=options.folder,
        out=options.out,
        parts=words_of_parts(lexicon.part_words) if options.join else None,
        watch=options.watch,
    )
    with _stopping():
        engine, workers = engine_for(options, orders)
        with told_as(json_lines=options.json, line=line) as tell:
            this = Run(conversion, engine, workers, tell, put)
            try:
                progress, stopped = this.run(), False
            except KeyboardInterrupt:
                progress, stopped = this.progress, True
    if options.json:
        _print({"event": "summary", "stopped": stopped, "done_before": this.done_before, **progress.as_json()})
    say(f"dictate: {'stopped; ' if stopped else ''}{summary(progress, done_before=this.done_before)}")
    say(f"dictate: the table is {options.out / 'drafts.csv'}")
    return STOPPED if stopped else SOME_FAILED if progress.set_aside else DONE


def engine_for(options: Namespace, orders: Any) -> tuple[Any, Callable[[], int]]:
    """The engine that does the work, and how many workers it has."""
    from dataclasses import replace

    if options.cluster:
        from dictate.bulk.cluster import Cluster

        cluster = Cluster(options.cluster, orders)
        return cluster, cluster.workers
    from dictate.bulk.engine import Processes
    from dictate.bulk.machine import this_machine

    suits = this_machine(options.processes)
    return Processes(suits.processes, replace(orders, threads=suits.threads)), lambda: suits.processes


@contextmanager
def _stopping() -> Iterator[None]:
    """A request to end (SIGTERM) is taken as Ctrl-C is."""

    def stop(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


@contextmanager
def told_as(*, json_lines: bool, line: Callable[[Any], str]) -> Iterator[Callable[..., None]]:
    """The function that tells what happens: lines of JSON, a line that is renewed on a terminal, or a line a minute."""
    on_terminal = sys.stderr.isatty()
    last = 0.0
    status = None
    if on_terminal and not json_lines:
        from rich.console import Console

        status = Console(stderr=True).status("looking through the folder")
        status.start()

    def tell(what: str, values: dict[str, object], progress: Any) -> None:
        nonlocal last
        if what in ("set aside", "note"):
            where = values.get("file", "")
            say(f"dictate: {where}: {values.get('reason') or values.get('note')}")
        if json_lines:
            now = time.monotonic()
            if what != "progress" or now - last >= 1.0 or progress.files_done == progress.files:
                last = now
                _print({"event": what, **values, **(progress.as_json() if what == "progress" else {})})
        elif status is not None:
            status.update(line(progress))
        elif time.monotonic() - last >= _EVERY and progress.minutes:
            last = time.monotonic()
            say(f"dictate: {line(progress)}")

    try:
        yield tell
    finally:
        if status is not None:
            status.stop()


def _print(value: dict[str, object]) -> None:
    print(json.dumps(value, ensure_ascii=False), flush=True)
