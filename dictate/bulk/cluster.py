"""The same work done by a Dask cluster's workers (https://distributed.dask.org): Dask gives work out and does again
elsewhere what a dying worker had; this process alone writes, so nothing is written twice."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from dictate.bulk.engine import Batch, Done
from dictate.bulk.values import Orders, Outcome
from dictate.errors import InputError

_WAIT = 20.0  # seconds in which a scheduler must answer
_one_at_a_time = threading.Lock()


class Cluster:
    """An engine whose workers are those of a Dask scheduler; they may come and go while it works."""

    def __init__(self, address: str, orders: Orders) -> None:
        """Join the cluster at an address ("tcp://host:8786").

        Raises:
            InputError: Dask is not installed, nobody answers, or a worker has another version of this program, of its
                tables or of its models.
        """
        try:
            import distributed
        except ImportError:
            raise InputError("needs Dask: pip install dictate-exam[cluster]", where="--cluster") from None
        self._wait = distributed.wait
        try:
            self._client = distributed.Client(address, timeout=_WAIT)
        except (OSError, TimeoutError, ValueError) as e:
            raise InputError(f"no Dask scheduler answers there ({type(e).__name__})", where=address) from None
        self._address, self._orders = address, orders
        self._held: dict[Any, Batch] = {}
        self._checked: set[str] = set()
        self._number = 0
        try:
            self._check()
        except BaseException:
            self._client.close(timeout=2)
            raise

    def workers(self) -> int:
        """How many workers there are now."""
        return len(self._client.scheduler_info(n_workers=-1)["workers"])

    def room(self) -> int:
        self._check()
        return 2 * self.workers() - len(self._held)

    def busy(self) -> int:
        return len(self._held)

    def submit(self, batch: Batch) -> None:
        self._number += 1
        key = f"dictate-{batch[0].id[:16]}-{self._number}"
        future = self._client.submit(_work, batch, self._orders, key=key, pure=False)
        self._held[future] = batch

    def finished(self, seconds: float) -> Sequence[Done]:
        with contextlib.suppress(TimeoutError):
            self._wait(list(self._held), timeout=seconds, return_when="FIRST_COMPLETED")
        result = []
        for future in [f for f in self._held if f.done()]:
            batch = self._held.pop(future)
            result.append(self._done(future, batch))
            future.release()
        if self._client.status not in ("running", "connecting"):
            raise InputError("the Dask scheduler has gone; what was done is kept, run this again", where=self._address)
        return result

    def _done(self, future: Any, batch: Batch) -> Done:
        if future.status == "finished":
            return Done(batch, future.result())
        if future.status != "error":  # cancelled or lost: it is given out again
            return Done(batch, None)
        error = future.exception()
        if isinstance(error, InputError):
            raise error
        if type(error).__name__ == "KilledWorker":  # several workers ended over it
            return Done(batch, None)
        told = " ".join(str(error).split())[:200]
        return Done(batch, None, f"a fault of the program ({type(error).__name__}: {told})")

    def close(self) -> None:
        with contextlib.suppress(Exception):
            self._client.cancel(list(self._held), force=True)
        self._held.clear()
        with contextlib.suppress(Exception):
            self._client.close(timeout=5)

    def _check(self) -> None:
        """Every worker, also one that comes later, must have the program, tables and models that this process has."""
        new = [w for w in self._client.scheduler_info(n_workers=-1)["workers"] if w not in self._checked]
        if not new:
            return
        mine = fingerprint(self._orders)
        try:
            theirs = self._client.run(fingerprint, self._orders, workers=new, on_error="return")
        except (OSError, KeyError, ValueError):  # one of them left meanwhile: asked again next time
            return
        for worker, told in theirs.items():
            if isinstance(told, OSError):
                continue
            if isinstance(told, BaseException):
                raise InputError(f"this worker cannot do the work ({told})", where=worker)
            different = [name for name in mine if told.get(name) != mine[name]]
            if different:
                raise InputError(f"this worker has another {' and '.join(different)} than here", where=worker)
            self._checked.add(worker)


def _work(batch: Batch, orders: Orders) -> tuple[Outcome, ...]:
    """One batch at a time in a process: the recogniser takes all the threads that the worker has."""
    from distributed import get_worker

    from dictate.bulk.work import work

    threads = max(1, min(8, get_worker().state.nthreads))
    with _one_at_a_time:
        return work(batch, replace(orders, threads=threads))


def fingerprint(orders: Orders) -> dict[str, str]:
    """What decides about results, by name."""
    from dictate import __version__
    from dictate.lexicon import load

    return {"version of this program": __version__, "lexicon": load(orders.lexicon).rule_set, "model": _weights(orders)}


def _weights(orders: Orders) -> str:
    if not orders.listening.startswith("dictate."):
        return ""
    from dictate.speech import SpeechSettings
    from dictate.speech.models import model_folder

    return model_folder(SpeechSettings(model=orders.model, plain=orders.plain)).weights
