"""What a person decided about a draft: small events, each with who and when. They are only ever added.

A decision names the observations by their ids and the doubt by its content, so a list of them can be read by itself.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal
from uuid import uuid4

from pydantic import AwareDatetime, Field, TypeAdapter

from dictate.exam.record import Doubt, Encounter, Evidence, Observation, Patient, Unplaced, Value
from dictate.exam.statements import Section

Ids = tuple[str, ...]
AS_DRAFTED = "as drafted"  # the answer that leaves an observation as it is, where none of a doubt's own choices does


class Decided(Value):
    """What all decisions have in common. `id` is made when none is given."""

    id: str = Field(default_factory=lambda: uuid4().hex)
    by: str = Field(min_length=1)
    time: AwareDatetime


class Settle(Decided):
    """A doubt is settled by one of its own choices, or by AS_DRAFTED."""

    kind: Literal["settle"] = "settle"
    observations: Ids
    doubt: Doubt
    choice: str


class CannotTell(Decided):
    """What is doubtful cannot be told, and the record says so."""

    kind: Literal["cannot tell"] = "cannot tell"
    observations: Ids
    doubt: Doubt


class NotExamined(Decided):
    """The sites of these observations were not examined."""

    kind: Literal["not examined"] = "not examined"
    observations: Ids
    reason: str = ""


class Remove(Decided):
    """These observations are none: the talk was no finding."""

    kind: Literal["remove"] = "remove"
    observations: Ids


class Replace(Decided):
    """Free correction, or an edit in place. `words` is what the reviewer typed, where it was words and not fields."""

    kind: Literal["replace"] = "replace"
    observations: Ids
    becomes: tuple[Observation, ...]
    words: str = ""


class Add(Decided):
    """An observation that the draft lacks, entered by the reviewer; also a mark on a site that was not recorded."""

    kind: Literal["add"] = "add"
    observation: Observation


class Place(Decided):
    """An unplaced phrase becomes observations."""

    kind: Literal["place"] = "place"
    phrase: Unplaced
    observations: tuple[Observation, ...]
    words: str = ""


class PlaceInSection(Decided):
    """An unplaced phrase is kept word for word in a section."""

    kind: Literal["place in section"] = "place in section"
    phrase: Unplaced
    section: Section


class Dismiss(Decided):
    """An unplaced phrase was looked at and is no finding. It stays in the record, among the dismissed."""

    kind: Literal["dismiss"] = "dismiss"
    phrase: Unplaced


class EditPatient(Decided):
    """`due` are the sites that this patient has, in the order of the form; null leaves them as they are."""

    kind: Literal["edit patient"] = "edit patient"
    patient: Patient
    due: tuple[str, ...] | None = None


class EditEncounter(Decided):
    kind: Literal["edit encounter"] = "edit encounter"
    encounter: Encounter


class EditSection(Decided):
    """All parts of one section, as they shall stand."""

    kind: Literal["edit section"] = "edit section"
    section: Section
    parts: tuple[Evidence, ...]


class OfferAnswered(Decided):
    """An offered entry of the practice's lexicon was taken or declined. The record stays as it is."""

    kind: Literal["offer answered"] = "offer answered"
    heard: str
    meant: str
    taken: bool


class Undo(Decided):
    """Takes back the decision `of`; the undo of an undo brings it back."""

    kind: Literal["undo"] = "undo"
    of: str


Decision = Annotated[
    Settle
    | CannotTell
    | NotExamined
    | Remove
    | Replace
    | Add
    | Place
    | PlaceInSection
    | Dismiss
    | EditPatient
    | EditEncounter
    | EditSection
    | OfferAnswered
    | Undo,
    Field(discriminator="kind"),
]
DECISION: TypeAdapter[Decision] = TypeAdapter(Decision)
DECISIONS: TypeAdapter[tuple[Decision, ...]] = TypeAdapter(tuple[Decision, ...])


def decision_from_json(data: Any) -> Decision:
    """A decision from its JSON value. Raises ValueError (pydantic) where it is none."""
    return DECISION.validate_python(data) if not isinstance(data, str) else DECISION.validate_json(data)


def in_force(decisions: tuple[Decision, ...] | list[Decision]) -> tuple[Decision, ...]:
    """The decisions that no later undo in force takes back, in their order, without the undos themselves."""
    undone: set[str] = set()
    kept: list[Decision] = []
    for decision in reversed(decisions):
        if decision.id in undone:
            continue
        if decision.kind == "undo":
            undone.add(decision.of)
        else:
            kept.append(decision)
    return tuple(reversed(kept))


def last_to_undo(decisions: tuple[Decision, ...] | list[Decision]) -> Decision | None:
    """The newest decision in force: what one press of "undo" takes back. None where there is none."""
    kept = [d for d in in_force(decisions) if d.kind != "offer answered"]
    return kept[-1] if kept else None


def typed(text: str, by: str) -> Evidence:
    """Words that a reviewer typed, as evidence."""
    return Evidence(text=" ".join(text.split()), char_start=0, char_end=0, by=by)


def now() -> datetime:
    """The time of a decision: now, in the time zone of the machine, to the second."""
    return datetime.now().astimezone().replace(microsecond=0)
