"""The drafted record as it is written to NAME.record.json: pydantic models, and the JSON Schema they publish.

Status words are those of HL7 FHIR's Composition and Observation; units are UCUM codes.
"""

from __future__ import annotations

import hashlib
import json
from datetime import datetime
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

SCHEMA: Literal["exam-record/1"] = "exam-record/1"
SCHEMA_DIALECT = "https://json-schema.org/draft/2020-12/schema"


class Value(BaseModel):
    """What all parts of a record have in common: they never change, and an unknown field is a fault."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, serialize_by_alias=True)


class Quantity(Value):
    number: float
    unit: str | None = Field(default=None, description="UCUM code; null where none was said")


class Measured(Quantity):
    comparator: Literal["<", "<=", ">", ">="] | None = None


class Evidence(Value):
    """Words of the talk. Seconds for sound, null for a text; characters of the talk's text, half-open.

    Words that a reviewer typed have `by`, and stand nowhere in the talk: both positions are 0."""

    text: str
    start: float | None = None
    end: float | None = None
    char_start: int
    char_end: int
    by: str | None = Field(default=None, description="who typed these words; null where they were spoken")
    deleted: str | None = Field(default=None, description="SHA-256 of words that were deleted; text is then empty")


class Unplaced(Evidence):
    why: str


class Doubt(Value):
    kind: str
    message: str
    choices: tuple[str, ...] = ()


Qualifier = str | int | float | bool | Quantity | tuple[str, ...]


class Observation(Value):
    id: str
    site: str
    side: Literal["left", "right"] | None = None
    status: Literal["normal", "abnormal", "not_examined"]
    finding: str | None = None
    present: bool = Field(default=True, description="false: the finding was looked for and is absent")
    stated_as: Literal["certain", "possible"] = "certain"
    qualifiers: dict[str, Qualifier] = {}
    value: Measured | None = None
    doubts: tuple[Doubt, ...] = ()
    untold: tuple[str, ...] = Field(
        default=(), description='what a reviewer could not tell, as it is printed: "side not stated"'
    )
    evidence: tuple[Evidence, ...] = ()


class Patient(Value):
    name: str | None = None
    species: Literal["dog", "cat"] | None = None
    breed: str | None = None
    sex: Literal["male", "female"] | None = None
    neutered: bool | None = None
    age: Quantity | None = None


class Encounter(Value):
    time: datetime | None = None
    reason: str | None = None
    clinician: str | None = None
    conditions: tuple[str, ...] = ()


class Other(Value):
    """Talk that is no finding, kept word for word."""

    history: tuple[Evidence, ...] = ()
    plan: tuple[Evidence, ...] = ()
    advice: tuple[Evidence, ...] = ()
    procedures: tuple[Evidence, ...] = ()
    laboratory: tuple[Evidence, ...] = ()
    assessment: tuple[Evidence, ...] = ()
    general: tuple[Evidence, ...] = ()


class Coverage(Value):
    """Names of sites. A site that was tried and could not be examined counts as recorded: its observation says so."""

    recorded: tuple[str, ...] = ()
    not_recorded: tuple[str, ...] = ()


class Gap(Value):
    start: float
    end: float
    why: str


class Unheard(Value):
    """A stretch that gave no words ("silence", "noise", "no words"), or whose words were not kept ("not kept")."""

    start: float
    end: float
    kind: str
    text: str = ""


class Sound(Value):
    seconds: float
    gaps: tuple[Gap, ...] = ()
    unheard: tuple[Unheard, ...] = ()
    warnings: tuple[str, ...] = ()


class Source(Value):
    """What the record was drafted from. `notes` are things a reader must know of it (how a text's bytes were read)."""

    name: str
    kind: Literal["text", "sound"]
    sha256: str
    notes: tuple[str, ...] = ()


class MadeBy(Value):
    program: str
    version: str
    rule_set: str = Field(description="short hash of the lexicon's tables that were used")
    model: str | None = Field(default=None, description="the speech model; null for a text")
    settings: dict[str, str] = {}


class Review(Value):
    """A mark that a person has looked at the record. A record with any mark is never drafted over.

    `about` holds the ids of the observations that the decision was about."""

    by: str
    time: datetime
    what: str
    about: tuple[str, ...] = ()


class Signature(Value):
    """Who signed, as what, when, and over which content: `over` is
    `dictate.exam.content.content_hash` of the record."""

    by: str
    role: str = ""
    time: datetime
    over: str


class Amends(Value):
    """The signed record that this one amends or declares entered in error, by its content's hash, and why."""

    over: str
    reason: str


class SpokenAnswer(Value):
    """A doubt that was answered aloud during the exam. It counts as a decision until a reviewer undoes it; the draft
    itself keeps the doubt. Seconds of the recording; what was said is told by `does` and `choice` alone."""

    observations: tuple[str, ...]
    doubt: Doubt
    does: Literal["settle", "remove"]
    choice: str = ""
    start: float
    end: float
    time: datetime


class Record(Value):
    schema_: Literal["exam-record/1"] = Field(default=SCHEMA, alias="schema")
    id: str
    status: Literal["preliminary", "final", "amended", "entered-in-error"] = "preliminary"
    drafted: datetime
    patient: Patient = Patient()
    encounter: Encounter = Encounter()
    form: Literal["general"] = "general"
    observations: tuple[Observation, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()
    dismissed: tuple[Unplaced, ...] = Field(
        default=(), description="phrases that a reviewer looked at and left unplaced"
    )
    other: Other = Other()
    coverage: Coverage = Coverage()
    source: Source
    sound: Sound | None = None
    made_by: MadeBy
    talk: str | None = Field(default=None, description="the whole talk; null where it is not kept any more")
    spoken: tuple[SpokenAnswer, ...] = Field(
        default=(), description="answers spoken during the exam, in force unless a reviewer has undone them"
    )
    review: tuple[Review, ...] = ()
    signature: Signature | None = None
    amends: Amends | None = None


def to_json(record: Record) -> str:
    """The record as JSON text, the same for the same record, with a seal over its content (see `is_untouched`)."""
    data = record.model_dump(mode="json")
    return json.dumps({**data, "seal": seal(data)}, indent=2, ensure_ascii=False) + "\n"


def from_json(text: str) -> Record:
    """The record of a written file. Raises ValueError (json or pydantic) where it is none."""
    data = json.loads(text)
    if isinstance(data, dict):
        data.pop("seal", None)
    return Record.model_validate(data)


def seal(data: dict[str, Any]) -> str:
    """SHA-256 over a record's content, less the seal and the drafting time: drafting again gives the same seal.

    It tells a touched draft from an untouched one; it is no signature.
    """
    content = {key: value for key, value in data.items() if key not in ("seal", "drafted")}
    return hashlib.sha256(json.dumps(content, sort_keys=True, ensure_ascii=False).encode()).hexdigest()


def is_untouched(data: Any) -> bool:
    """Whether a written record is still the machine's own draft: preliminary, without a review mark, its seal whole."""
    return (
        isinstance(data, dict)
        and data.get("status") == "preliminary"
        and not data.get("review")
        and data.get("seal") == seal(data)
    )


def json_schema() -> dict[str, Any]:
    """The published JSON Schema of NAME.record.json (draft 2020-12)."""
    schema = Record.model_json_schema(mode="serialization", by_alias=True)
    schema["properties"]["seal"] = {
        "type": "string",
        "description": "SHA-256 of the content without this field and the drafting time",
    }
    return {"$schema": SCHEMA_DIALECT, "$id": f"urn:{SCHEMA}", **schema, "title": "Drafted veterinary exam record"}
