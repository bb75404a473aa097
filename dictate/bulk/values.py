"""The values that pass between the parts of a conversion. All are frozen, and all can be sent to another process."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from dictate.speech.settings import Way


@dataclass(frozen=True, slots=True)
class Found:
    """A file of the folder. `name` is its path in it, with "/"; `address` opens it: a path or an fsspec address.

    `stamp` changes when the file does; `changed` is when that was, in seconds since 1970, or None where nothing tells.
    """

    name: str
    address: str
    size: int
    stamp: str
    changed: float | None = None


@dataclass(frozen=True, slots=True)
class Member:
    """A recording of a task. `seconds` is its length as far as the file tells, else None."""

    name: str
    address: str
    sha256: str
    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class Task:
    """One exam recording, or several that are joined, in the order of time; `stem` is the name of its drafts."""

    id: str
    stem: str
    members: tuple[Member, ...]

    @property
    def seconds(self) -> float:
        """The length of the sound as far as the files tell; 0 where none does."""
        return sum(m.seconds or 0.0 for m in self.members)


@dataclass(frozen=True, slots=True)
class Orders:
    """How every task of a conversion is done. `listening` and `reading` name the two heavy steps ("module:function"),
    so that a test can put cheap ones in their place; `threads` are those of one process."""

    way: Way = "default"
    model: str = "base"
    plain: bool = False
    lexicon: Path | None = None
    threads: int = 1
    listening: str = "dictate.bulk.hearing:hear_all"
    reading: str = "dictate.cli.steps:read"


@dataclass(frozen=True, slots=True)
class Drafted:
    """A drafted record and its page as they are written, and what the table says of it."""

    stem: str
    record: str
    page: str
    patient: str
    minutes: float
    sites: int
    doubts: int
    quality: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a task: its drafts, or the reason why there is none. `minutes` of sound, `seconds` of work.

    `hearing` are the seconds that went into hearing alone (decoding and finding speech, recognition).
    """

    task: str
    drafts: tuple[Drafted, ...] = ()
    reason: str = ""
    minutes: float = 0.0
    seconds: float = 0.0
    hearing: float = 0.0
