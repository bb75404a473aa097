"""What the second reader says of a talk: plain frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Outcome:
    """What may have been said of a site. `probability` is of the whole: the stretch speaks of the site and says this.

    `status` is a status of the record; `finding` a name of the lexicon or None; `present` is False where the finding
    was looked for and is absent; `measured` marks a stretch that gives the site's value (its number is not read here).
    """

    status: str
    finding: str | None
    present: bool
    measured: bool
    probability: float


@dataclass(frozen=True, slots=True)
class SiteReading:
    """A site that a stretch may speak of. `sides` gives left, right, both and none, adding up to 1.

    `hedged` is the probability that what is said of the site is said as possible only.
    """

    site: str
    probability: float
    sides: Mapping[str, float]
    hedged: float
    outcomes: tuple[Outcome, ...]


@dataclass(frozen=True, slots=True)
class StretchReading:
    """One stretch of a talk, in half-open character positions of the text, and how it reads.

    `roles` gives the probability of each role by itself (they need not add up to 1); `taken_back` that of words that
    the speaker withdraws later. `sites` are in falling probability, and only those above the reader's floor.
    """

    char_start: int
    char_end: int
    text: str
    roles: Mapping[str, float]
    taken_back: float
    sites: tuple[SiteReading, ...]
