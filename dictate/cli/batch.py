"""Many files, one after the other: a file that cannot be used is told in one line and the others go on."""

from __future__ import annotations

import os
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path

from dictate.cli import DONE, SOME_FAILED, report_fault, say
from dictate.cli.progress import progress
from dictate.errors import InputError

Within = Callable[[float], None]  # told how much of the file at hand is done, 0 to 1


def run_over(files: Sequence[Path], work: Callable[[Path, Within], str]) -> int:
    """Call `work` for each file, and say the line that it returns, if any. The exit status for all of them."""
    quiet()
    status = DONE
    with progress(len(files)) as tell:
        for done, file in enumerate(files):

            def within(fraction: float, done: int = done, name: str = file.name) -> None:
                tell(name, done + fraction)

            within(0.0)
            try:
                if line := work(file, within):
                    say(f"dictate: {line}")
            except InputError as error:
                say(f"dictate: {error}" if str(file) in str(error) else f"dictate: {file}: {error}")
                status = max(status, SOME_FAILED)
            except Exception as error:
                status = max(status, report_fault(error, where=str(file)))
            within(1.0)
    return status


def quiet() -> None:
    """Keep notes that libraries write for programmers off the terminal, unless DICTATE_DEBUG=1 is set."""
    if os.environ.get("DICTATE_DEBUG") != "1":
        warnings.simplefilter("ignore")
