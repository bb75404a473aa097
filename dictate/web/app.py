"""The application: middleware around one dispatcher, which checks role and form before any page is made."""

from __future__ import annotations

import secrets
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from dictate import store
from dictate.cli import report_fault
from dictate.errors import InputError
from dictate.web.asking import Ask, House, Refused, cookie_name, keep, show
from dictate.web.forms import with_form
from dictate.web.headers import SAFE_METHODS, BoundedBody, OwnSite, SafeHeaders
from dictate.web.routes import ANYBODY, WAYS, Way

FAULT = "This is a fault of the program. What was not told as done was not done; the terminal says more."
LOOPBACK = ("127.0.0.1", "localhost", "::1")


def make_app(house: House, *, names: tuple[str, ...] = ()) -> Starlette:
    """The pages over one store. `names` are the host names that are answered to besides those of loopback."""

    async def not_there(request: Request, error: Exception) -> Response:
        ask = await run_in_threadpool(_who, house, request)
        return await run_in_threadpool(refusal, ask, "There is no such page.", 404)

    return Starlette(
        routes=[_route(way, house) for way in WAYS],
        middleware=[
            Middleware(SafeHeaders, secure=house.secure),
            Middleware(TrustedHostMiddleware, allowed_hosts=[*LOOPBACK, *names], www_redirect=False),
            Middleware(OwnSite),
            Middleware(BoundedBody),
        ],
        exception_handlers={404: not_there, 405: not_there},
    )


def _route(way: Way, house: House) -> Route:
    async def endpoint(request: Request) -> Response:
        return await answer(way, house, request)

    return Route(way.path, endpoint, methods=[way.method], name=f"{way.method} {way.path}")


async def answer(way: Way, house: House, request: Request) -> Response:
    """Who asks, whether they may, what they sent; then the page. Everything a user can cause ends in a plain page."""
    ask = await run_in_threadpool(_who, house, request)
    try:
        if (elsewhere := _not_allowed(way, ask)) is not None:
            return elsewhere
        if way.method not in SAFE_METHODS:
            ask = await with_form(ask, largest=way.largest)
        response = await run_in_threadpool(way.page, ask)
    except Refused as refused:
        response = await run_in_threadpool(refusal, ask, refused.told, refused.status)
    except store.Conflict as conflict:
        response = await run_in_threadpool(refusal, ask, str(conflict), 409)
    except InputError as error:
        response = await run_in_threadpool(refusal, ask, str(error), 400)
    except Exception as error:
        report_fault(error, where=f"{way.method} {way.path}")
        response = await run_in_threadpool(refusal, ask, FAULT, 500)
    if ask.account is None and "set-cookie" not in response.headers and way.keeps:
        keep(response, house, ask.cookie)
    return response


def refusal(ask: Ask, told: str, status: int) -> Response:
    """A plain page that says in a sentence why not."""
    return show(ask, "refused.html", status=status, told=told)


def _not_allowed(way: Way, ask: Ask) -> Response | None:
    """Where a person who may not go this way is sent instead; None for who may. Raises Refused."""
    if way.roles == ANYBODY:
        return None
    if ask.account is None:
        if way.method not in SAFE_METHODS:
            raise Refused("You are not logged in, or were logged out after a while. Nothing was changed.", 401)
        here = ask.request.url.path + (f"?{ask.request.url.query}" if ask.request.url.query else "")
        return RedirectResponse("/enter" + ("" if here == "/" else f"?next={quote(here, safe='')}"), status_code=303)
    if not ask.account.may(*way.roles):
        raise Refused("Your account may not do this.", 403)
    return None


def _who(house: House, request: Request) -> Ask:
    """The account behind the request's cookie. A closed account loses its sessions at once; a browser that is not
    logged in gets a passing cookie, so that its forms carry a token too."""
    cookie = request.cookies.get(cookie_name(house), "")[:200]
    session = house.sessions.find(cookie) if cookie else None
    if session is None:
        return Ask(house, request, None, cookie or secrets.token_urlsafe(32))
    account = store.account(house.store, session.account)
    if not account.active:
        house.sessions.close_all_of(account.id)
        return Ask(house, request, None, secrets.token_urlsafe(32))
    return Ask(house, request, account, cookie)
