"""Proving who one is: log-in by password, signing by password or PIN. Failures slow the next tries of that account.

A try is entered before the secret is looked at, so that many at once count as many. Three failures are free; then the
wait doubles from 5 seconds up to 15 minutes, until the right secret comes. *Common practice, no source.*
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Literal

from sqlalchemy import Connection, select

from dictate.store.chain import Writer, stamp, time_of
from dictate.store.opening import Store
from dictate.store.passwords import check_password, check_pin, hashed, matches
from dictate.store.people import PROGRAM, Account, account_of, change_state, need, state_of
from dictate.store.refusals import Refused
from dictate.store.tables import accounts, attempts
from dictate.store.texts import folded

How = Literal["password", "PIN"]
FREE = 3
FIRST_WAIT, LONGEST_WAIT = 5.0, 900.0
WRONG = "the name or the secret is wrong"


def log_in(store: Store, name: str, password: str, *, now: datetime | None = None) -> Account:
    """The account of this name and password. Refused otherwise, in the same words for a name that there is not."""
    with store.reading() as connection:
        found = connection.execute(select(accounts.c.id).where(accounts.c.folded == folded(name))).scalar()
    if found is None:
        matches("", password)
        raise Refused(WRONG)
    prove(store, found, password, pin=False, now=now)
    with store.reading() as connection:
        return account_of(connection, found)


def prove(store: Store, account_id: int, secret: str, *, pin: bool, now: datetime | None = None) -> How:
    """Whether the secret is this account's password, or its PIN where `pin` allows it; which of the two it was.

    Raises:
        Refused: it is neither, the account is closed, or tries are slowed (`wait` says for how long).
    """
    if account_id == PROGRAM.id:
        raise Refused("the program itself proves nothing; a person does")
    with store.changing() as connection:
        wait = _wait(connection, account_id, stamp(now))
        if wait > 0:
            raise Refused(f"too many failed tries; the next is looked at in {wait:.0f} s", wait=wait)
        Writer(connection, by_id=account_id, at=now).add(
            attempts, account_id=account_id, at=stamp(now), outcome="begun"
        )
        state = state_of(connection, account_id)
    how: How | None = None
    if pin and state["pin"] and secret.isdigit() and matches(state["pin"], secret):
        how = "PIN"
    elif matches(state["password"], secret):
        how = "password"
    if how is None or not state["active"]:
        raise Refused(WRONG)
    with store.changing() as connection:
        Writer(connection, by_id=account_id, at=now).add(
            attempts, account_id=account_id, at=stamp(now), outcome="passed"
        )
    return how


def set_password(store: Store, account_id: int, new: str, *, by: Account, old: str = "") -> Account:
    """Set one's own password, proved by the old one, or as an administrator another person's."""
    check_password(new)
    if by.id == account_id:
        prove(store, account_id, old, pin=False)
    else:
        need(by, "administrator")
    return _set(store, account_id, {"password": hashed(new)}, by=by, why="password set")


def set_pin(store: Store, account_id: int, pin: str, *, by: Account, password: str) -> Account:
    """Set one's own PIN, by which one signs; an empty one takes it away. Nobody sets another person's."""
    if by.id != account_id:
        raise Refused("a PIN is set by its owner alone")
    if pin:
        check_pin(pin)
    prove(store, account_id, password, pin=False)
    return _set(store, account_id, {"pin": hashed(pin) if pin else ""}, by=by, why="PIN set")


def _set(store: Store, account_id: int, told: dict[str, str], *, by: Account, why: str) -> Account:
    with store.changing() as connection:
        change_state(Writer(connection, by_id=by.id), account_id, told, why=why)
        return account_of(connection, account_id)


def _wait(connection: Connection, account_id: int, now: str) -> float:
    """Seconds until this account may try again: by the tries that were begun since the last that passed."""
    newest = select(attempts).where(attempts.c.account_id == account_id).order_by(attempts.c.id.desc()).limit(40)
    failed, last = 0, ""
    for row in connection.execute(newest):
        if row.outcome == "passed":
            break
        failed, last = failed + 1, last or row.at
    if failed < FREE:
        return 0.0
    wait = min(LONGEST_WAIT, FIRST_WAIT * 2.0 ** (failed - FREE))
    return (time_of(last) + timedelta(seconds=wait) - time_of(now)).total_seconds()
