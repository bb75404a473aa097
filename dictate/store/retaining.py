"""How long sound and words are kept: a rule that an administrator states. Without one, they are kept."""

from __future__ import annotations

import json
import time
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock
from pathlib import Path

from sqlalchemy import and_, exists, or_, select

from dictate.errors import InputError
from dictate.store.canonical import canonical
from dictate.store.chain import Writer, stamp
from dictate.store.erasing import Erased, delete_erased, enter_erasure, erased_sounds
from dictate.store.opening import Store
from dictate.store.people import PROGRAM, Account, need
from dictate.store.sounds import file_of, kept_hashes
from dictate.store.tables import chain, erasures, recordings, settings, visit_now, words
from dictate.store.texts import clean

NAME = "retention"
LEAST, MOST = 0, 36_500
ORPHAN_SECONDS = 86_400  # a file that no recording names after a day was left by a crash


@dataclass(frozen=True, slots=True)
class Rule:
    """Sound and words are erased `days` days after the last signature. A visit that nobody signed keeps them."""

    days: int

    def __str__(self) -> str:
        return f"sound and words are kept {self.days} days after the last signature"


def set_retention(store: Store, days: int, *, by: Account, why: str = "") -> Rule:
    """State the rule; each is kept with who and when."""
    need(by, "administrator")
    if not LEAST <= days <= MOST:
        raise InputError(f"must be from {LEAST} to {MOST} days, not {days}", where="retention")
    with store.changing() as connection:
        writer = Writer(connection, by_id=by.id)
        writer.add(settings, why=clean(why, what="reason"), name=NAME, value=canonical({"days": days}))
    return Rule(days)


def retention(store: Store) -> Rule | None:
    """The newest rule, or None where none was stated."""
    with store.reading() as connection:
        newest = select(settings.c.value).where(settings.c.name == NAME).order_by(settings.c.id.desc()).limit(1)
        found = connection.execute(newest).scalar()
    return Rule(int(json.loads(found)["days"])) if found else None


def due(store: Store, today: date) -> tuple[int, ...]:
    """The visits whose sound and words the rule lets go on this day; none where there is no rule."""
    rule = retention(store)
    if rule is None:
        return ()
    signed_at = and_(chain.c.table_name == "records", chain.c.row_id == visit_now.c.record_id)
    has_words = exists().where(words.c.visit_id == visit_now.c.visit_id)
    has_sound = exists().where(recordings.c.visit_id == visit_now.c.visit_id, recordings.c.kept == 1)
    was_erased = exists().where(erasures.c.visit_id == visit_now.c.visit_id)
    found = (
        select(visit_now.c.visit_id)
        .join(chain, signed_at)
        .where(chain.c.at < stamp(_until(rule, today)), or_(has_words, and_(has_sound, ~was_erased)))
        .order_by(visit_now.c.visit_id)
    )
    with store.reading() as connection:
        return tuple(connection.execute(found).scalars())


def erase_due(store: Store, today: date, *, cache: Path | None = None) -> Erased:
    """Follow the rule: enter each erasure, delete the words, then the files, and what the recogniser's cache holds of
    them or has held longer than the rule allows. Files that a crash left behind go too, even where there is no rule."""
    rule = retention(store)
    visits = due(store, today)
    for visit_id in visits:
        with store.changing() as connection:
            enter_erasure(Writer(connection, by_id=PROGRAM.id), visit_id, str(rule))
    done = delete_erased(store, _unwanted(store), cache=cache, older_than=_until(rule, today) if rule else None)
    return Erased(len(visits), done.sounds, done.cached)


def _unwanted(store: Store) -> list[str]:
    """The files of erased sounds, and old ones that no recording names."""
    with store.reading() as connection:
        erased = erased_sounds(connection)
        named = set(connection.execute(select(recordings.c.sha256).where(recordings.c.kept == 1)).scalars())
    now = time.time()
    return [
        sha256
        for sha256 in kept_hashes(store)
        if sha256 in erased or (sha256 not in named and now - file_of(store, sha256).stat().st_mtime > ORPHAN_SECONDS)
    ]


def _until(rule: Rule, today: date) -> datetime:
    return datetime.combine(today, clock.min, tzinfo=UTC) - timedelta(days=rule.days)
