"""The practice's people: accounts, their roles, and who may do what."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal, get_args

from sqlalchemy import Connection, Row, Select, and_, func, select

from dictate.errors import InputError
from dictate.store.chain import Writer
from dictate.store.opening import Store
from dictate.store.passwords import check_password, hashed
from dictate.store.refusals import Refused
from dictate.store.tables import account_states, accounts
from dictate.store.texts import clean, folded

Role = Literal["reviewer", "signer", "administrator"]
ROLES: tuple[str, ...] = get_args(Role)


@dataclass(frozen=True, slots=True)
class Account:
    """A person who works with the store. `title` is printed beside a signature; `version` counts the changes."""

    id: int
    name: str
    roles: frozenset[str] = frozenset()
    has_pin: bool = False
    active: bool = True
    version: int = 0
    title: str = ""

    def may(self, *roles: str) -> bool:
        """Whether the account is open and has one of these roles."""
        return self.active and bool(self.roles & set(roles))


PROGRAM = Account(0, "the program")  # what runs unattended: it has no role, and so can neither review nor sign


def need(by: Account, *roles: str) -> None:
    """Refused where this person has none of the roles."""
    if not by.may(*roles):
        raise Refused(f"{by.name} may not do this; it needs the role {' or '.join(roles)}")


def need_person(by: Account) -> None:
    """Refused for the program itself and for a closed account."""
    if by.id == PROGRAM.id or not by.active:
        raise Refused(f"{by.name} may not do this; a person of the practice does it")


def has_accounts(store: Store) -> bool:
    with store.reading() as connection:
        return connection.execute(select(accounts.c.id).limit(1)).first() is not None


def account(store: Store, account_id: int) -> Account:
    """The account as it is now. InputError where there is none of this id."""
    with store.reading() as connection:
        return account_of(connection, account_id)


def account_named(store: Store, name: str) -> Account:
    """The account of this name. InputError where there is none."""
    with store.reading() as connection:
        found = connection.execute(select(accounts.c.id).where(accounts.c.folded == folded(name))).scalar()
        if found is None:
            raise InputError("there is no account of this name", where=name)
        return account_of(connection, found)


def account_list(store: Store) -> tuple[Account, ...]:
    """All accounts, the closed ones too, by name."""
    with store.reading() as connection:
        return tuple(_account(row) for row in connection.execute(_newest().order_by(accounts.c.folded)))


def first_administrator(store: Store, name: str, password: str, *, title: str = "") -> Account:
    """The account that makes all others. InputError where there is an account already."""
    with store.changing() as connection:
        if connection.execute(select(accounts.c.id).limit(1)).first():
            raise InputError("there are accounts already; an administrator adds more", where=str(store.place))
        writer = Writer(connection, by_id=PROGRAM.id)
        return _add(writer, name, password, ("administrator",), title=title, why="the first account")


def add_account(
    store: Store, name: str, password: str, roles: Iterable[str], *, by: Account, title: str = ""
) -> Account:
    """A new account. InputError for a name that is taken, a role that there is not, or a weak password."""
    need(by, "administrator")
    with store.changing() as connection:
        return _add(Writer(connection, by_id=by.id), name, password, roles, title=title, why="")


def change_account(
    store: Store,
    account_id: int,
    *,
    by: Account,
    roles: Iterable[str] | None = None,
    active: bool | None = None,
    title: str | None = None,
) -> Account:
    """Give other roles or another title, close or reopen an account. There is always one open administrator."""
    need(by, "administrator")
    with store.changing() as connection:
        told: dict[str, Any] = {}
        if roles is not None:
            told["roles"] = _roles(roles)
        if active is not None:
            told["active"] = int(active)
        if title is not None:
            told["title"] = clean(title, what="title", longest=40)
        change_state(Writer(connection, by_id=by.id), account_id, told, why="account changed")
        others = [_account(row) for row in connection.execute(_newest())]
        if not any(other.may("administrator") for other in others):
            raise InputError("is the only administrator; name another one first", where=by.name)
        return account_of(connection, account_id)


def account_of(connection: Connection, account_id: int) -> Account:
    row = connection.execute(_newest().where(accounts.c.id == account_id)).first()
    if row is None:
        raise InputError("there is no account of this number", where=str(account_id))
    return _account(row)


def names_of(connection: Connection) -> dict[int, str]:
    """The name of each account by its id, the program's with them."""
    found = connection.execute(select(accounts.c.id, accounts.c.name))
    return {PROGRAM.id: PROGRAM.name, **{row.id: row.name for row in found}}


def state_of(connection: Connection, account_id: int) -> dict[str, Any]:
    """The newest state of an account, with the hashes of its password and PIN. InputError where there is none."""
    row = connection.execute(_newest().where(accounts.c.id == account_id)).mappings().first()
    if row is None:
        raise InputError("there is no account of this number", where=str(account_id))
    return dict(row)


def change_state(writer: Writer, account_id: int, told: dict[str, Any], *, why: str) -> None:
    """One more state of an account, with these columns changed."""
    state = state_of(writer.connection, account_id)
    kept = {name: state[name] for name in ("title", "roles", "password", "pin", "active")}
    writer.add(account_states, why=why, account_id=account_id, version=state["version"] + 1, **{**kept, **told})


def _add(writer: Writer, name: str, password: str, roles: Iterable[str], *, title: str, why: str) -> Account:
    shown = clean(name, what="name of an account", longest=80, needed=True)
    check_password(password)
    if writer.connection.execute(select(accounts.c.id).where(accounts.c.folded == folded(shown))).first():
        raise InputError("there is an account of this name already", where=shown)
    new = writer.add(accounts, why=why, name=shown, folded=folded(shown))
    told = {
        "title": clean(title, what="title", longest=40),
        "roles": _roles(roles),
        "password": hashed(password),
        "pin": "",
    }
    writer.add(account_states, why=why, account_id=new, version=1, active=1, **told)
    return account_of(writer.connection, new)


def _roles(roles: Iterable[str]) -> str:
    given = set(roles)
    if unknown := given - set(ROLES):
        raise InputError(f"is no role; the roles are {', '.join(ROLES)}", where=", ".join(sorted(unknown)))
    return " ".join(role for role in ROLES if role in given)


def _newest() -> Select[Any]:
    each = account_states.alias()
    last = select(func.max(each.c.version)).where(each.c.account_id == accounts.c.id).scalar_subquery()
    joined = and_(account_states.c.account_id == accounts.c.id, account_states.c.version == last)
    return select(accounts.c.name, account_states).select_from(accounts).join(account_states, joined)


def _account(row: Row[Any]) -> Account:
    roles = frozenset(row.roles.split())
    return Account(row.account_id, row.name, roles, bool(row.pin), bool(row.active), row.version, row.title)
