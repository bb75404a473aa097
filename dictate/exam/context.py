"""What every step of the exam may look at, and the shape of a step."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

from dictate.exam.statements import PatientTold, Statement
from dictate.lexicon.tables import Lexicon, Site
from dictate.speech.words import Transcript
from dictate.usual_words import usual_words

# Qualifiers that say where on a site, or on which of several like parts: two statements about different places neither
# merge nor contradict each other.
PLACE = ("tooth", "digit", "limb", "number", "side")


TRIADAN = re.compile(r"\b[1-8]\d\d\b")


@dataclass(frozen=True, slots=True)
class ExamSettings:
    """Thresholds of the exam step.

    heard_below: a word by which the site, the side, the finding or an absence is told is doubted when the recogniser
        gave it less than this probability (0 to 1).
    strange_below: the same for words in the evidence that are neither function words nor in the lexicon, and numerals.
    read_below: the same for another reading that took the place of what was heard first, whatever it tells.
    regions_between: a plain normal and an abnormal finding of one site contradict each other only when the talk came
        back to it: at least so many other regions of the body were spoken of between.
    """

    heard_below: float = 0.25
    strange_below: float = 0.5
    read_below: float = 0.9
    regions_between: int = 2

    def told(self) -> dict[str, str]:
        """The settings as a record names them."""
        return {
            "heard_below": f"{self.heard_below:g}",
            "strange_below": f"{self.strange_below:g}",
            "read_below": f"{self.read_below:g}",
            "regions_between": f"{self.regions_between}",
        }


@dataclass(frozen=True)
class Context:
    """The talk, the vocabulary and the patient that the statements are about."""

    transcript: Transcript
    lexicon: Lexicon
    patient: PatientTold = field(default_factory=PatientTold)
    settings: ExamSettings = field(default_factory=ExamSettings)

    @cached_property
    def usual_words(self) -> frozenset[str]:
        """English function words and the single words of the lexicon's phrases."""
        return usual_words(self.lexicon)

    @cached_property
    def sites(self) -> dict[str, Site]:
        return {site.site: site for site in self.lexicon.sites}

    def paired(self, site: str) -> bool:
        return site in self.sites and self.sites[site].paired

    def traits(self, site: str) -> frozenset[str]:
        return frozenset(row.trait for row in self.lexicon.site_traits if row.site == site)

    def fact(self, name: str) -> float | None:
        """A number of the species facts for the patient's species; the greatest of all where the species is unknown."""
        species = self.patient.species
        rows = [r for r in self.lexicon.species_facts if r.fact == name and species in (None, r.species)]
        return max((float(r.value) for r in rows), default=None)

    def region(self, site: str) -> str:
        return self.sites[site].region if site in self.sites else ""


Step = Callable[[tuple[Statement, ...], Context], tuple[Statement, ...]]


def start_of(statement: Statement) -> int:
    """Where a statement begins in the talk; one without evidence comes first."""
    return min((e.char_start for e in statement.evidence), default=0)


def place_of(statement: Statement) -> tuple[object, ...]:
    """The part of a site that a statement is about, as far as it was said."""
    return tuple(str(statement.qualifiers.get(key, "")).casefold() for key in PLACE)


def tooth_numbers(statement: Statement) -> list[str]:
    """The modified Triadan numbers among a statement's qualifiers."""
    return TRIADAN.findall(str(statement.qualifiers.get("tooth", "")))


def is_plain_normal(statement: Statement) -> bool:
    return statement.status == "normal" and statement.finding is None and statement.value is None
