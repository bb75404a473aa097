"""What happened during an exam besides the sound, with its time in the recording: a line of JSON each, only added.

The file lies beside the recording (NAME.wav, NAME.events.jsonl). Times are seconds of the recording, so a pause takes
none. A last line that a power cut tore is passed over; a damaged one anywhere else is an error that names its line.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

from dictate.errors import InputError
from dictate.speech.files import sync_folder

ENDING = ".events.jsonl"
Kind = Literal["begun", "paused", "resumed", "order", "answer", "trouble", "broken off", "finished"]
SPOKEN_TO_US = ("order", "answer")  # their sound is no part of the talk


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened. `at` to `end` are seconds of the recording, half-open; `told` is what the kind needs."""

    kind: str
    at: float
    end: float
    time: datetime
    told: Mapping[str, Any] = field(default_factory=dict)


def event_now(kind: Kind, at: float, end: float | None = None, **told: Any) -> Event:
    """An event of this moment."""
    time = datetime.now(UTC).replace(microsecond=0)
    return Event(kind, round(at, 3), round(at if end is None else end, 3), time, told)


def events_file(recording: Path) -> Path:
    """Where the events of a recording lie."""
    return recording.with_name(recording.stem + ENDING)


def event_json(event: Event) -> str:
    """An event on one line."""
    data = {"kind": event.kind, "at": event.at, "end": event.end, "time": event.time.isoformat(), **event.told}
    return json.dumps(data, ensure_ascii=False, sort_keys=True)


def read_events(recording: Path) -> tuple[Event, ...]:
    """The events beside a recording, in order; none where there is no such file.

    Raises:
        InputError: the file cannot be read, or a line that is not the last one is damaged.
    """
    file = events_file(recording)
    try:
        lines = file.read_text(encoding="utf-8", errors="replace").split("\n")
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror or error})", where=str(file)) from None
    found = []
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        event = _read(line)
        if event is None:
            if number == len(lines):  # without its end of line it was never written whole
                break
            raise InputError("this line is no event of an exam", where=f"{file}, line {number}")
        found.append(event)
    return tuple(found)


def _read(line: str) -> Event | None:
    try:
        data = json.loads(line)
        kind, at, end = str(data.pop("kind")), float(data.pop("at")), float(data.pop("end"))
        time = datetime.fromisoformat(data.pop("time"))
    except (ValueError, KeyError, TypeError, AttributeError):
        return None
    return Event(kind, at, end, time, data)


class EventLog:
    """The open file of events: each is on disk before `add` returns. OSError where it cannot be written."""

    def __init__(self, recording: Path) -> None:
        self._file = events_file(recording)
        self._handle = os.open(self._file, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
        self._mend()
        sync_folder(self._file.parent)

    def _mend(self) -> None:
        """Cut off a torn last line, so that the next one begins anew."""
        content = self._file.read_bytes()
        whole = content.rfind(b"\n") + 1
        if whole != len(content):
            os.ftruncate(self._handle, whole)

    def add(self, event: Event) -> None:
        data = (event_json(event) + "\n").encode()
        before = os.fstat(self._handle).st_size
        try:
            if os.write(self._handle, data) != len(data):
                raise OSError(28, os.strerror(28))
        except OSError:
            os.ftruncate(self._handle, before)
            raise
        os.fsync(self._handle)

    def close(self) -> None:
        os.close(self._handle)


def is_paused(events: Sequence[Event]) -> bool:
    """Whether the exam stands in a pause after these events: an exam that broke off in one goes on in it."""
    turns = [e.kind for e in events if e.kind in ("paused", "resumed")]
    return turns[-1:] == ["paused"]


def stretches_to_us(events: Sequence[Event]) -> tuple[tuple[float, float], ...]:
    """The stretches of the recording in which somebody spoke to the program, in seconds; joined where they touch."""
    joined: list[tuple[float, float]] = []
    for at, end in sorted((e.at, e.end) for e in events if e.kind in SPOKEN_TO_US and e.end > e.at):
        if joined and at <= joined[-1][1]:
            at, end = joined[-1][0], max(end, joined.pop()[1])
        joined.append((at, end))
    return tuple(joined)
