"""Accounts: who may do what, how one proves who one is, and how failures slow the next try."""

from __future__ import annotations

from datetime import timedelta

import pytest
from store_cases import NOW, PASSWORD, PIN, people

from dictate import store as s
from dictate.errors import InputError
from dictate.store.proving import prove
from dictate.store.tables import account_states, attempts


def test_a_person_logs_in_with_the_right_password_alone(any_store: s.Store) -> None:
    """The right password opens the account, in whatever case the name is typed; a wrong one and an unknown name are
    refused in the same words."""
    boss, _ = people(any_store)
    assert s.log_in(any_store, "dr REED", PASSWORD) == boss
    told = []
    for name, password in (("Dr Reed", "not this one"), ("Nobody", PASSWORD), ("Dr Reed", "")):
        with pytest.raises(s.Refused) as refused:
            s.log_in(any_store, name, password)
        told.append(str(refused.value))
    assert len(set(told)) == 1


def test_failures_slow_the_next_tries_until_the_right_secret_comes(file_store: s.Store) -> None:
    """Three failures are free; then even the right password waits, twice as long after each further failure."""
    people(file_store)
    for _ in range(3):
        with pytest.raises(s.Refused, match="wrong"):
            s.log_in(file_store, "Tern", "not this one", now=NOW)
    waits, now = [], NOW
    for _ in range(12):
        with pytest.raises(s.Refused, match="too many failed tries") as refused:
            s.log_in(file_store, "Tern", PASSWORD, now=now)
        waits.append(refused.value.wait)
        now += timedelta(seconds=refused.value.wait)
        with pytest.raises(s.Refused, match="wrong"):
            s.log_in(file_store, "Tern", "not this one", now=now)
    assert waits[:4] == [5, 10, 20, 40] and waits[-1] == 900
    now += timedelta(seconds=900)
    assert s.log_in(file_store, "Tern", PASSWORD, now=now).name == "Tern"
    assert s.log_in(file_store, "Tern", PASSWORD, now=now).name == "Tern"


def test_many_tries_at_once_count_as_many(file_store: s.Store) -> None:
    """A try is entered before the secret is looked at, and what was entered stays in the chain."""
    _, tern = people(file_store)
    for _ in range(3):
        with pytest.raises(s.Refused):
            prove(file_store, tern.id, "000000", pin=True, now=NOW)
    with file_store.reading() as connection:
        begun = [row.outcome for row in connection.execute(attempts.select()) if row.account_id == tern.id]
    assert begun == ["begun"] * 3
    assert s.verify(file_store).faults == ()


def test_passwords_are_kept_as_argon2_hashes_only(file_store: s.Store) -> None:
    """Neither password nor PIN stands in the database as it was typed."""
    people(file_store)
    with file_store.reading() as connection:
        kept = list(connection.execute(account_states.select()))
    assert all(row.password.startswith("$argon2id$") for row in kept)
    assert PASSWORD not in str(kept) and PIN not in str(kept)


@pytest.mark.parametrize(
    ("password", "message"), [("short", "at least"), ("a" * 20, "same few characters"), ("x1y2" * 100, "more than")]
)
def test_weak_passwords_are_refused(file_store: s.Store, password: str, message: str) -> None:
    """A password that is too short, too plain or too long is refused with the reason."""
    with pytest.raises(InputError, match=message):
        s.first_administrator(file_store, "Dr Reed", password)
    assert not s.has_accounts(file_store)


@pytest.mark.parametrize("pin", ["12345", "123456", "111111", "987654", "12ab56", "121212", "١٢٣٤٥٦"])
def test_weak_pins_are_refused(file_store: s.Store, pin: str) -> None:
    """A PIN that is too short, in a row, or no digits is refused."""
    boss, _ = people(file_store)
    with pytest.raises(InputError, match="PIN"):
        s.set_pin(file_store, boss.id, pin, by=boss, password=PASSWORD)


def test_only_an_administrator_changes_accounts(file_store: s.Store) -> None:
    """A reviewer can neither add, change nor reset an account; nobody sets another person's PIN."""
    boss, tern = people(file_store)
    refused = [
        lambda: s.add_account(file_store, "Knot", PASSWORD, {"signer"}, by=tern),
        lambda: s.change_account(file_store, tern.id, by=tern, roles={"signer"}),
        lambda: s.set_password(file_store, boss.id, "another password", by=tern),
        lambda: s.set_retention(file_store, 1, by=tern),
        lambda: s.set_pin(file_store, tern.id, PIN, by=boss, password=PASSWORD),
        lambda: s.add_account(file_store, "Knot", PASSWORD, {"signer"}, by=s.PROGRAM),
    ]
    for change in refused:
        with pytest.raises(s.Refused):
            change()
    assert [a.name for a in s.account_list(file_store)] == ["Dr Reed", "Tern"]


def test_a_closed_account_can_do_nothing_and_stays_readable(file_store: s.Store) -> None:
    """Closing an account refuses its log-in and its rights; its name stays where it did something."""
    boss, tern = people(file_store)
    closed = s.change_account(file_store, tern.id, by=boss, active=False)
    assert not closed.may("reviewer")
    with pytest.raises(s.Refused):
        s.log_in(file_store, "Tern", PASSWORD)
    assert s.account(file_store, tern.id).name == "Tern"
    reopened = s.change_account(file_store, tern.id, by=boss, active=True)
    assert reopened.may("reviewer")


def test_there_is_always_an_administrator(file_store: s.Store) -> None:
    """The only open administrator can neither be closed nor lose the role, and a second first one is refused."""
    boss, _ = people(file_store)
    for change in ({"active": False}, {"roles": {"signer"}}):
        with pytest.raises(InputError, match="only administrator"):
            s.change_account(file_store, boss.id, by=boss, **change)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="accounts already"):
        s.first_administrator(file_store, "Knot", PASSWORD)


@pytest.mark.parametrize("name", ["", "  ", "x" * 81, "Dr\x00Reed", "Dr \u202edeeR"])
def test_names_that_cannot_be_read_are_refused(file_store: s.Store, name: str) -> None:
    """An empty, endless or invisible name of an account is refused."""
    with pytest.raises(InputError, match="name of an account"):
        s.first_administrator(file_store, name, PASSWORD)


def test_roles_and_names_are_checked(file_store: s.Store) -> None:
    """A role that there is not and a name that is taken are refused."""
    boss, _ = people(file_store)
    with pytest.raises(InputError, match="is no role"):
        s.add_account(file_store, "Knot", PASSWORD, {"machine"}, by=boss)
    with pytest.raises(InputError, match="this name already"):
        s.add_account(file_store, "TERN", PASSWORD, set(), by=boss)
