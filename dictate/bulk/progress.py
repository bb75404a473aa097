"""How far a conversion is, in figures that can be held against the clock."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Progress:
    """`files` is all that were found, `files_done` those that are dealt with; minutes are of sound, in this run.

    `minutes_left` is reckoned from the sizes of what is left, by the minutes that a byte has held so far; None before
    anything is done. `seconds` have passed in this run.
    """

    files: int = 0
    files_done: int = 0
    set_aside: int = 0
    drafts: int = 0
    minutes: float = 0.0
    minutes_left: float | None = None
    seconds: float = 0.0

    @property
    def speed(self) -> float | None:
        """Seconds of sound for a second of the clock; None before anything is done."""
        return self.minutes * 60 / self.seconds if self.minutes and self.seconds else None

    @property
    def seconds_left(self) -> float | None:
        if self.minutes_left is None or not self.speed:
            return None
        return self.minutes_left * 60 / self.speed

    def as_json(self) -> dict[str, object]:
        """The values of a line for machines."""
        return {
            "files": self.files,
            "files_done": self.files_done,
            "set_aside": self.set_aside,
            "drafts": self.drafts,
            "minutes": round(self.minutes, 2),
            "minutes_left": None if self.minutes_left is None else round(self.minutes_left, 1),
            "seconds": round(self.seconds, 1),
            "speed": None if self.speed is None else round(self.speed, 2),
            "seconds_left": None if self.seconds_left is None else round(self.seconds_left),
        }


def line(progress: Progress) -> str:
    """The progress in one line for people."""
    parts = [f"{progress.files_done:,} of {progress.files:,} files", f"{progress.minutes:,.1f} minutes of sound"]
    if progress.speed:
        parts.append(f"{progress.speed:.1f} times real time")
    if progress.seconds_left is not None and progress.files_done < progress.files:
        parts.append(f"about {duration(progress.seconds_left)} left")
    parts.append(f"{progress.set_aside} set aside")
    return ", ".join(parts)


def duration(seconds: float) -> str:
    """A span of time, to the minute from an hour on: "45 s", "12 min", "3 h 05 min"."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"


def summary(progress: Progress, *, done_before: int) -> str:
    """What a run came to, in one line."""
    before = f" ({done_before:,} were done before)" if done_before else ""
    speed = f", {progress.speed:.1f} times real time" if progress.speed else ""
    return (
        f"{progress.files_done:,} of {progress.files:,} files{before}: {progress.drafts:,} drafts from "
        f"{progress.minutes:,.1f} minutes of sound in {duration(progress.seconds)}{speed}; "
        f"{progress.set_aside:,} set aside"
    )
