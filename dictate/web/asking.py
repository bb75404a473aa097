"""One request as the pages see it, and what all pages share: frozen values, handed to plain functions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

from jinja2 import Environment
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from dictate.store import Account, Store
from dictate.web.clips import Clips
from dictate.web.hearing import Hearing
from dictate.web.sessions import Sessions
from dictate.web.words import Words


@dataclass(frozen=True, slots=True)
class House:
    """What every page shares for as long as the server runs."""

    store: Store
    words: Words
    templates: Environment
    sessions: Sessions
    clips: Clips
    hearing: Hearing
    practice: str = ""
    secure: bool = False
    open_at: str = "/"  # the page that the program was started for
    first_key: str = ""  # what the very first account is made with; the address that `serve` prints carries it


@dataclass(frozen=True, slots=True)
class Ask:
    """One request: who asks, and what was sent with it, already bounded and checked."""

    house: House
    request: Request
    account: Account | None = None
    cookie: str = ""  # the session's token, or the passing one of a browser that is not logged in
    sent: Mapping[str, str] = field(default_factory=dict)
    many: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    files: Mapping[str, bytes] = field(default_factory=dict)

    @property
    def who(self) -> Account:
        """The account; only for pages that nobody can reach without one."""
        if self.account is None:
            raise PermissionError("this page needs an account")
        return self.account

    @property
    def where(self) -> str:
        """The address that the request came from."""
        return self.request.client.host if self.request.client else ""

    def asked(self, name: str, default: str = "") -> str:
        """A word of the address's query, cut to a harmless length."""
        return self.request.query_params.get(name, default)[:200]

    def path(self, name: str) -> str:
        return str(self.request.path_params[name])

    def number(self, name: str = "number") -> int:
        """A whole number of the address."""
        return int(self.request.path_params[name])


Handler = Callable[[Ask], Response]


def cookie_name(house: House) -> str:
    """With TLS the browser itself sees to it that no other host and no plain page can set this cookie."""
    return "__Host-dictate" if house.secure else "dictate"


def keep(response: Response, house: House, cookie: str) -> None:
    """Have the browser keep this session's cookie until it is closed."""
    response.set_cookie(cookie_name(house), cookie, httponly=True, samesite="strict", secure=house.secure, path="/")


class Refused(Exception):
    """The page tells this in a sentence and goes no further. `status` is that of HTTP."""

    def __init__(self, told: str, status: int = 400) -> None:
        self.told = told
        self.status = status
        super().__init__(told)


def show(ask: Ask, template: str, *, status: int = 200, **values: Any) -> Response:
    """A page made from one of our templates; every value in it is escaped there."""
    text = ask.house.templates.get_template(template).render(
        ask=ask,
        account=ask.account,
        practice=ask.house.practice,
        form_token=ask.house.sessions.form_token(ask.cookie),
        look=ask.request.cookies.get("look", ""),
        keys=ask.request.cookies.get("keys", ""),
        here=ask.request.url.path,
        notice=NOTICES.get(ask.asked("done"), ""),
        **values,
    )
    return HTMLResponse(text, status_code=status)


def go(address: str, *, done: str = "") -> Response:
    """On to another of our pages; `done` names one of `NOTICES`, which is said there."""
    if done:
        address, _, part = address.partition("#")
        address += ("&" if "?" in address else "?") + f"done={done}" + (f"#{part}" if part else "")
    return RedirectResponse(address, status_code=303)


def own_address(address: str) -> str:
    """`address` if it lies on this site, else "/": nobody is sent elsewhere after logging in."""
    parts = urlsplit(address)
    fine = address.startswith("/") and not address.startswith("//") and not parts.netloc and not parts.scheme
    return address if fine and "\\" not in address and address.isprintable() else "/"


# What a page says after something was done; only the name travels in the address.
NOTICES = {
    "saved": "Saved.",
    "undone": "Taken back.",
    "signed": "Signed.",
    "amended": "The amendment is signed.",
    "withdrawn": "Marked as entered in error. It stays readable.",
    "moved": "The visit was moved; the move is kept with its reason.",
    "marked": "Marked.",
    "account": "The account was made.",
    "changed": "Changed.",
    "taken": "Taken into the practice's own words.",
    "left": "Left out.",
    "brought": "The day list was taken in.",
    "out": "You are logged out.",
}
