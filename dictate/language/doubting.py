"""Which statements are kept, and which of them are asked about: one threshold each over their probability."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictate.exam.statements import Doubt
from dictate.language.values import Said


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Below `keep` a statement is left out, below `ask` it carries a doubt. A stretch of which nothing is kept is shown
    as unplaced where it is an observation with at least the probability `show`. Chosen on the choosing part."""

    keep: float = 0.57
    ask: float = 0.87
    show: float = 0.7


def doubted(said: Sequence[Said], thresholds: Thresholds) -> tuple[Said, ...]:
    """The statements worth keeping, the uncertain ones with a doubt that says how else the words may be meant."""
    out = []
    for one in said:
        if one.sure < thresholds.keep:
            continue
        if one.sure < thresholds.ask and not one.doubts:
            one = one.doubted(Doubt("reading", "may not be what was meant", ("as drafted", "not meant")))
        out.append(one)
    return tuple(out)
