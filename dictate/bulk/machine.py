"""How many processes work at once on this machine, and with how many threads each.

Measured (`scripts/bench_bulk.py --arrangements`): on a processor, single-threaded processes, one for each core, do more
than one process with all the threads; on a graphics card, a few processes share it, so that decoding and reading go on
while it works.
"""

from __future__ import annotations

import os
from dataclasses import dataclass

EACH = 1.1e9  # bytes that one process may come to hold (`scripts/bench_bulk.py` prints what it holds)
_ON_A_CARD = 4


@dataclass(frozen=True, slots=True)
class Arrangement:
    """So many processes, with so many threads each."""

    processes: int
    threads: int


def arrangement(*, cores: int, memory: float, card: bool) -> Arrangement:
    """What suits a machine with these cores, this free memory in bytes and, or not, a graphics card."""
    room = max(1, int(memory // EACH))
    wanted = min(cores, _ON_A_CARD) if card else cores
    processes = max(1, min(wanted, room))
    return Arrangement(processes, 1 if card else max(1, min(8, cores // processes)))


def this_machine(processes: int | None = None) -> Arrangement:
    """What suits the machine that this runs on; with so many processes, where that is asked for."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if processes is not None:
        return Arrangement(max(1, processes), max(1, min(8, cores // max(1, processes))))
    return arrangement(cores=cores, memory=free_memory(), card=has_card())


def free_memory() -> float:
    """Bytes of memory that can be had without swapping; 8 GB where the system does not tell."""
    try:
        with open("/proc/meminfo", encoding="ascii") as f:
            told = dict(line.split(":", 1) for line in f)
        return float(told["MemAvailable"].split()[0]) * 1024
    except (OSError, KeyError, ValueError):
        return 8e9


def has_card() -> bool:
    """Whether CTranslate2 sees a graphics card."""
    try:
        import ctranslate2

        return bool(ctranslate2.get_cuda_device_count())
    except (ImportError, RuntimeError):
        return False
