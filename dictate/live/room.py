"""The room display and the microphone page: a small application over one `Board`.

Whoever opens a page must know the room's key, which is part of the address that the program prints; a cookie keeps it.
The page gets the view as server-sent events, so it goes on by itself when the connection or the program comes back.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import threading
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path

import numpy as np
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from dictate.live.board import Board
from dictate.live.phone import PhoneSource
from dictate.web.headers import CONTENT_SECURITY, BoundedBody, OwnSite, SafeHeaders

ALIVE_EVERY = 0.25  # seconds between levels, which are signs of life too; eight without one are a lost connection
LARGEST_SOUND = 1_000_000  # bytes of one request
COOKIE = "exam-room"
KINDS = {".css": "text/css", ".js": "text/javascript", ".woff2": "font/woff2", ".svg": "image/svg+xml"}
FONTS = ("atkinson-hyperlegible-latin-400-normal.woff2", "atkinson-hyperlegible-latin-700-normal.woff2")
POLICY = CONTENT_SECURITY.replace("img-src 'self'", "img-src 'self' data:") + "; connect-src 'self'; worker-src 'self'"


@dataclass(frozen=True, slots=True)
class Room:
    """What the pages share. `authority` is the certificate that phones install, None without TLS. When `closing` is
    set, open pages are let go, so that the server can end."""

    board: Board
    key: str
    phone: PhoneSource | None = None
    secure: bool = False
    authority: Path | None = None
    inches: float = 0.0
    distance: float = 2.0
    closing: threading.Event = field(default_factory=threading.Event)


def make_room_app(room: Room, *, names: tuple[str, ...] = ()) -> Starlette:
    """The pages of one exam, answering to loopback's names and to these."""
    files = _files()

    def known(request: Request) -> bool:
        given = request.query_params.get("key") or request.cookies.get(COOKIE, "")
        return hmac.compare_digest(given.encode(), room.key.encode())

    def page(name: str) -> Response:
        text = files[name].decode()
        text = text.replace("{{inches}}", f"{room.inches:g}").replace("{{distance}}", f"{room.distance:g}")
        headers = {
            "content-security-policy": POLICY,
            "permissions-policy": "camera=(), geolocation=(), microphone=(self)",
        }
        return HTMLResponse(text, headers=headers)

    def entering(name: str, address: str):  # type: ignore[no-untyped-def]
        def endpoint(request: Request) -> Response:
            if not known(request):
                return PlainTextResponse("Open the address that the program printed: it carries the room's key.", 403)
            if "key" in request.query_params:
                kept = "".join(f"&{k}={v}" for k, v in request.query_params.items() if k in ("screen", "distance"))
                response: Response = RedirectResponse(address + (f"?{kept[1:]}" if kept else ""), status_code=303)
                response.set_cookie(
                    COOKIE, room.key, httponly=True, samesite="strict", secure=room.secure, max_age=30 * 86400
                )
                return response
            return page(name)

        return endpoint

    async def view(request: Request) -> Response:
        if not known(request):
            return PlainTextResponse("unknown key", 403)
        return StreamingResponse(_events(room, request), media_type="text/event-stream")

    async def sound(request: Request) -> Response:
        if not known(request) or room.phone is None:
            return PlainTextResponse("not wanted", 403)
        try:
            number, rate = int(request.query_params["number"]), int(request.query_params["rate"])
            begun = request.query_params.get("from", "")[:40]
        except (KeyError, ValueError):
            return PlainTextResponse("number and rate are missing", 400)
        body = await request.body()
        if len(body) > LARGEST_SOUND or len(body) % 2 or not 8000 <= rate <= 192000:
            return PlainTextResponse("this is no sound", 400)
        taken = await run_in_threadpool(room.phone.take, begun, number, rate, np.frombuffer(body, dtype="<i2"))
        return PlainTextResponse(str(taken))

    def own(request: Request) -> Response:
        name = request.path_params["name"]
        kind = KINDS.get(Path(name).suffix)
        if name not in files or kind is None:
            return PlainTextResponse("There is no such file.", 404)
        mark = hashlib.sha256(files[name]).hexdigest()[:16]
        return Response(files[name], media_type=kind, headers={"cache-control": "no-cache", "etag": f'"{mark}"'})

    def authority(request: Request) -> Response:
        if room.authority is None:
            return PlainTextResponse("There is none.", 404)
        headers = {"content-disposition": 'attachment; filename="exam-room-authority.crt"'}
        return Response(room.authority.read_bytes(), media_type="application/x-x509-ca-cert", headers=headers)

    return Starlette(
        routes=[
            Route("/", entering("room.html", "/")),
            Route("/microphone", entering("microphone.html", "/microphone")),
            Route("/view", view),
            Route("/sound", sound, methods=["POST"]),
            Route("/authority", authority),
            Route("/own/{name}", own),
        ],
        middleware=[
            Middleware(SafeHeaders, secure=False),  # no lasting promise of TLS: the address may serve others without
            Middleware(
                TrustedHostMiddleware, allowed_hosts=["127.0.0.1", "localhost", "::1", *names], www_redirect=False
            ),
            Middleware(OwnSite),
            Middleware(BoundedBody, largest=LARGEST_SOUND),
        ],
    )


def _files() -> dict[str, bytes]:
    """Our own files by name, read once: no path of a request reaches the file system."""
    pages = {f.name: f.read_bytes() for f in resources.files("dictate.live").joinpath("pages").iterdir()}
    shared = resources.files("dictate.web").joinpath("static")
    return pages | {name: shared.joinpath(name).read_bytes() for name in FONTS}


async def _events(room: Room, request: Request) -> AsyncIterator[str]:
    seen, board = 0, room.board
    yield "retry: 1000\n\n"
    while not (room.closing.is_set() or await request.is_disconnected()):
        version, view = await run_in_threadpool(board.wait, seen, ALIVE_EVERY)
        if version == seen:
            yield f"event: level\ndata: {board.level:.0f}\n\n"
            continue
        seen = version
        yield f"data: {json.dumps(view.json(), ensure_ascii=False)}\n\n"
