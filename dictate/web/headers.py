"""What every answer carries and every request must meet, whatever page it is for: plain ASGI, outermost first."""

from __future__ import annotations

from starlette.datastructures import MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

# No script and no style but our own files; nothing may frame a page; forms go nowhere else.
CONTENT_SECURITY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "font-src 'self'",
        "img-src 'self'",
        "media-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
NOTHING_OF_THE_DEVICE = "camera=(), microphone=(), geolocation=()"
ITS_MICROPHONE = "camera=(), microphone=(self), geolocation=()"  # of a page on which something can be said
SAFE_METHODS = ("GET", "HEAD")
LARGEST_BODY = 64 * 1024 * 1024  # bytes; forms have a far lower bound of their own (see `forms.py`)


class SafeHeaders:
    """Adds the headers that keep a page to itself. A page that sets one of them keeps its own."""

    def __init__(self, app: ASGIApp, *, secure: bool) -> None:
        self.app = app
        self.headers = {
            "content-security-policy": CONTENT_SECURITY,
            "x-content-type-options": "nosniff",
            "x-frame-options": "DENY",
            "referrer-policy": "same-origin",
            "cross-origin-opener-policy": "same-origin",
            "cross-origin-resource-policy": "same-origin",
            "permissions-policy": NOTHING_OF_THE_DEVICE,
            "cache-control": "no-store",
        }
        if secure:
            self.headers["strict-transport-security"] = "max-age=31536000"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self.headers.items():
                    headers.setdefault(name, value)
            await send(message)

        await self.app(scope, receive, send_with_headers)


class OwnSite:
    """Refuses what another site made the browser send: by the browser's own word for it, and by the origin.

    Tokens in the forms are checked as well (`forms.py`); this holds even where a page forgot one.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["method"] not in SAFE_METHODS:
            headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
            own = f"{scope['scheme']}://{headers.get('host', '')}"
            elsewhere = headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none")
            foreign = headers.get("origin", own) != own
            if elsewhere or foreign:
                await PlainTextResponse("This came from another site and was refused.", 403)(scope, receive, send)
                return
        await self.app(scope, receive, send)


class BoundedBody:
    """Refuses a body that says it is larger than the bound; one that lies is cut off while it is read."""

    def __init__(self, app: ASGIApp, *, largest: int = LARGEST_BODY) -> None:
        self.app = app
        self.largest = largest

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        told = dict(scope["headers"]).get(b"content-length", b"0")
        if not told.isdigit() or int(told) > self.largest:
            await PlainTextResponse("This is too large.", 413)(scope, receive, send)
            return
        read = 0

        async def receive_bounded() -> Message:
            nonlocal read
            message = await receive()
            read += len(message.get("body", b""))
            if read > self.largest:
                raise BodyTooLarge
            return message

        await self.app(scope, receive_bounded, send)


class BodyTooLarge(Exception):
    """More came than was announced or allowed."""
