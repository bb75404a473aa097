"""What a form sends: read within bounds, and only where it carries the token of the page it was on."""

from __future__ import annotations

from dataclasses import replace

from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from dictate.web.asking import Ask, Refused
from dictate.web.headers import BodyTooLarge

LARGEST_FORM = 256 * 1024  # bytes of a form without files
LARGEST_FIELD = 64 * 1024
MOST_FIELDS = 200
MOST_FILES = 2
TOKEN = "form_token"


async def with_form(ask: Ask, *, largest: int = LARGEST_FORM) -> Ask:
    """`ask` with what its form sent.

    Raises:
        Refused: too large, no form, or not from a page of ours.
    """
    told = ask.request.headers.get("content-length", "0")
    if not told.isdigit() or int(told) > largest:
        raise Refused("What was sent is too large.", 413)
    files = MOST_FILES if largest > LARGEST_FORM else 0
    try:
        async with ask.request.form(max_files=files, max_fields=MOST_FIELDS, max_part_size=LARGEST_FIELD) as form:
            items = [(name, await _content(value)) for name, value in form.multi_items()]
    except (HTTPException, BodyTooLarge):
        raise Refused("What was sent could not be read as a form.") from None
    texts = [(name, value) for name, value in items if isinstance(value, str)]
    sent = dict(texts)
    if not ask.house.sessions.fits(ask.cookie, sent.pop(TOKEN, "")):
        raise Refused("This page is out of date. Load it again, then repeat what you did; nothing was changed.", 403)
    return replace(
        ask,
        sent=sent,
        many={name: tuple(v for n, v in texts if n == name) for name in sent},
        files={name: value for name, value in items if isinstance(value, bytes)},
    )


async def _content(value: str | UploadFile) -> str | bytes:
    """A field's text, its line ends made plain; a file's bytes, bounded with the whole form."""
    return value.replace("\r\n", "\n") if isinstance(value, str) else await value.read()
