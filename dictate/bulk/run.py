"""A conversion from beginning to end: look, give out work, keep what comes back, and again when asked to go on."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from dictate.bulk.engine import Batch, Done, Engine
from dictate.bulk.journal import Journal
from dictate.bulk.keeping import keep, sweep
from dictate.bulk.places import is_address
from dictate.bulk.planning import Todo, look, tasks
from dictate.bulk.progress import Progress
from dictate.bulk.storing import Keeper
from dictate.bulk.table import write_table
from dictate.bulk.values import Found, Outcome, Task
from dictate.errors import InputError
from dictate.files import check_writable

BATCH, LEAST = 240.0, 30.0  # seconds of sound in a batch: the most, and towards the end of the work
MOST = 16  # tasks in a batch
BYTES = 16000.0  # in a second of sound, where a file does not tell its length and nothing was heard yet
ENDS = 2  # times that a process may come to an end over one file, given alone, before the file is set aside
SETTLED = 5.0  # seconds for which a file that is watched must not have changed
_TABLE = 15.0  # seconds between two writings of the table, or twenty times what one takes
ENDED = "the program came to an end over it (damaged, or too large for the memory)"


@dataclass(frozen=True, slots=True)
class Conversion:
    """What is to be done: a folder or address, the folder of the drafts, and how."""

    folder: str
    out: Path
    parts: tuple[str, ...] | None = None  # words for parts of an exam, where files are joined
    watch: bool = False
    poll: float = 5.0


Tell = Callable[[str, dict[str, object], Progress], None]


class Run:
    """One run over a conversion. `tell` is called with what happened ("drafted", "set aside", "progress"), its values
    and the progress."""

    def __init__(self, conversion: Conversion, engine: Engine, workers: Callable[[], int], tell: Tell, keeper: Keeper):
        self.conversion, self.engine, self.workers, self.tell, self.keeper = conversion, engine, workers, tell, keeper
        self.progress = Progress()
        self.done_before = 0
        self._begun = time.monotonic()
        self._names: dict[str, tuple[str, int, int]] = {}  # of tasks in work: name, files, bytes
        self._suspects: list[Task] = []
        self._bytes_left, self._bytes_done = 0, 0
        self._table_due = 0.0
        self._table_old = True
        self._unsettled: dict[str, tuple[int, str]] = {}

    def run(self) -> Progress:
        """Go through the folder once, or for ever when it is watched. KeyboardInterrupt ends it cleanly."""
        check_writable(self.conversion.out)
        journal = Journal(self.conversion.out)
        try:
            sweep(self.conversion.out)
            self._store(journal)
            while True:
                self._pass(journal)
                if not self.conversion.watch:
                    return self.progress
                time.sleep(self.conversion.poll)
        finally:
            self.engine.close()
            self._told("progress", {})
            self._write_table(journal, now=True)
            journal.close()

    def _pass(self, journal: Journal) -> None:
        c = self.conversion
        todo = look(c.folder, c.out, journal, parts=c.parts)
        if not self.progress.files:
            self.done_before = todo.files_done
        handled = self.progress.files_done
        self.progress = replace(
            self.progress, files=max(handled, todo.files_done) + todo.files, files_done=max(handled, todo.files_done)
        )
        self._bytes_left = todo.size
        if not todo.groups and c.watch:
            return
        self._told("progress", {})
        source = self._batches(todo, journal)
        more = True
        while True:
            while more and self.engine.room() > 0:
                with journal.together():  # the batch's files are noted with one write
                    batch = next(source, None)
                if batch is None:
                    more = False
                else:
                    self.engine.submit(batch)
            if not self.engine.busy() and not more:
                if not self._suspects:
                    break
                self.engine.submit((self._suspects.pop(),))  # alone, so that an end has one cause
            for done in self.engine.finished(1.0):
                self._take(done, journal)
            self._write_table(journal)
            self._told("progress", {})
        self._write_table(journal, now=True)

    def _batches(self, todo: Todo, journal: Journal) -> Iterator[Batch]:
        c = self.conversion
        source = tasks(
            todo, c.out, journal, parts=c.parts, aside=self._unreadable, same=self._same, settled=self._settled
        )
        held: list[Task] = []
        seconds = 0.0
        sizes = {group[0].name: sum(f.size for f in group) for group in todo.groups}
        for task in source:
            size = sizes.get(task.members[0].name, 0)
            self._names[task.id] = (" + ".join(m.name for m in task.members), len(task.members), size)
            long = task.seconds or size / self._bytes_a_second()
            if held and (seconds + long > self._budget() or len(held) >= MOST):
                yield tuple(held)
                held, seconds = [], 0.0
            held.append(task)
            seconds += long
        if held:
            yield tuple(held)

    def _bytes_a_second(self) -> float:
        heard = self.progress.minutes * 60
        return max(1.0, self._bytes_done / heard) if heard and self._bytes_done else BYTES

    def _budget(self) -> float:
        """Seconds of sound for a batch: less towards the end, so that all workers end at about the same time."""
        left = self._bytes_left / self._bytes_a_second()
        return min(BATCH, max(LEAST, left / (3 * max(1, self.workers()))))

    def _settled(self, found: Found) -> bool:
        """Whether a file may be taken up. A watched folder's file must have been left alone since the last look."""
        if not self.conversion.watch or is_address(found.address):
            return True
        if found.changed is not None and time.time() - found.changed >= SETTLED:
            self._unsettled.pop(found.name, None)
            return True
        before = self._unsettled.get(found.name)
        self._unsettled[found.name] = (found.size, found.stamp)
        # A clock that runs ahead on the recorder or the share would make a file wait for ever.
        return before == (found.size, found.stamp) and found.changed is not None and found.changed > time.time() + 60

    def _unreadable(self, found: Found, why: str) -> None:
        self.progress = replace(
            self.progress, files_done=self.progress.files_done + 1, set_aside=self.progress.set_aside + 1
        )
        self._told("set aside", {"file": found.name, "reason": why})

    def _same(self, found: Found) -> None:
        self._table_old = True
        self._bytes_left -= found.size
        self.progress = replace(self.progress, files_done=self.progress.files_done + 1)

    def _take(self, done: Done, journal: Journal) -> None:
        if done.outcomes is not None:
            for outcome in done.outcomes:
                self._keep(outcome, journal)
            return
        if len(done.batch) > 1 or done.batch[0].id not in self._alone(done):
            self._suspects.extend(done.batch)
            return
        task = done.batch[0]
        if journal.ended_with(task.id) >= ENDS or done.fault:
            self._keep(Outcome(task.id, reason=done.fault or ENDED), journal)
        else:
            self._suspects.append(task)

    def _alone(self, done: Done) -> frozenset[str]:
        """The ids of a batch that was given alone, to a machine that had nothing else to do."""
        return frozenset(t.id for t in done.batch) if not self.engine.busy() else frozenset()

    def _keep(self, outcome: Outcome, journal: Journal) -> None:
        keep(outcome, self.conversion.out, journal)
        self._table_old = True
        name, files, size = self._names.pop(outcome.task, ("", 1, 0))
        p = self.progress
        self._bytes_left -= size
        self._bytes_done += size
        self.progress = replace(
            p,
            files_done=p.files_done + files,
            set_aside=p.set_aside + bool(outcome.reason),
            drafts=p.drafts + len(outcome.drafts),
            minutes=p.minutes + outcome.minutes,
        )
        if outcome.reason:
            self._told("set aside", {"file": name, "reason": outcome.reason})
        else:
            self._store(journal)
            told = {"file": name, "drafts": [d.stem for d in outcome.drafts], "minutes": round(outcome.minutes, 2)}
            self._told("drafted", told)

    def _store(self, journal: Journal) -> None:
        if self.keeper is None:
            return
        for task, number, stem, name in journal.not_stored():
            note = self.keeper(self.conversion.out, stem, self.conversion.folder, name)
            journal.mark_stored(task, number)
            if note:
                self._told("note", {"file": name, "note": note})

    def _write_table(self, journal: Journal, *, now: bool = False) -> None:
        if not self._table_old or (not now and time.monotonic() < self._table_due):
            return
        begun = time.monotonic()
        self._table_old = False
        write_table(self.conversion.out, journal.lines())
        took = time.monotonic() - begun
        self._table_due = time.monotonic() + max(_TABLE, 20 * took)

    def _told(self, what: str, values: dict[str, object]) -> None:
        left = None
        if self.progress.minutes:
            left = max(0.0, self._bytes_left) / self._bytes_a_second() / 60
        self.progress = replace(self.progress, seconds=time.monotonic() - self._begun, minutes_left=left)
        self.tell(what, values, self.progress)


def words_of_parts(rows: object) -> tuple[str, ...]:
    """The words that name a part, of the lexicon's table."""
    return tuple(row.words.casefold() for row in rows)  # type: ignore[attr-defined]


def check_places(folder: str, out: Path) -> None:
    """InputError where drafts would be written among the recordings themselves."""
    if not is_address(folder) and Path(folder).resolve() == out.resolve():
        raise InputError("the drafts need a folder of their own", where=str(out))
