"""What the language step says of a talk: the values that the exam step makes a record of.

Positions are characters of `Transcript.text`, half-open. A site or finding is named as in the lexicon's tables.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Side = Literal["left", "right", "both"]
Status = Literal["normal", "abnormal", "not_examined"]
Certainty = Literal["certain", "possible"]
Section = Literal["history", "plan", "advice", "procedures", "laboratory", "assessment", "general"]


@dataclass(frozen=True, slots=True)
class Evidence:
    """A stretch of the talk, copied letter for letter: `text == Transcript.text[char_start:char_end]`."""

    text: str
    char_start: int
    char_end: int


@dataclass(frozen=True, slots=True)
class Doubt:
    """What may be wrong in a reading. `kind` is one short lower-case phrase, `message` a sentence for the reviewer,
    `choices` the possible readings, best first; one choice is one key for the reviewer."""

    kind: str
    message: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Measure:
    """A number with its UCUM unit; `unit` is None where none was said. `comparator` is "<", "<=", ">", ">=" or None."""

    number: float
    unit: str | None = None
    comparator: str | None = None


@dataclass(frozen=True, slots=True)
class Statement:
    """One thing that the talk says of one site.

    `side` may be "both": the exam step makes two observations of it. `finding` is None for a plain normal and for a
    measured value. `present` is False for a finding that was looked for and is absent (status is then "normal").
    `probability` (0 to 1) is how sure the language step is that this is what was meant.
    """

    site: str
    side: Side | None = None
    status: Status = "normal"
    finding: str | None = None
    present: bool = True
    stated_as: Certainty = "certain"
    qualifiers: Mapping[str, Any] = field(default_factory=dict)
    value: Measure | None = None
    doubts: tuple[Doubt, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    probability: float = 1.0


@dataclass(frozen=True, slots=True)
class Unplaced:
    """Talk that sounds clinical and that no statement stands for; `why` says so in plain words."""

    evidence: Evidence
    why: str


@dataclass(frozen=True, slots=True)
class Remark:
    """Talk that is kept word for word in a section of its own and is no finding."""

    section: Section
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class PatientTold:
    """The patient as far as the talk tells; None where it does not. `age` has the UCUM unit "a", "mo", "wk" or "d"."""

    name: str | None = None
    species: Literal["dog", "cat"] | None = None
    breed: str | None = None
    sex: Literal["male", "female"] | None = None
    neutered: bool | None = None
    age: Measure | None = None


@dataclass(frozen=True, slots=True)
class EncounterTold:
    """The visit as far as the talk tells. `conditions` are those the exam was made under (sedated, muzzled ...)."""

    reason: str | None = None
    clinician: str | None = None
    conditions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reading:
    """All that the language step found in one transcript."""

    patient: PatientTold = PatientTold()
    encounter: EncounterTold = EncounterTold()
    statements: tuple[Statement, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()
    remarks: tuple[Remark, ...] = ()
