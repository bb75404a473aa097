"""From tasks to outcomes: what a worker does, here or on another machine. It writes only the speech step's cache."""

from __future__ import annotations

import contextlib
import hashlib
import importlib
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from dictate.bulk.cuts import cut, doubt_the_cuts
from dictate.bulk.figures import figures
from dictate.bulk.parts import joined
from dictate.bulk.places import at_hand
from dictate.bulk.values import Drafted, Member, Orders, Outcome, Task
from dictate.draft import Heard, Reader, Steps, draft
from dictate.errors import InputError
from dictate.exam.page import page
from dictate.exam.record import Source, to_json
from dictate.lexicon import Lexicon, load
from dictate.speech.words import Transcript

# A recording heard, or why it could not be.
Listened = Transcript | InputError
HearAll = Callable[[Sequence[Path], Orders], Sequence[Listened]]


def work(tasks: Sequence[Task], orders: Orders) -> tuple[Outcome, ...]:
    """The outcome of every task, in their order. Whatever is wrong with one is told in its outcome."""
    begun = time.perf_counter()
    members = [m for t in tasks for m in t.members]
    with contextlib.ExitStack() as held:
        places: list[Path | InputError] = []
        for member in members:
            try:
                places.append(held.enter_context(at_hand(member.address)))
            except InputError as e:
                places.append(e)
        paths = [p for p in places if isinstance(p, Path)]
        hear_all: HearAll = _function(orders.listening)
        listened = iter(hear_all(paths, orders) if paths else ())
        heard = [next(listened) if isinstance(p, Path) else p for p in places]
    hearing = time.perf_counter() - begun
    lexicon = load(orders.lexicon)
    whole = sum(t.sound.seconds for t in heard if isinstance(t, Transcript) and t.sound) or 1.0
    outcomes, at = [], 0
    for task in tasks:
        mine = heard[at : at + len(task.members)]
        at += len(task.members)
        outcome = drafted(task, mine, lexicon, read=_function(orders.reading))
        share = hearing * outcome.minutes * 60 / whole
        outcomes.append(replace(outcome, hearing=share, seconds=outcome.seconds + share))
    return tuple(outcomes)


@lru_cache(maxsize=4)
def _function(named: str) -> Any:
    module, _, name = named.partition(":")
    return getattr(importlib.import_module(module), name)


def drafted(task: Task, heard: Sequence[Listened], lexicon: Lexicon, *, read: Reader) -> Outcome:
    """The drafts of one task, or the reason why there are none; `seconds` are those of the steps after hearing."""
    begun = time.perf_counter()
    minutes = sum(t.sound.seconds / 60 for t in heard if isinstance(t, Transcript) and t.sound)
    try:
        transcript = _one(task, heard)
        notes = _notes(task.members, heard)
        steps = Steps(read=read, listen=lambda _: transcript)
        found = []
        pieces = cut(transcript, lexicon)
        for i, piece in enumerate(pieces):
            stem = task.stem if len(pieces) == 1 else f"{task.stem}.{i + 1}"
            source = Source(
                name=_name(task), kind="sound", sha256=_sum(task, i, len(pieces)), notes=(*notes, *piece.notes)
            )
            record = doubt_the_cuts(draft(Heard(piece.transcript, source), lexicon, steps=steps), piece)
            found.append(Drafted(stem, to_json(record), page(record, lexicon), *figures(record, piece.transcript)))
    except InputError as e:
        return Outcome(task.id, reason=e.what, minutes=minutes, seconds=time.perf_counter() - begun)
    except Exception as e:
        if os.environ.get("DICTATE_DEBUG") == "1":
            raise
        told = " ".join(str(e).split())[:200]
        reason = f"a fault of the program ({type(e).__name__}: {told})"
        return Outcome(task.id, reason=reason, minutes=minutes, seconds=time.perf_counter() - begun)
    return Outcome(task.id, tuple(found), minutes=minutes, seconds=time.perf_counter() - begun)


def _one(task: Task, heard: Sequence[Listened]) -> Transcript:
    """The transcript of a task. InputError where a recording of it could not be heard, or holds no speech."""
    good = []
    for member, listened in zip(task.members, heard, strict=True):
        if isinstance(listened, InputError):
            where = f"{member.name}: " if len(task.members) > 1 else ""
            raise InputError(f"{where}{listened.what}")
        if listened.source_hash != member.sha256:
            raise InputError("the file changed while it was read; it is taken up again when it has changed")
        good.append(listened)
    transcript = good[0] if len(good) == 1 else joined(good, source_hash=task.id)
    if not transcript.text.strip():
        raise InputError("no speech was heard in it")
    return transcript


def _sum(task: Task, number: int, count: int) -> str:
    """The hash that a draft names as its source's: the recording's, or one made of it for each exam of several."""
    return task.id if count == 1 else hashlib.sha256(f"{task.id}:{number + 1}".encode()).hexdigest()


def _name(task: Task) -> str:
    return " + ".join(m.name.rpartition("/")[2] for m in task.members)


def _notes(members: Sequence[Member], heard: Sequence[Listened]) -> tuple[str, ...]:
    """Where each of several joined recordings begins, in seconds."""
    if len(members) == 1:
        return ()
    notes, at = [], 0.0
    for member, listened in zip(members, heard, strict=True):
        notes.append(f"{member.name.rpartition('/')[2]} begins at {at:.1f} s")
        at += listened.sound.seconds if isinstance(listened, Transcript) and listened.sound else 0.0
    return tuple(notes)
