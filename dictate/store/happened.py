"""What happened to a visit, step by step, from the chain; and notes of other things that happened."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, select

from dictate.store.chain import Head, Writer, head_of, time_of
from dictate.store.opening import Store
from dictate.store.people import Account, names_of
from dictate.store.tables import (
    chain,
    consents,
    decisions,
    drafts,
    erasures,
    events,
    recordings,
    records,
    visit_states,
    visits,
)
from dictate.store.texts import clean
from dictate.store.visits import visit_of


@dataclass(frozen=True, slots=True)
class Step:
    """One entry of the chain about a visit: who did what, when and why."""

    number: int
    at: datetime
    by: str
    what: str
    why: str


def head(store: Store) -> Head:
    """The newest entry of the chain, as it is printed on signed exports."""
    with store.reading() as connection:
        return head_of(connection)


def note(store: Store, kind: str, *, by: Account, visit_id: int | None = None, what: str = "") -> Head:
    """Keep that something happened (an export, a log-out ...); the chain's head after it."""
    kind, what = clean(kind, what="kind of event", longest=40, needed=True), clean(what, what="event", longest=500)
    with store.changing() as connection:
        if visit_id is not None:
            visit_of(connection, visit_id)
        writer = Writer(connection, by_id=by.id)
        writer.add(events, kind=kind, visit_id=visit_id, what=what)
        return writer.head


def history(store: Store, visit_id: int) -> tuple[Step, ...]:
    """Everything that happened to a visit, oldest first."""
    with store.reading() as connection:
        visit_of(connection, visit_id)
        names = names_of(connection)
        steps = [
            Step(entry.entry, time_of(entry.at), names.get(entry.by_id, "?"), _what(table, row), entry.why)
            for table, row, entry in _rows(connection, visit_id)
        ]
        return tuple(sorted(steps, key=lambda step: step.number))


def _rows(connection: Connection, visit_id: int) -> Any:
    for table in (visits, visit_states, consents, recordings, drafts, decisions, records, erasures, events):
        same = (table.c.id if table is visits else table.c.visit_id) == visit_id
        entry = (chain.c.table_name == table.name) & (chain.c.row_id == table.c.id)
        short = [c for c in table.c if c.name != "body" or table is decisions]
        entered = (chain.c.number.label("entry"), chain.c.at, chain.c.by_id, chain.c.why)
        asked = select(*short, *entered)
        for row in connection.execute(asked.join(chain, entry).where(same)):
            yield table.name, row, row


def _what(table: str, row: Row[Any]) -> str:
    if table == "visits":
        return "visit made"
    if table == "visit_states":
        return f"visit on {row.date}" if row.version == 1 else ("visit moved" if row.signature else "visit changed")
    if table == "consents":
        return f"consent to record {'given' if row.given else 'refused'}"
    if table == "recordings":
        return f"recording {row.name}: {'kept' if row.kept else row.why_not}"
    if table == "drafts":
        return "draft"
    if table == "decisions":
        return f"decision {row.number}"
    if table == "records":
        return f"signed, version {row.version}: {row.status}"
    if table == "erasures":
        return "sound and words erased"
    return f"{row.kind}{': ' if row.what else ''}{row.what}"
