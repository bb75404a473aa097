"""The first form of the tables, and the triggers that keep them append-only."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from dictate.store.triggers import REFUSE, REFUSE_UNTRACED, postgresql_triggers, sqlite_triggers

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

APPEND_ONLY = [
    "chain",
    "accounts",
    "account_states",
    "attempts",
    "patients",
    "patient_states",
    "visits",
    "visit_states",
    "consents",
    "recordings",
    "drafts",
    "decisions",
    "records",
    "erasures",
    "settings",
    "events",
    "record_sites",
]


def upgrade() -> None:
    tables()
    if op.get_bind().dialect.name == "sqlite":
        statements = list(sqlite_triggers(APPEND_ONLY).values())
    else:
        statements = [REFUSE, REFUSE_UNTRACED, *postgresql_triggers(APPEND_ONLY).values()]
    for statement in statements:
        op.execute(sa.text(statement))


def tables() -> None:
    op.create_table(
        "accounts",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("folded", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_accounts"),
        sa.UniqueConstraint("folded", name="uq_accounts_folded"),
    )
    op.create_table(
        "chain",
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("table_name", sa.Text(), nullable=False),
        sa.Column("row_id", sa.Integer(), nullable=False),
        sa.Column("row_hash", sa.Text(), nullable=False),
        sa.Column("previous", sa.Text(), nullable=False),
        sa.Column("hash", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_chain"),
        sa.UniqueConstraint("table_name", "row_id", name="uq_chain_table_name_row_id"),
    )
    op.create_table(
        "patients",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("made", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_patients"),
    )
    op.create_table(
        "settings",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_settings"),
    )
    op.create_index("ix_settings_name", "settings", ["name"], unique=False)
    op.create_table(
        "visits",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("made", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_visits"),
    )
    op.create_table(
        "account_states",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("account_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("roles", sa.Text(), nullable=False),
        sa.Column("password", sa.Text(), nullable=False),
        sa.Column("pin", sa.Text(), nullable=False),
        sa.Column("active", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["account_id"], ["accounts.id"], name="fk_account_states_account_id"),
        sa.PrimaryKeyConstraint("id", name="pk_account_states"),
        sa.UniqueConstraint("account_id", "version", name="uq_account_states_account_id_version"),
    )
    op.create_table(
        "attempts",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("account_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("outcome", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["account_id"], ["accounts.id"], name="fk_attempts_account_id"),
        sa.PrimaryKeyConstraint("id", name="pk_attempts"),
    )
    op.create_index("ix_attempts_account_id_id", "attempts", ["account_id", "id"], unique=False)
    op.create_table(
        "consents",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("given", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visits.id"], name="fk_consents_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_consents"),
    )
    op.create_index("ix_consents_visit_id", "consents", ["visit_id"], unique=False)
    op.create_table(
        "erasures",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("rule", sa.Text(), nullable=False),
        sa.Column("sounds", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visits.id"], name="fk_erasures_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_erasures"),
    )
    op.create_index("ix_erasures_visit_id", "erasures", ["visit_id"], unique=False)
    op.create_table(
        "events",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=True),
        sa.Column("what", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visits.id"], name="fk_events_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_events"),
    )
    op.create_index("ix_events_visit_id", "events", ["visit_id"], unique=False)
    op.create_table(
        "patient_now",
        sa.Column("patient_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("name_folded", sa.Text(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("practice_number", sa.Text(), nullable=True),
        sa.Column("microchip", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_patient_now_patient_id"),
        sa.PrimaryKeyConstraint("patient_id", name="pk_patient_now"),
        sa.UniqueConstraint("microchip", name="uq_patient_now_microchip"),
        sa.UniqueConstraint("practice_number", name="uq_patient_now_practice_number"),
    )
    op.create_index("ix_patient_now_name_folded", "patient_now", ["name_folded"], unique=False)
    op.create_table(
        "patient_states",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("species", sa.Text(), nullable=False),
        sa.Column("breed", sa.Text(), nullable=False),
        sa.Column("sex", sa.Text(), nullable=False),
        sa.Column("neutered", sa.Text(), nullable=False),
        sa.Column("born", sa.Text(), nullable=False),
        sa.Column("practice_number", sa.Text(), nullable=False),
        sa.Column("microchip", sa.Text(), nullable=False),
        sa.Column("owner", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_patient_states_patient_id"),
        sa.PrimaryKeyConstraint("id", name="pk_patient_states"),
        sa.UniqueConstraint("patient_id", "version", name="uq_patient_states_patient_id_version"),
    )
    op.create_table(
        "recordings",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("kept", sa.Integer(), nullable=False),
        sa.Column("why_not", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visits.id"], name="fk_recordings_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_recordings"),
    )
    op.create_index("ix_recordings_sha256", "recordings", ["sha256"], unique=False)
    op.create_index("ix_recordings_visit_id", "recordings", ["visit_id"], unique=False)
    op.create_table(
        "visit_states",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=True),
        sa.Column("date", sa.Text(), nullable=False),
        sa.Column("time", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("clinician", sa.Text(), nullable=False),
        sa.Column("joined_to", sa.Integer(), nullable=True),
        sa.Column("signature", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["joined_to"], ["visits.id"], name="fk_visit_states_joined_to"),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_visit_states_patient_id"),
        sa.ForeignKeyConstraint(["visit_id"], ["visits.id"], name="fk_visit_states_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_visit_states"),
        sa.UniqueConstraint("visit_id", "version", name="uq_visit_states_visit_id_version"),
    )
    op.create_table(
        "words",
        sa.Column("hash", sa.Text(), nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visits.id"], name="fk_words_visit_id"),
        sa.PrimaryKeyConstraint("hash", name="pk_words"),
    )
    op.create_index("ix_words_visit_id", "words", ["visit_id"], unique=False)
    op.create_table(
        "drafts",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.Column("source_sha256", sa.Text(), nullable=False),
        sa.Column("seal", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("words_hash", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recordings.id"], name="fk_drafts_recording_id"),
        sa.ForeignKeyConstraint(["visit_id"], ["visits.id"], name="fk_drafts_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_drafts"),
    )
    op.create_index("ix_drafts_source_sha256", "drafts", ["source_sha256"], unique=False)
    op.create_index("ix_drafts_visit_id", "drafts", ["visit_id"], unique=False)
    op.create_table(
        "decisions",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("draft_id", sa.Integer(), nullable=False),
        sa.Column("base_version", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("words_hash", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["draft_id"], ["drafts.id"], name="fk_decisions_draft_id"),
        sa.ForeignKeyConstraint(["visit_id"], ["visits.id"], name="fk_decisions_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_decisions"),
        sa.UniqueConstraint("draft_id", "base_version", "number", name="uq_decisions_draft_id_base_version_number"),
    )
    op.create_index("ix_decisions_visit_id", "decisions", ["visit_id"], unique=False)
    op.create_table(
        "records",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("status", sa.Text(), nullable=False),
        sa.Column("draft_id", sa.Integer(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=False),
        sa.Column("amends", sa.Integer(), nullable=True),
        sa.Column("signature", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("words_hash", sa.Text(), nullable=False),
        sa.Column("listing_hash", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["amends"], ["records.id"], name="fk_records_amends"),
        sa.ForeignKeyConstraint(["draft_id"], ["drafts.id"], name="fk_records_draft_id"),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_records_patient_id"),
        sa.ForeignKeyConstraint(["visit_id"], ["visits.id"], name="fk_records_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_records"),
        sa.UniqueConstraint("visit_id", "version", name="uq_records_visit_id_version"),
    )
    op.create_table(
        "record_sites",
        sa.Column("record_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("place", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("date", sa.Text(), nullable=False),
        sa.Column("site", sa.Text(), nullable=False),
        sa.Column("side", sa.Text(), nullable=False),
        sa.Column("status", sa.Text(), nullable=False),
        sa.Column("finding", sa.Text(), nullable=False),
        sa.Column("present", sa.Integer(), nullable=False),
        sa.Column("told", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["record_id"], ["records.id"], name="fk_record_sites_record_id"),
        sa.PrimaryKeyConstraint("record_id", "place", name="pk_record_sites"),
    )
    op.create_index("ix_record_sites_both", "record_sites", ["finding", "site", "date", "record_id"], unique=False)
    op.create_index("ix_record_sites_finding", "record_sites", ["finding", "date", "record_id"], unique=False)
    op.create_index("ix_record_sites_record", "record_sites", ["record_id", "finding"], unique=False)
    op.create_index("ix_record_sites_site", "record_sites", ["site", "date", "record_id"], unique=False)
    op.create_table(
        "visit_now",
        sa.Column("visit_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=True),
        sa.Column("date", sa.Text(), nullable=False),
        sa.Column("time", sa.Text(), nullable=False),
        sa.Column("status", sa.Text(), nullable=False),
        sa.Column("draft_id", sa.Integer(), nullable=True),
        sa.Column("record_id", sa.Integer(), nullable=True),
        sa.Column("record_version", sa.Integer(), nullable=False),
        sa.Column("open_doubts", sa.Integer(), nullable=False),
        sa.Column("unplaced", sa.Integer(), nullable=False),
        sa.Column("not_recorded", sa.Integer(), nullable=False),
        sa.Column("told_name", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["draft_id"], ["drafts.id"], name="fk_visit_now_draft_id"),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], name="fk_visit_now_patient_id"),
        sa.ForeignKeyConstraint(["record_id"], ["records.id"], name="fk_visit_now_record_id"),
        sa.ForeignKeyConstraint(["visit_id"], ["visits.id"], name="fk_visit_now_visit_id"),
        sa.PrimaryKeyConstraint("visit_id", name="pk_visit_now"),
        sa.UniqueConstraint("record_id", name="uq_visit_now_record_id"),
    )
    op.create_index("ix_visit_now_day", "visit_now", ["date", "time", "visit_id"], unique=False)
    op.create_index("ix_visit_now_patient", "visit_now", ["patient_id", "date"], unique=False)
    op.create_index("ix_visit_now_status", "visit_now", ["status", "date", "visit_id"], unique=False)
