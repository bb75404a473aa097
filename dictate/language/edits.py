"""Spoken corrections: what was said and is taken back, or said better."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.values import Said

REACH = 3  # stretches back in which a correction finds what it corrects


def last_said(said: Sequence[Said], before: int) -> tuple[Said, ...]:
    """The statements of the last stretch that made any, if it lies at most `REACH` stretches before `before`."""
    if not said or before - said[-1].stretch > REACH:
        return ()
    return tuple(s for s in said if s.stretch == said[-1].stretch)


def drop(said: Sequence[Said], before: int) -> tuple[Said, ...]:
    """`said` without the statements of the last stretch ("scratch that")."""
    gone = last_said(said, before)
    return tuple(s for s in said if s not in gone)


def resided(said: Sequence[Said], side: str, before: int) -> tuple[Said, ...]:
    """`said` with the side of the last sided statements changed ("sorry, right")."""
    wrong = [s for s in last_said(said, before) if s.side in ("left", "right")]
    return tuple(s.but(side=side, rule=f"{s.rule}, side corrected") if s in wrong else s for s in said)


def replaced(said: Sequence[Said], better: Sequence[Said], before: int) -> tuple[Said, ...]:
    """`said` and the statements that take the place of the last ones, where both speak of the same thing."""
    old = last_said(said, before)
    gone = [o for o in old if any(_corrects(o, b) for b in better)]
    return (*(s for s in said if s not in gone), *better)


def _corrects(old: Said, new: Said) -> bool:
    if old.value is not None and new.value is not None:
        return old.site == new.site and (old.side == new.side or old.side is None)
    if old.site == new.site and old.finding == new.finding:
        return old.side != new.side or old.present != new.present or old.qualifiers != new.qualifiers
    return old.site == new.site and old.side == new.side and old.status != new.status
