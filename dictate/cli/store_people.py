"""`dictate store`: the practice's people."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable

from dictate import store as s
from dictate.cli.store_asking import acting, ask, opened
from dictate.errors import InputError


def people(options: Namespace) -> None:
    with opened(options) as store:
        for account in s.account_list(store):
            print(_line(account))


def add_person(options: Namespace) -> None:
    with opened(options) as store:
        first = not s.has_accounts(store)
        roles = _roles(options.roles)
        by = None if first else acting(store, options)
        password = ask(f"new password of {options.name}")
        if by is None:
            new = s.first_administrator(store, options.name, password, title=options.title or "")
            if roles:
                new = s.change_account(store, new.id, by=new, roles=roles | {"administrator"})
        else:
            new = s.add_account(store, options.name, password, roles or set(), by=by, title=options.title or "")
        print(_line(new))


def change_person(options: Namespace) -> None:
    if options.close and options.reopen:
        raise InputError("either --close or --reopen")
    with opened(options) as store:
        at = s.account_named(store, options.name)
        active = False if options.close else (True if options.reopen else None)
        roles = _roles(options.roles)
        by = acting(store, options)
        print(_line(s.change_account(store, at.id, by=by, roles=roles, active=active, title=options.title)))


def set_password(options: Namespace) -> None:
    with opened(options) as store:
        at = s.account_named(store, options.name)
        acts_for_other = options.acting and s.account_named(store, options.acting).id != at.id
        by = acting(store, options) if acts_for_other else at
        old = "" if acts_for_other else ask(f"old password of {at.name}")
        s.set_password(store, at.id, ask(f"new password of {at.name}"), by=by, old=old)
        print(f"{at.name}: password set")


def set_pin(options: Namespace) -> None:
    if not options.acting:
        raise InputError("say whose PIN it is: --as NAME")
    with opened(options) as store:
        at = s.account_named(store, options.acting)
        password = ask(f"password of {at.name}")
        s.set_pin(store, at.id, ask("new PIN (6 to 12 digits)"), by=at, password=password)
        print(f"{at.name}: PIN set")


def _roles(text: str | None) -> set[str] | None:
    return None if text is None else {part.strip() for part in text.split(",") if part.strip()}


def _line(account: s.Account) -> str:
    roles = ", ".join(role for role in s.ROLES if role in account.roles) or "no role"
    name = f"{account.name}, {account.title}" if account.title else account.name
    return f"{name}: {roles}{'; has a PIN' if account.has_pin else ''}{'' if account.active else '; closed'}"


PEOPLE_PARTS: dict[str, Callable[[Namespace], None]] = {
    "people": people,
    "add-person": add_person,
    "change-person": change_person,
    "set-password": set_password,
    "set-pin": set_pin,
}
