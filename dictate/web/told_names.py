"""The names that talks tell, for visits whose patient nobody has told yet: lists tell drafts apart by them."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from dictate import store
from dictate.errors import InputError
from dictate.store import Store, Visit

MOST = 12  # records that are read for one page; drafts do not change, so each is read once


def told_names(of: Store, visits: Iterable[Visit]) -> dict[int, str]:
    """What each visit without a patient is called in a list: the name in its talk, and the file it was drafted from."""
    nameless = [v for v in visits if v.patient is None and v.draft_id is not None]
    return {v.id: _told(of, v.id, v.draft_id or 0) for v in nameless[:MOST]}


@lru_cache(maxsize=4096)
def _told(of: Store, visit: int, draft: int) -> str:
    try:
        record = store.working(of, visit).base
    except InputError:
        return ""
    return f"{record.patient.name or 'no name'} ({record.source.name})"
