"""The values that the reading passes on: what was said so far, and where the talk stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from dictate.exam.statements import Doubt, Measure
from dictate.language.vocabulary import Term

OPPOSITE = {"left": "right", "right": "left"}


@dataclass(frozen=True, slots=True)
class Said:
    """One statement as it is read from a stretch. `rule` names what produced it; `sure` is 0 to 1.

    `stretch` counts stretches of the talk; `first` and `last` are its tokens, half-open.
    """

    site: str
    side: str | None
    status: str
    stretch: int
    first: int
    last: int
    rule: str
    finding: str | None = None
    present: bool = True
    hedged: bool = False
    qualifiers: Mapping[str, Any] = field(default_factory=dict)
    value: Measure | None = None
    doubts: tuple[Doubt, ...] = ()
    sure: float = 1.0
    signals: Mapping[str, float] = field(default_factory=dict)

    @property
    def what(self) -> tuple[str, str | None]:
        return self.site, self.finding

    def but(self, **changes: Any) -> Said:
        return replace(self, **changes)

    def doubted(self, doubt: Doubt) -> Said:
        return replace(self, doubts=(*self.doubts, doubt))


@dataclass(frozen=True, slots=True)
class Place:
    """Sites named together, with the side said of them. `named` is False for sites that are only meant ("it's clean"),
    `told` is True where the side was said in the same words."""

    sites: tuple[str, ...]
    side: str | None = None
    open_side: bool = False
    named: bool = True
    plural: bool = False
    told: bool = False


@dataclass(frozen=True, slots=True)
class State:
    """Where the talk stands before a stretch.

    `topics` are the sites spoken of last, `plural` whether they were named as several; `side` was said last, of the
    sites `side_for`; `limb` is "front" or "hind"; `waiting` and `waiting_teeth` are those of a list whose statement is
    still to come; `mending` is the stretch of a word that takes something back, until what takes its place is said
    (else -1).
    """

    topics: tuple[str, ...] = ()
    plural: bool = False
    side: str | None = None
    side_for: tuple[str, ...] = ()
    limb: str | None = None
    teeth: tuple[Term, ...] = ()
    waiting: tuple[Place, ...] = ()
    waiting_teeth: tuple[Term, ...] = ()
    sentence: int = -1
    mending: int = -1
    said: tuple[Said, ...] = ()

    def but(self, **changes: Any) -> State:
        return replace(self, **changes)


@dataclass(frozen=True, slots=True)
class Group:
    """Part of a stretch: places, sides, teeth, and what is said of them, each in the order of the talk."""

    places: tuple[Term, ...] = ()
    sides: tuple[Term, ...] = ()
    teeth: tuple[Term, ...] = ()
    contents: tuple[Term, ...] = ()

    def plus(self, **terms: Term) -> Group:
        return replace(self, **{name: (*getattr(self, name), term) for name, term in terms.items()})
