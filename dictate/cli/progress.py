"""Progress on a terminal, and nothing where the error stream is a file or a pipe."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Tell = Callable[[str, float], None]


@contextmanager
def progress(total: int) -> Iterator[Tell]:
    """A bar over `total` files. The value is called with the name of the file at hand and how many are done (a fraction
    of a file counts). Lines said meanwhile stand above the bar."""
    if not sys.stderr.isatty():
        yield lambda name, done: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True, redirect_stderr=True) as bar:
        task = bar.add_task("", total=total)
        yield lambda name, done: bar.update(task, description=name, completed=done)
