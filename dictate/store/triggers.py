"""The database's own refusal to change or delete what was kept: said once for the migration and for `verify`."""

from __future__ import annotations

APPENDED = "what was kept is never changed or deleted"
TRACED = "words are deleted only after an erasure was entered"
ERASED = "EXISTS (SELECT 1 FROM erasures WHERE erasures.visit_id = OLD.visit_id)"


def sqlite_triggers(append_only: list[str]) -> dict[str, str]:
    """The statements that make them, by the trigger's name, for SQLite."""
    made = {}
    for table in append_only:
        for change in ("UPDATE", "DELETE"):
            name = f"{table}_no_{change.lower()}"
            made[name] = (
                f"CREATE TRIGGER {name} BEFORE {change} ON {table} BEGIN SELECT RAISE(ABORT, '{APPENDED}'); END"
            )
    made["words_no_update"] = (
        f"CREATE TRIGGER words_no_update BEFORE UPDATE ON words BEGIN SELECT RAISE(ABORT, '{APPENDED}'); END"
    )
    made["words_traced"] = (
        f"CREATE TRIGGER words_traced BEFORE DELETE ON words WHEN NOT {ERASED} "
        f"BEGIN SELECT RAISE(ABORT, '{TRACED}'); END"
    )
    return made


REFUSE = f"""CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{APPENDED}'; END $$"""
REFUSE_UNTRACED = f"""CREATE FUNCTION refuse_untraced() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN IF NOT {ERASED} THEN RAISE EXCEPTION '{TRACED}'; END IF; RETURN OLD; END $$"""


def postgresql_triggers(append_only: list[str]) -> dict[str, str]:
    """The same for PostgreSQL; the functions `REFUSE` and `REFUSE_UNTRACED` must be there before."""
    made = {}
    for table in append_only:
        rows, whole = f"{table}_no_change", f"{table}_no_truncate"
        made[rows] = (
            f"CREATE TRIGGER {rows} BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW EXECUTE FUNCTION refuse_change()"
        )
        made[whole] = f"CREATE TRIGGER {whole} BEFORE TRUNCATE ON {table} EXECUTE FUNCTION refuse_change()"
    made["words_no_update"] = (
        "CREATE TRIGGER words_no_update BEFORE UPDATE ON words FOR EACH ROW EXECUTE FUNCTION refuse_change()"
    )
    made["words_no_truncate"] = (
        "CREATE TRIGGER words_no_truncate BEFORE TRUNCATE ON words EXECUTE FUNCTION refuse_change()"
    )
    made["words_traced"] = (
        "CREATE TRIGGER words_traced BEFORE DELETE ON words FOR EACH ROW EXECUTE FUNCTION refuse_untraced()"
    )
    return made
