"""Who does the work: processes of this machine. A cluster's workers do the same (`cluster.py`).

An engine takes batches of tasks and gives them back with their outcomes, or with the news that the process
which had them came to an end. It never writes anything.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import signal
import sys
import threading
import time
from collections.abc import Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Protocol

from dictate.bulk.values import Orders, Outcome, Task
from dictate.bulk.work import work
from dictate.errors import InputError

Batch = tuple[Task, ...]


@dataclass(frozen=True, slots=True)
class Done:
    """A batch that came back. `outcomes` is None where its process ended before it was through, `fault` says more."""

    batch: Batch
    outcomes: tuple[Outcome, ...] | None
    fault: str = ""


class Engine(Protocol):
    """What the run needs of whoever does the work."""

    def room(self) -> int:
        """How many more batches it takes now without one of its workers running dry or too much being queued."""
        ...

    def submit(self, batch: Batch) -> None: ...

    def busy(self) -> int:
        """How many batches it has."""
        ...

    def finished(self, seconds: float) -> Sequence[Done]:
        """What came back, waiting so long at most."""
        ...

    def close(self) -> None:
        """End all work at once."""
        ...


class Processes:
    """Processes of this machine, each with a queue of its own, so that one that ends takes no other's work with it."""

    def __init__(self, count: int, orders: Orders) -> None:
        self._orders = orders
        self._pools: list[ProcessPoolExecutor | None] = [None] * count
        self._held: dict[Future[tuple[Outcome, ...]], tuple[int, Batch]] = {}

    def _load(self, place: int) -> int:
        return sum(1 for at, _ in self._held.values() if at == place)

    def room(self) -> int:
        # One in work and one behind it: the next begins at once, and a kill loses little.
        return 2 * len(self._pools) - len(self._held)

    def busy(self) -> int:
        return len(self._held)

    def submit(self, batch: Batch) -> None:
        place = min(range(len(self._pools)), key=self._load)
        pool = self._pools[place]
        if pool is None:
            pool = self._pools[place] = ProcessPoolExecutor(
                max_workers=1, mp_context=get_context("spawn"), initializer=_begin, initargs=(os.getpid(),)
            )
        try:
            future = pool.submit(work, batch, self._orders)
        except BrokenProcessPool:  # it ended while it had nothing to do
            self._pools[place] = None
            self.submit(batch)
            return
        self._held[future] = (place, batch)

    def finished(self, seconds: float) -> Sequence[Done]:
        ended, _ = wait(self._held, timeout=seconds, return_when=FIRST_COMPLETED)
        result = []
        for future in ended:
            place, batch = self._held.pop(future)
            try:
                result.append(Done(batch, future.result()))
            except BrokenProcessPool:
                self._pools[place] = None
                result.append(Done(batch, None))
            except InputError:
                raise
            except Exception as e:
                told = " ".join(str(e).split())[:200]
                result.append(Done(batch, None, f"a fault of the program ({type(e).__name__}: {told})"))
        return result

    def close(self) -> None:
        for pool in self._pools:
            if pool is None:
                continue
            processes = list((pool._processes or {}).values())
            pool.shutdown(wait=False, cancel_futures=True)
            for process in processes:
                with contextlib.suppress(OSError, ValueError):
                    process.kill()
        self._pools = [None] * len(self._pools)
        self._held.clear()


def _begin(parent: int) -> None:
    """Set a process up: Ctrl-C is the starting process's affair, and when that one ends, however, so does this."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    import warnings

    if os.environ.get("DICTATE_DEBUG") != "1":
        warnings.simplefilter("ignore")
    if sys.platform == "linux":
        with contextlib.suppress(OSError, AttributeError):
            ctypes.CDLL(None).prctl(1, signal.SIGKILL)  # PR_SET_PDEATHSIG (Linux, prctl(2))
    threading.Thread(target=_watch, args=(parent,), daemon=True).start()


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(0.5)
    os._exit(1)
