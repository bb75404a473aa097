"""Logging in and out, the very first account, and how the pages look."""

from __future__ import annotations

import hmac

from starlette.responses import Response

from dictate import store
from dictate.errors import InputError
from dictate.store import Account
from dictate.web.asking import Ask, Refused, go, keep, own_address, show

A_YEAR = 365 * 24 * 60 * 60
LOOKS = ("light", "dark")


def first_page(ask: Ask) -> Response:
    """Where the first account is made; only with the key that stands in the address that the program printed."""
    _check_first(ask, ask.asked("key"))
    return show(ask, "first.html", key=ask.asked("key"), name="", title="", wrong="")


def make_first(ask: Ask) -> Response:
    """The first account: it keeps the other accounts and, unless unticked, reviews and signs as well."""
    key = ask.sent.get("key", "")
    _check_first(ask, key)
    name, title, password = (ask.sent.get(field, "") for field in ("name", "title", "password"))
    try:
        if password != ask.sent.get("again", ""):
            raise InputError("the two passwords differ; type them again")
        account = store.first_administrator(ask.house.store, name, password, title=title)
        if ask.sent.get("signs"):
            roles = (*account.roles, "reviewer", "signer")
            account = store.change_account(ask.house.store, account.id, by=account, roles=roles)
    except InputError as error:
        return show(ask, "first.html", status=400, key=key, name=name, title=title, wrong=str(error))
    return _entered(ask, account, ask.house.open_at)


def enter_page(ask: Ask) -> Response:
    if not store.has_accounts(ask.house.store):
        raise Refused("There is no account yet. Open the address that the program printed when it started.", 403)
    return show(ask, "enter.html", next=own_address(ask.asked("next", "/")), name="", wrong="")


def enter(ask: Ask) -> Response:
    """Log in. The store slows the tries down after failures, and says the same of a wrong name as of a wrong word."""
    name, onward = ask.sent.get("name", ""), own_address(ask.sent.get("next", "/"))
    try:
        account = store.log_in(ask.house.store, name, ask.sent.get("password", ""))
    except InputError as error:
        return show(ask, "enter.html", status=403, next=onward, name=name, wrong=str(error))
    return _entered(ask, account, onward)


def leave(ask: Ask) -> Response:
    ask.house.sessions.close(ask.cookie)
    response = go("/enter", done="out")
    keep(response, ask.house, "")
    return response


def set_look(ask: Ask) -> Response:
    """Light or dark, and single keys on or off; kept by the browser, for they hold at one screen only."""
    response = go(own_address(ask.sent.get("back", "/")))
    for name, values in (("look", LOOKS), ("keys", ("off",))):
        if name in ask.sent:
            value = ask.sent[name] if ask.sent[name] in values else ""
            response.set_cookie(name, value, max_age=A_YEAR if value else 0, samesite="strict", httponly=True)
    if ask.account is None:
        keep(response, ask.house, ask.cookie)
    return response


def _entered(ask: Ask, account: Account, onward: str) -> Response:
    ask.house.sessions.close(ask.cookie)
    response = go(onward)
    keep(response, ask.house, ask.house.sessions.open(account.id))
    return response


def _check_first(ask: Ask, key: str) -> None:
    right = ask.house.first_key
    if not right or not hmac.compare_digest(right.encode(), key.encode()) or store.has_accounts(ask.house.store):
        raise Refused("The first account was made already, or this is not the address that the program printed.", 403)
