"""Accounts: one's own password and PIN, and, for an administrator, everybody's roles."""

from __future__ import annotations

from starlette.responses import Response

from dictate import store
from dictate.errors import InputError
from dictate.web.asking import Ask, go, show


def me(ask: Ask) -> Response:
    return show(ask, "me.html", wrong="")


def own_password(ask: Ask) -> Response:
    """Another password; every other session of the account ends with the old one."""
    new = ask.sent.get("new", "")
    try:
        if new != ask.sent.get("again", ""):
            raise InputError("the two new passwords differ; type them again")
        store.set_password(ask.house.store, ask.who.id, new, by=ask.who, old=ask.sent.get("old", ""))
    except InputError as error:
        return show(ask, "me.html", status=400, wrong=str(error))
    ask.house.sessions.close_all_of(ask.who.id, but=ask.cookie)
    return go("/me", done="changed")


def own_pin(ask: Ask) -> Response:
    try:
        if ask.sent.get("pin", "") != ask.sent.get("again", ""):
            raise InputError("the two PINs differ; type them again")
        password = ask.sent.get("password", "")
        store.set_pin(ask.house.store, ask.who.id, ask.sent.get("pin", ""), by=ask.who, password=password)
    except InputError as error:
        return show(ask, "me.html", status=400, wrong=str(error))
    return go("/me", done="changed")


def everybody(ask: Ask) -> Response:
    return _everybody(ask)


def add(ask: Ask) -> Response:
    try:
        name, title, password = (ask.sent.get(field, "") for field in ("name", "title", "password"))
        store.add_account(ask.house.store, name, password, ask.many.get("roles", ()), by=ask.who, title=title)
    except InputError as error:
        return _everybody(ask, wrong=str(error))
    return go("/people", done="account")


def change(ask: Ask) -> Response:
    """Other roles, or closed, or a new password for somebody who forgot theirs; a closed account is logged out."""
    number = ask.number()
    try:
        if ask.sent.get("password"):
            store.set_password(ask.house.store, number, ask.sent["password"], by=ask.who)
        else:
            roles, active = ask.many.get("roles", ()), "active" in ask.sent
            title = ask.sent.get("title", "")
            store.change_account(ask.house.store, number, by=ask.who, roles=roles, active=active, title=title)
    except InputError as error:
        return _everybody(ask, wrong=str(error))
    ask.house.sessions.close_all_of(number, but=ask.cookie)
    return go("/people", done="changed")


def _everybody(ask: Ask, wrong: str = "") -> Response:
    accounts = store.account_list(ask.house.store)
    return show(
        ask, "people.html", status=400 if wrong else 200, accounts=accounts, roles=sorted(store.ROLES), wrong=wrong
    )
