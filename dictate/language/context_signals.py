"""Signals that a statement gets from the talk around it: what contradicts it, repeats it, or takes it back."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence, Set
from operator import attrgetter

from dictate.language.marking import Marked
from dictate.language.values import Said

_stretch = attrgetter("stretch")
FROM_OTHERS = ("against_later", "against_before", "unlike_here", "unlike_later", "unlike_before", "again")
BESIDE = ("side_rival", "near_alike")
NEAR = 12  # stretches within which one statement can be a better version of another
SOON = 3  # stretches within which a correction follows what it corrects


def with_context(said: Sequence[Said], marked: Marked) -> tuple[Said, ...]:
    """The statements with signals of what stands around them."""
    fixes = [i for i, s in enumerate(marked.stretches) if marked.cues_in(s, "edits")]
    asked = {i for i, s in enumerate(marked.stretches) if _asks(marked, s.last)}
    same_site: dict[str, list[Said]] = {}
    for one in said:
        same_site.setdefault(one.site, []).append(one)
    for of_site in same_site.values():
        of_site.sort(key=_stretch)
    return tuple(
        s.but(signals={**s.signals, **_around(s, same_site[s.site], fixes, asked)}) if s.signals else s for s in said
    )


def _asks(marked: Marked, last: int) -> bool:
    return last < len(marked.tokens) and marked.tokens[last].text == "?"


def _strength(said: Said) -> float:
    return max(said.signals.get("outcome", 0.0), 0.5 * said.sure)


def _meets(a: Said, b: Said) -> bool:
    """Whether two statements of one site speak of a side in common."""
    return a.side == b.side or "both" in (a.side, b.side) or None in (a.side, b.side)


def _against(a: Said, b: Said) -> bool:
    """Whether two statements cannot both hold as one finding: told as present and as absent."""
    return a.finding is not None and a.finding == b.finding and a.present != b.present


def _unlike(a: Said, b: Said) -> bool:
    """Whether one is a plain normal and the other an abnormality, or one is not examined."""
    return a.value is None and b.value is None and a.status != b.status and (a.finding is None or b.finding is None)


def _around(s: Said, others: Sequence[Said], fixes: Sequence[int], asked: Set[int]) -> dict[str, float]:
    signals = dict.fromkeys((*FROM_OTHERS, *BESIDE), 0.0)
    for other in others[bisect_left(others, s.stretch - NEAR, key=_stretch) :]:
        if other.stretch - s.stretch > NEAR:
            break
        if other is s:
            continue
        if not _meets(s, other):
            if other.what == s.what and other.present == s.present and other.stretch - s.stretch in (0, 1, -1):
                signals["side_rival"] = max(signals["side_rival"], _strength(other))
            continue
        when = "later" if other.stretch > s.stretch else "before" if other.stretch < s.stretch else "here"
        strength = _strength(other)
        if _against(s, other):
            key = "against_before" if when == "before" else "against_later"
            signals[key] = max(signals[key], strength)
        elif _unlike(s, other):
            signals[f"unlike_{when}"] = max(signals[f"unlike_{when}"], strength)
        elif other.finding == s.finding and other.present == s.present and other.status == s.status and when != "here":
            signals["again"] = max(signals["again"], strength)
        elif other.status == s.status and other.finding != s.finding and when == "here":
            signals["near_alike"] = max(signals["near_alike"], strength)
    near = fixes[bisect_left(fixes, s.stretch - 1) : bisect_right(fixes, s.stretch + SOON)]
    signals["fixed_after"] = 1.0 if any(f > s.stretch for f in near) else 0.0
    signals["fix_here"] = 1.0 if any(f <= s.stretch for f in near) else 0.0
    signals["asked"] = 1.0 if s.stretch in asked else 0.0
    signals["of_site"] = float(len(others))
    return signals
