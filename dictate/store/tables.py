"""The tables, as SQLAlchemy sees them. They are made by the migrations; a test holds both against each other.

What people did is only ever appended: a patient, a visit or an account has one row of its states for each change.
Who, when and why stand in the chain, which has one entry for each such row. `patient_now` and `visit_now` say what is
true now; they follow from the rest, can be made again from it, and are checked against it.
"""

from __future__ import annotations

from sqlalchemy import Column, ForeignKey, Index, Integer, MetaData, Table, Text, UniqueConstraint

meta = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _id() -> Column[int]:
    return Column("id", Integer, primary_key=True, autoincrement=False)


def _of(name: str, target: str, *, optional: bool = False) -> Column[int]:
    return Column(name, Integer, ForeignKey(target), nullable=optional)


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


def _number(name: str) -> Column[int]:
    return Column(name, Integer, nullable=False)


chain = Table(
    "chain",
    meta,
    Column("number", Integer, primary_key=True, autoincrement=False),
    _text("at"),
    _number("by_id"),  # 0: the program itself
    _text("why"),
    _text("table_name"),
    _number("row_id"),
    _text("row_hash"),
    _text("previous"),
    _text("hash"),
    UniqueConstraint("table_name", "row_id"),
)

accounts = Table("accounts", meta, _id(), _text("name"), _text("folded"), UniqueConstraint("folded"))

account_states = Table(
    "account_states",
    meta,
    _id(),
    _of("account_id", "accounts.id"),
    _number("version"),
    _text("title"),  # printed beside the name in a signature
    _text("roles"),  # words with a blank between
    _text("password"),  # argon2, as PHC string
    _text("pin"),
    _number("active"),
    UniqueConstraint("account_id", "version"),
)

attempts = Table(
    "attempts",
    meta,
    _id(),
    _of("account_id", "accounts.id"),
    _text("at"),
    _text("outcome"),  # "begun" or "passed"
    Index(None, "account_id", "id"),
)

patients = Table("patients", meta, _id(), _text("made"))

patient_states = Table(
    "patient_states",
    meta,
    _id(),
    _of("patient_id", "patients.id"),
    _number("version"),
    _text("name"),
    _text("species"),
    _text("breed"),
    _text("sex"),
    _text("neutered"),
    _text("born"),
    _text("practice_number"),
    _text("microchip"),
    _text("owner"),
    UniqueConstraint("patient_id", "version"),
)

visits = Table("visits", meta, _id(), _text("made"))

visit_states = Table(
    "visit_states",
    meta,
    _id(),
    _of("visit_id", "visits.id"),
    _number("version"),
    _of("patient_id", "patients.id", optional=True),
    _text("date"),
    _text("time"),
    _text("reason"),
    _text("clinician"),
    _of("joined_to", "visits.id", optional=True),  # the visit that this planned one turned out to be
    _text("signature"),  # JSON, of a move to another patient; else empty
    UniqueConstraint("visit_id", "version"),
)

consents = Table("consents", meta, _id(), _of("visit_id", "visits.id"), _number("given"), Index(None, "visit_id"))

recordings = Table(
    "recordings",
    meta,
    _id(),
    _of("visit_id", "visits.id"),
    _text("sha256"),
    _text("name"),
    _number("size"),
    _number("kept"),
    _text("why_not"),
    Index(None, "visit_id"),
    Index(None, "sha256"),
)

drafts = Table(
    "drafts",
    meta,
    _id(),
    _of("visit_id", "visits.id"),
    _of("recording_id", "recordings.id", optional=True),
    _text("source_sha256"),
    _text("seal"),
    _text("body"),
    _text("words_hash"),
    Index(None, "visit_id"),
    Index(None, "source_sha256"),
)

decisions = Table(
    "decisions",
    meta,
    _id(),
    _of("visit_id", "visits.id"),
    _of("draft_id", "drafts.id"),
    _number("base_version"),  # the signed version that they change; 0 for the draft
    _number("number"),
    _text("body"),
    _text("words_hash"),
    UniqueConstraint("draft_id", "base_version", "number"),
    Index(None, "visit_id"),
)

records = Table(
    "records",
    meta,
    _id(),
    _of("visit_id", "visits.id"),
    _number("version"),
    _text("status"),
    _of("draft_id", "drafts.id"),
    _of("patient_id", "patients.id"),
    _of("amends", "records.id", optional=True),
    _text("signature"),
    _text("body"),
    _text("words_hash"),
    _text("listing_hash"),
    UniqueConstraint("visit_id", "version"),
)

record_sites = Table(
    "record_sites",
    meta,
    Column("record_id", Integer, ForeignKey("records.id"), primary_key=True, autoincrement=False),
    Column("place", Integer, primary_key=True, autoincrement=False),
    _text("date"),
    _text("site"),
    _text("side"),
    _text("status"),
    _text("finding"),
    _number("present"),
    _text("told"),
    Index("ix_record_sites_site", "site", "date", "record_id"),
    Index("ix_record_sites_finding", "finding", "date", "record_id"),
    Index("ix_record_sites_both", "finding", "site", "date", "record_id"),
    Index("ix_record_sites_record", "record_id", "finding"),
)

words = Table(
    "words",
    meta,
    Column("hash", Text, primary_key=True),
    _of("visit_id", "visits.id"),
    _text("body"),
    Index(None, "visit_id"),
)

erasures = Table(
    "erasures", meta, _id(), _of("visit_id", "visits.id"), _text("rule"), _text("sounds"), Index(None, "visit_id")
)

settings = Table("settings", meta, _id(), _text("name"), _text("value"), Index(None, "name"))

events = Table(
    "events",
    meta,
    _id(),
    _text("kind"),
    _of("visit_id", "visits.id", optional=True),
    _text("what"),
    Index(None, "visit_id"),
)

patient_now = Table(
    "patient_now",
    meta,
    Column("patient_id", Integer, ForeignKey("patients.id"), primary_key=True, autoincrement=False),
    _number("version"),
    _text("name_folded"),
    _text("words"),
    Column("practice_number", Text, nullable=True),
    Column("microchip", Text, nullable=True),
    UniqueConstraint("practice_number"),
    UniqueConstraint("microchip"),
    Index(None, "name_folded"),
)

visit_now = Table(
    "visit_now",
    meta,
    Column("visit_id", Integer, ForeignKey("visits.id"), primary_key=True, autoincrement=False),
    _number("version"),
    _of("patient_id", "patients.id", optional=True),
    _text("date"),
    _text("time"),
    _text("status"),
    _of("draft_id", "drafts.id", optional=True),
    _of("record_id", "records.id", optional=True),
    _number("record_version"),
    _number("open_doubts"),
    _number("unplaced"),
    _number("not_recorded"),
    _text("told_name"),
    _text("source"),
    UniqueConstraint("record_id"),
    Index("ix_visit_now_day", "date", "time", "visit_id"),
    Index("ix_visit_now_patient", "patient_id", "date"),
    Index("ix_visit_now_status", "status", "date", "visit_id"),
)

# Every row of these has an entry in the chain, in the order in which rows of one transaction are written.
CHAINED: tuple[Table, ...] = (
    accounts,
    account_states,
    attempts,
    patients,
    patient_states,
    visits,
    visit_states,
    consents,
    recordings,
    drafts,
    decisions,
    records,
    erasures,
    settings,
    events,
)
APPEND_ONLY: tuple[Table, ...] = (chain, *CHAINED, record_sites)
LONG = ("body",)  # columns that stand in a row's hash by their own hash
