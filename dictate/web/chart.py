"""A small line chart of one measure, as coordinates that a template draws as SVG. No judgement is drawn into it."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.exam.phrases import measured
from dictate.review import Series

WIDTH, HEIGHT = 320, 96  # of the drawing, in its own units
SIDE, TOP, BOTTOM = 10, 12, 10


@dataclass(frozen=True, slots=True)
class Mark:
    """One value: where it is drawn, and what it says."""

    x: float
    y: float
    day: str
    text: str


@dataclass(frozen=True, slots=True)
class Chart:
    """A measure's values, oldest first; `line` are the points of the polyline. `told` says all of it in words."""

    name: str
    marks: tuple[Mark, ...]
    line: str
    width: int = WIDTH
    height: int = HEIGHT

    @property
    def first(self) -> Mark:
        return self.marks[0]

    @property
    def last(self) -> Mark:
        return self.marks[-1]

    @property
    def told(self) -> str:
        return f"{self.name}: " + ", ".join(f"{m.text} on {m.day}" for m in self.marks)


def chart(series: Series) -> Chart:
    """Places every value by its time and size; a single value, or values that are all the same, lie in the middle."""
    times = [p.time.timestamp() for p in series.points]
    numbers = [p.number for p in series.points]
    begin, end, low, high = min(times), max(times), min(numbers), max(numbers)
    marks = []
    for point, time in zip(series.points, times, strict=True):
        right = (time - begin) / (end - begin) if end > begin else 0.5
        up = (point.number - low) / (high - low) if high > low else 0.5
        x = SIDE + right * (WIDTH - 2 * SIDE)
        y = HEIGHT - BOTTOM - up * (HEIGHT - TOP - BOTTOM)
        text = measured(point.number, series.unit, point.comparator)
        marks.append(Mark(round(x, 1), round(y, 1), f"{point.time:%Y-%m-%d}", text))
    return Chart(series.name, tuple(marks), " ".join(f"{m.x},{m.y}" for m in marks))
