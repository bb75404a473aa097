"""A comparison of visits as plain text, with each series of values as a row of bars."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.exam.phrases import measured, name_of, told
from dictate.review.comparing import STATES, Change, Comparison, Series

BARS = "▁▂▃▄▅▆▇█"


def comparison_text(comparison: Comparison) -> str:
    """What changed first, what is the same last; then the values of every visit."""
    times = comparison.times
    if not times:
        return "No visits.\n"
    out = [f"VISIT OF {times[-1]:%Y-%m-%d} BESIDE {len(times) - 1} EARLIER"]
    out += [f"   earlier: {', '.join(f'{t:%Y-%m-%d}' for t in times[:-1])}"] if len(times) > 1 else []
    if comparison.undated:
        which = f"{comparison.undated} of {len(times)} records"
        out.append(f"   {which} do not hold the day of the visit: the day of the draft is shown")
    for state in STATES:
        changes = [c for c in comparison.changes if c.state == state]
        if changes:
            out += ["", f"{state.upper()} ({len(changes)})", *(change_text(c) for c in changes)]
    if comparison.series:
        out += ["", "VALUES", *(f"   {series_text(s)}" for s in comparison.series)]
    return "\n".join(out) + "\n"


def change_text(change: Change) -> str:
    """One finding, with what stood before where it was something else."""
    one = change.now or change.before
    assert one is not None  # a change is of one of the two
    text = f"   {name_of([one]):<28} {told(one)}"
    when = f"{change.last:%Y-%m-%d}" if change.last else ""
    if change.state == "changed" and change.before is not None:
        return f"{text}   (before, {when}: {told(change.before)})"
    if change.state in ("gone", "not told"):
        return f"{text}   (told {when})"
    if change.state == "new" and when:
        return f"{text}   (examined {when}, not told)"
    return text


def series_text(series: Series) -> str:
    """Name, bars, and every value with its day."""
    points = [f"{p.time:%Y-%m-%d} {measured(p.number, series.unit, p.comparator)}" for p in series.points]
    return f"{series.name:<28} {bars([p.number for p in series.points])}  {', '.join(points)}"


def bars(numbers: Sequence[float]) -> str:
    """One bar a number, from the least to the greatest of them; equal numbers are bars of middle height."""
    low, high = min(numbers), max(numbers)
    if high == low:
        return BARS[len(BARS) // 2] * len(numbers)
    return "".join(BARS[round((n - low) / (high - low) * (len(BARS) - 1))] for n in numbers)
