"""The files of ours that a page loads: a fixed table of names read once, so that no path reaches the file system."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from importlib import resources

from starlette.responses import PlainTextResponse, Response

from dictate.web.asking import Ask

KINDS = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "woff2": "font/woff2",
    "txt": "text/plain; charset=utf-8",
}


@dataclass(frozen=True, slots=True)
class OwnFile:
    content: bytes
    media_type: str
    mark: str  # short hash of the content: an address with it may be kept for good


def _read_all() -> dict[str, OwnFile]:
    files = {}
    for entry in resources.files("dictate.web").joinpath("static").iterdir():
        content = entry.read_bytes()
        kind = KINDS[entry.name.rsplit(".", 1)[-1]]
        files[entry.name] = OwnFile(content, kind, hashlib.sha256(content).hexdigest()[:12])
    return files


FILES = _read_all()


def address_of(name: str) -> str:
    """The address of one of our files, as pages write it."""
    return f"/own/{name}?{FILES[name].mark}"


def mark(ask: Ask) -> Response:
    """The mark, for a browser that asks for it at the usual address though every page names another one."""
    return _served(ask, FILES["mark.svg"])


def own_file(ask: Ask) -> Response:
    """One of our files; what is not in the table is not there."""
    found = FILES.get(ask.path("name"))
    return _served(ask, found) if found else PlainTextResponse("There is no such file.", 404)


def _served(ask: Ask, found: OwnFile) -> Response:
    headers = {"cache-control": "max-age=31536000, immutable" if ask.request.url.query == found.mark else "no-cache"}
    return Response(found.content, media_type=found.media_type, headers=headers)
