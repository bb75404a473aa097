"""The practice's day: whom it sees, and what is still to be done about each visit."""

from __future__ import annotations

from datetime import date, timedelta

from starlette.responses import Response

from dictate import store
from dictate.errors import InputError
from dictate.web.asking import Ask, show


def day_page(ask: Ask) -> Response:
    day = read_day(ask.asked("day")) or date.today()
    visits = store.day_list(ask.house.store, day) if ask.who.may("reviewer", "signer") else ()
    return show(
        ask,
        "day.html",
        day=day,
        visits=visits,
        before=day - timedelta(days=1),
        after=day + timedelta(days=1),
        today=date.today(),
        sees=ask.who.may("reviewer", "signer"),
    )


def bring(ask: Ask) -> Response:
    """Take in a day list that another program wrote as a table."""
    content = ask.files.get("list")
    if not content:
        raise InputError("choose a file first", where="day list")
    told = store.import_day_list(ask.house.store, content, by=ask.who)
    return show(ask, "brought.html", told=told)


def read_day(text: str) -> date | None:
    """A day as browsers send it, 2026-05-04; None for anything else."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if date(1990, 1, 1) <= day <= date(2200, 1, 1) else None
