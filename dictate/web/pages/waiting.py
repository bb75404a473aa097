"""All drafts that wait for a person, those with most to look at first."""

from __future__ import annotations

from starlette.responses import Response

from dictate import store
from dictate.web.asking import Ask, show

AT_ONCE = 50


def waiting_page(ask: Ask) -> Response:
    asked = ask.asked("from", "0")
    first = int(asked) if asked.isdigit() and len(asked) < 7 else 0
    found = store.waiting(ask.house.store, after=first, limit=AT_ONCE + 1)
    return show(
        ask,
        "waiting.html",
        waiting=found[:AT_ONCE],
        first=first,
        more=first + AT_ONCE if len(found) > AT_ONCE else None,
        less=max(0, first - AT_ONCE) if first else None,
    )
