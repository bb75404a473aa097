"""What there is to do in a folder, and the tasks that follow: each recording once, each task with a name of its own."""

from __future__ import annotations

import hashlib
import itertools
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from dictate.bulk.joining import groups, part_of, stem_of
from dictate.bulk.journal import Journal, Known
from dictate.bulk.places import hash_of, is_same, seconds_of, walk
from dictate.bulk.values import Found, Member, Task
from dictate.errors import InputError

Aside = Callable[[Found, str], None]


@dataclass(frozen=True, slots=True)
class Todo:
    """What one look at a folder gave: groups of files that make a task each, and how many files are done already."""

    groups: tuple[tuple[Found, ...], ...]
    files_done: int

    @property
    def size(self) -> int:
        """Bytes that are still to be heard."""
        return sum(f.size for group in self.groups for f in group)

    @property
    def files(self) -> int:
        return sum(len(group) for group in self.groups)


def look(folder: str, out: Path, journal: Journal, *, parts: Sequence[str] | None) -> Todo:
    """Every file of the folder beside what the journal knows.

    Args:
        parts: words that name parts of an exam, where files are to be joined; None where they are not.
    """
    todo: list[tuple[Found, ...]] = []
    done = 0
    for inside, files in itertools.groupby(walk(folder, leave_out=out), key=lambda f: f.name.rpartition("/")[0]):
        written = _written(out / inside)
        if parts is None:
            gathered: Iterator[tuple[Found, ...]] = ((f,) for f in files)
        else:
            gathered = iter(groups([(f, _length(f, journal)) for f in files], parts))
        for group in gathered:
            known = [journal.known(f) for f in group]
            if (
                all(k is not None and _is_done(k, written, out) for k in known)
                and len({k.task for k in known if k}) == 1
            ):
                done += len(group)
            else:
                todo.append(group)
    return Todo(tuple(todo), done)


def _length(found: Found, journal: Journal) -> float | None:
    known = journal.known(found)
    return known.seconds if known else seconds_of(found)


def _written(folder: Path) -> frozenset[str]:
    try:
        return frozenset(os.listdir(folder))
    except OSError:
        return frozenset()


def _is_done(known: Known, written: frozenset[str], out: Path) -> bool:
    """Whether a file's task has ended, and the drafts of one that gave some are still there."""
    if known.state == "set aside":
        return True
    if known.state != "done" or not known.stems:
        return False
    for stem in known.stems:
        name = f"{stem.rpartition('/')[2]}.record.json"
        # The other recording of the same bytes may lie in another folder.
        if name not in written and not (out / f"{stem}.record.json").exists():
            return False
    return True


def tasks(
    todo: Todo,
    out: Path,
    journal: Journal,
    *,
    parts: Sequence[str] | None,
    aside: Aside,
    same: Callable[[Found], None],
    settled: Callable[[Found], bool],
) -> Iterator[Task]:
    """The tasks of what is to do, one after the other, in the order of names.

    Files are hashed here, so a caller takes no more tasks than it has room for. A recording that was taken up under
    another name already gives no task.

    Args:
        aside: told of a file that cannot be read, with the reason.
        same: told of a file whose recording was taken up under another name.
        settled: whether a file may be taken; one that still grows is left alone.
    """
    taken_up: set[str] = set()
    for group in todo.groups:
        if not all(settled(f) for f in group):
            continue
        members = []
        try:
            members = [_member(f, journal) for f in group]
        except InputError as e:
            aside(group[0], e.what)
            continue
        if not all(is_same(f) for f in group):
            continue  # it grew while it was read: the next look finds it
        task = _task(group, members, out, journal, parts, taken_up)
        if task is None:
            same(group[0])
        else:
            taken_up.add(task.id)
            yield task


def _member(found: Found, journal: Journal) -> Member:
    known = journal.known(found)
    if known is None:
        sum_ = hash_of(found.address)
        seconds = seconds_of(found)
        journal.note_file(found, sum_, seconds)
        return Member(found.name, found.address, sum_, seconds)
    return Member(found.name, found.address, known.sha256, known.seconds)


def _task(
    group: tuple[Found, ...], members: Sequence[Member], out: Path, journal: Journal, parts: Sequence[str] | None,
    taken_up: set[str],
) -> Task | None:  # fmt: skip
    identity = identity_of(members)
    if len(members) == 1:
        already = journal.task_of_sum(members[0].sha256)
        if already and (already in taken_up or _ended(already, out, journal)):
            journal.put_in(members[0].name, already)
            return None
    elif identity in taken_up:
        return None
    stem = stem_of(group[0].name)
    if len(group) > 1 and parts and (part := part_of(group[0].name, parts)):
        stem = stem[: len(part.base)] or stem
    return journal.begin(identity, stem, tuple(members))


def _ended(task: str, out: Path, journal: Journal) -> bool:
    known = journal.state_of(task)
    return known is not None and _is_done(known, frozenset(), out)


def identity_of(members: Sequence[Member]) -> str:
    """The id of the task of these recordings: the hash of the one, or a hash over the hashes of all."""
    if len(members) == 1:
        return members[0].sha256
    return hashlib.sha256("\n".join(m.sha256 for m in members).encode()).hexdigest()
