"""Carrying what was said of one side to the other ("same on the right, except the elbow is thick")."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.knowledge import Knowledge
from dictate.language.values import OPPOSITE, Place, Said, State

CARRIED = "carried over"


def source(target: str, where: Place | None, named: bool, state: State, know: Knowledge) -> tuple[Said, ...]:
    """The statements that "the same on `target`" repeats: the latest run of those of the other side.

    A run goes back from the last statement of the other side as long as statements are of that side, or of no side;
    it ends at one of another part of the body. Where sites are named with the words that carry, only theirs and those
    of what they hold are repeated.
    """
    other = OPPOSITE[target]
    run: list[Said] = []
    for said in reversed(state.said):
        if said.value is not None and not named:
            continue
        if said.side == other:
            if run and not know.related(said.site, {s.site for s in run}):
                break
            run.append(said)
        elif run and (
            said.side in (target, "both") or (said.side is None and not know.related(said.site, {s.site for s in run}))
        ):
            break
    if where and named:
        run = [s for s in run if any(know.within(s.site, w) or know.within(w, s.site) for w in where.sites)]
    return tuple(reversed(run))


def repeat(found: Sequence[Said], target: str, *, stretch: int, first: int, last: int) -> tuple[Said, ...]:
    """`found` with the side changed and the evidence that of the words that carry."""
    return tuple(
        s.but(side=target, stretch=stretch, first=first, last=last, rule=CARRIED, signals={**s.signals, "carried": 1.0})
        for s in found
    )


def after_exception(earlier: Sequence[Said], exceptions: Sequence[Said], first: int, know: Knowledge) -> list[Said]:
    """`earlier` less what was carried since stretch `first` and these exceptions contradict."""
    carried = [s for s in earlier if s.rule == CARRIED and s.stretch >= first]
    kept = with_exceptions(carried, exceptions, know)
    return [s for s in earlier if s not in carried or s in kept]


def with_exceptions(carried: Sequence[Said], exceptions: Sequence[Said], know: Knowledge) -> tuple[Said, ...]:
    """`carried` less what the exceptions contradict: their own finding, and a plain normal of the same site."""
    out = []
    for one in carried:
        against = [e for e in exceptions if e.site == one.site or know.within(e.site, one.site)]
        if any(e.status == "normal" and e.finding is None and e.value is None for e in against) and one.finding:
            continue
        if any(e.finding == one.finding for e in against if e.finding):
            continue
        if any(e.status == "abnormal" for e in against) and one.status == "normal" and one.finding is None:
            continue
        out.append(one)
    return (*out, *exceptions)
