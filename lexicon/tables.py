"""The tables of the lexicon: one small class for a row of each, and `Lexicon`, which only gathers them.

A column is a field; its type says what a cell may hold (see `loader.read_cell`). `replaces` names the columns by which
a practice's own row takes the place of shipped ones; `unique` those that no two rows of one table may share.
To add a table: add its row class here, a field of the same name as the file to `Lexicon`, and the file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import ClassVar, Literal, NewType

SiteName = NewType("SiteName", str)
FindingName = NewType("FindingName", str)
Source = NewType("Source", str)  # where a fact comes from; never empty (see `loader.read_source`)
Words = NewType("Words", str)  # a phrase as people say it; lower case where case carries no meaning


@dataclass(frozen=True, slots=True)
class Row:
    """What the rows of every table have in common."""

    replaces: ClassVar[tuple[str, ...]] = ("words",)
    unique: ClassVar[tuple[str, ...]] = ("words",)


@dataclass(frozen=True, slots=True)
class Site(Row):
    """A place that is examined, or a measured value."""

    site: str
    region: str
    paired: bool
    applies_to: tuple[str, ...]  # empty: every patient; else words of sex or species
    note: str
    source: Source
    replaces: ClassVar = ("site",)
    unique: ClassVar = ("site",)


@dataclass(frozen=True, slots=True)
class Finding(Row):
    """Something found or found absent; `home` is the site it belongs to when none was named."""

    finding: str
    where: tuple[str, ...]
    home: SiteName | None
    note: str
    source: Source
    replaces: ClassVar = ("finding",)
    unique: ClassVar = ("finding",)


@dataclass(frozen=True, slots=True)
class SiteWords(Row):
    words: Words
    site: SiteName
    side: Literal["left", "right", "both"] | None
    number: Literal["singular", "plural"] | None
    note: str
    unique: ClassVar = ("words", "site", "side")


@dataclass(frozen=True, slots=True)
class FindingWords(Row):
    words: Words
    finding: FindingName
    site: SiteName | None
    present: bool | None
    qualifiers: Mapping[str, str]
    note: str
    unique: ClassVar = ("words", "finding", "site")


@dataclass(frozen=True, slots=True)
class NormalWords(Row):
    words: Words
    site: SiteName | None
    implies: str
    note: str
    replaces: ClassVar = ("words", "site")
    unique: ClassVar = ("words", "site", "implies")


@dataclass(frozen=True, slots=True)
class SiteFinding(Row):
    site: SiteName
    finding: FindingName
    becomes: str
    source: Source
    replaces: ClassVar = ("site", "finding")
    unique: ClassVar = ("site", "finding")


@dataclass(frozen=True, slots=True)
class FindingSites(Row):
    finding: FindingName
    sites: tuple[SiteName, ...]
    source: Source
    replaces: ClassVar = ("finding",)
    unique: ClassVar = ("finding",)


@dataclass(frozen=True, slots=True)
class Breed(Row):
    words: Words
    breed: str
    species: Literal["dog", "cat"]
    note: str
    source: Source


@dataclass(frozen=True, slots=True)
class PatientWords(Row):
    words: Words
    species: Literal["dog", "cat"] | None
    sex: Literal["male", "female"] | None
    neutered: bool | None
    life_stage: str


@dataclass(frozen=True, slots=True)
class SpeciesFact(Row):
    species: str
    fact: str
    value: str
    source: Source
    replaces: ClassVar = ("species", "fact")
    unique: ClassVar = ("species", "fact")


@dataclass(frozen=True, slots=True)
class Range(Row):
    """Handbook values of one measure; outside `low`..`high` is unusual, outside `far_low`..`far_high` implausible."""

    measure: SiteName
    species: str
    life_stage: str
    low: float | None
    high: float | None
    far_low: float | None
    far_high: float | None
    unit: str
    source: Source
    replaces: ClassVar = ("measure", "species", "life_stage")
    unique: ClassVar = ("measure", "species", "life_stage", "unit")


@dataclass(frozen=True, slots=True)
class Pronunciation(Row):
    """Another way in which people say a word, spelt so that a reader of English says it."""

    word: str
    said: str
    replaces: ClassVar = ("word", "said")
    unique: ClassVar = ("word", "said")


@dataclass(frozen=True, slots=True)
class Confusion(Row):
    """Two words that turn what is said and are easily taken for each other: where one was heard unsurely, the sound is
    asked about the other."""

    words: Words
    other: Words
    note: str
    replaces: ClassVar = ("words", "other")
    unique: ClassVar = ("words", "other")


@dataclass(frozen=True, slots=True)
class Mishearing(Row):
    heard: Words
    meant: str
    note: str
    replaces: ClassVar = ("heard",)
    unique: ClassVar = ("heard", "meant")


@dataclass(frozen=True, slots=True)
class Spelling(Row):
    british: str
    american: str
    replaces: ClassVar = ("british",)
    unique: ClassVar = ("british",)


@dataclass(frozen=True, slots=True)
class Cue(Row):
    words: Words
    role: str
    reach: str
    note: str
    unique: ClassVar = ("words", "role")


@dataclass(frozen=True, slots=True)
class Negation(Row):
    words: Words
    kind: str
    note: str
    unique: ClassVar = ("words", "kind")


@dataclass(frozen=True, slots=True)
class Hedge(Row):
    words: Words
    kind: str
    note: str
    unique: ClassVar = ("words", "kind")


@dataclass(frozen=True, slots=True)
class SideWords(Row):
    words: Words
    side: str
    note: str
    unique: ClassVar = ("words", "side")


@dataclass(frozen=True, slots=True)
class Edit(Row):
    words: Words
    kind: str
    note: str
    unique: ClassVar = ("words", "kind")


@dataclass(frozen=True, slots=True)
class Severity(Row):
    words: Words
    severity: str
    note: str


@dataclass(frozen=True, slots=True)
class CarryWords(Row):
    words: Words
    kind: str
    note: str
    unique: ClassVar = ("words", "kind")


@dataclass(frozen=True, slots=True)
class NotExaminedWords(Row):
    words: Words
    note: str


@dataclass(frozen=True, slots=True)
class RepeatWords(Row):
    """Words by which a second value of one measure is told to be taken later, and no contradiction."""

    words: Words
    note: str


@dataclass(frozen=True, slots=True)
class RestWords(Row):
    """Words by which praise is about what is left over, and so contradicts no finding."""

    words: Words
    note: str


@dataclass(frozen=True, slots=True)
class MeasureOf(Row):
    """A measured site: the units it is told in (usual one first), whether a bare number after its name is its value,
    and the numbers between which a bare number can be one."""

    site: SiteName
    units: tuple[str, ...]
    bare: bool
    low: float
    high: float
    note: str
    source: Source
    replaces: ClassVar = ("site",)
    unique: ClassVar = ("site",)


@dataclass(frozen=True, slots=True)
class LimbWords(Row):
    """Words that tell whether a limb, paw, nail ... is a front or a hind one."""

    words: Words
    limb: Literal["front", "hind", "both"]
    note: str


@dataclass(frozen=True, slots=True)
class SiteTrait(Row):
    """What else is peculiar to a site, one word a row (see the reader that asks for it)."""

    site: SiteName
    trait: str
    note: str
    source: Source
    replaces: ClassVar = ("site", "trait")
    unique: ClassVar = ("site", "trait")


@dataclass(frozen=True, slots=True)
class Condition(Row):
    """Words for a state that the exam was made under, printed beside the values."""

    words: Words
    condition: str
    note: str


@dataclass(frozen=True, slots=True)
class Container(Row):
    """A site that holds others: talk of it sets the side for those it holds."""

    site: SiteName
    holds: tuple[SiteName, ...]
    note: str
    source: Source
    replaces: ClassVar = ("site",)
    unique: ClassVar = ("site",)


@dataclass(frozen=True, slots=True)
class Unit(Row):
    form: Words
    ucum: str
    quantity: str
    article: str
    other: str
    source: Source
    replaces: ClassVar = ("form",)
    unique: ClassVar = ("form", "ucum")


@dataclass(frozen=True, slots=True)
class NumberWord(Row):
    word: Words
    kind: str
    value: str
    source: Source
    replaces: ClassVar = ("word", "kind")
    unique: ClassVar = ("word", "kind", "value")


@dataclass(frozen=True, slots=True)
class Scale(Row):
    cue: Words
    kind: str
    scale: str
    source: Source
    replaces: ClassVar = ("cue", "kind")
    unique: ClassVar = ("cue", "kind")


@dataclass(frozen=True, slots=True)
class Tooth(Row):
    """A tooth that a species has, by its modified Triadan number."""

    species: Literal["dog", "cat"]
    tooth: str
    name: str
    source: Source
    replaces: ClassVar = ("species", "tooth")
    unique: ClassVar = ("species", "tooth")


@dataclass(frozen=True, slots=True)
class ToothWords(Row):
    word: Words
    part: str
    value: str
    source: Source
    replaces: ClassVar = ("word", "part")
    unique: ClassVar = ("word", "part", "value")


@dataclass(frozen=True, slots=True)
class PlainWords(Row):
    """What a term says in plain words, for an owner; empty where the term is a plain word itself. A "word" is one that
    stands inside names of teeth."""

    kind: Literal["site", "finding", "word"]
    name: Words
    plain: str
    source: Source
    replaces: ClassVar = ("kind", "name")
    unique: ClassVar = ("kind", "name")


@dataclass(frozen=True, slots=True)
class AnaesthesiaSite(Row):
    """A site that whoever anaesthetises must know of, and the group in which the sheet shows it."""

    site: SiteName
    group: Words
    note: str
    source: Source
    replaces: ClassVar = ("site",)
    unique: ClassVar = ("site",)


@dataclass(frozen=True, slots=True)
class PhysicalStatusWords(Row):
    """Words by which a physical status class is told."""

    words: Words
    note: str
    source: Source


@dataclass(frozen=True, slots=True)
class Introduction(Row):
    """Words around the place where one recording goes on with another patient: "surely" says so itself, "next" says so
    beside a detail of the patient, "opens" is how an exam begins, "closes" how one ends."""

    words: Words
    kind: Literal["surely", "next", "opens", "closes"]
    note: str


@dataclass(frozen=True, slots=True)
class PartWords(Row):
    """Words before the number of a part in the name of a recording, where one exam lies in several files."""

    words: Words
    note: str


@dataclass(frozen=True, slots=True)
class VitalSignCode(Row):
    """The LOINC code of a measured site, and the UCUM units that its FHIR profile allows. `part` names a component:
    "value" for the observation's own value, else the name of a qualifier."""

    site: SiteName
    part: str
    code: Words
    display: str
    units: tuple[str, ...]
    profile: str
    source: Source
    replaces: ClassVar = ("site", "part")
    unique: ClassVar = ("site", "part")


@dataclass(frozen=True, slots=True)
class OrderWords(Row):
    """What is said behind the wake word, and the order that it is. "wake" is the word itself, "courtesy" may be added.
    The column is no `words`: what is said to the program is no usual word of a talk."""

    said: Words
    order: Literal["wake", "courtesy", "pause", "resume", "go back", "read back", "missing", "ask", "finish"]
    note: str
    replaces: ClassVar = ("said",)
    unique: ClassVar = ("said",)


@dataclass(frozen=True, slots=True)
class AnswerWords(Row):
    """A whole utterance that answers a question of the room display. "number" stands before a question's number."""

    said: Words
    answer: str
    note: str
    replaces: ClassVar = ("said",)
    unique: ClassVar = ("said",)


@dataclass(frozen=True, slots=True)
class Lexicon:
    """All tables, each a tuple of rows in file order. `rule_set` names the exact content (a short hash)."""

    sites: tuple[Site, ...] = ()
    findings: tuple[Finding, ...] = ()
    site_words: tuple[SiteWords, ...] = ()
    finding_words: tuple[FindingWords, ...] = ()
    normal_words: tuple[NormalWords, ...] = ()
    site_findings: tuple[SiteFinding, ...] = ()
    finding_sites: tuple[FindingSites, ...] = ()
    breeds: tuple[Breed, ...] = ()
    patient_words: tuple[PatientWords, ...] = ()
    species_facts: tuple[SpeciesFact, ...] = ()
    ranges: tuple[Range, ...] = ()
    mishearings: tuple[Mishearing, ...] = ()
    pronunciations: tuple[Pronunciation, ...] = ()
    confusions: tuple[Confusion, ...] = ()
    spelling: tuple[Spelling, ...] = ()
    cues: tuple[Cue, ...] = ()
    negation: tuple[Negation, ...] = ()
    hedges: tuple[Hedge, ...] = ()
    sides: tuple[SideWords, ...] = ()
    edits: tuple[Edit, ...] = ()
    severity: tuple[Severity, ...] = ()
    carry: tuple[CarryWords, ...] = ()
    not_examined: tuple[NotExaminedWords, ...] = ()
    repeat_words: tuple[RepeatWords, ...] = ()
    rest_words: tuple[RestWords, ...] = ()
    units: tuple[Unit, ...] = ()
    number_words: tuple[NumberWord, ...] = ()
    scales: tuple[Scale, ...] = ()
    teeth: tuple[Tooth, ...] = ()
    tooth_words: tuple[ToothWords, ...] = ()
    measures: tuple[MeasureOf, ...] = ()
    containers: tuple[Container, ...] = ()
    limb_words: tuple[LimbWords, ...] = ()
    site_traits: tuple[SiteTrait, ...] = ()
    conditions: tuple[Condition, ...] = ()
    plain_words: tuple[PlainWords, ...] = ()
    anaesthesia_sites: tuple[AnaesthesiaSite, ...] = ()
    physical_status_words: tuple[PhysicalStatusWords, ...] = ()
    vital_sign_codes: tuple[VitalSignCode, ...] = ()
    introductions: tuple[Introduction, ...] = ()
    part_words: tuple[PartWords, ...] = ()
    order_words: tuple[OrderWords, ...] = ()
    answer_words: tuple[AnswerWords, ...] = ()
    rule_set: str = field(default="", metadata={"table": False})
