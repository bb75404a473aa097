"""A record handed on in one of the forms of `dictate.export`; that it was is kept."""

from __future__ import annotations

from starlette.responses import Response

from dictate import store
from dictate.export import KINDS, file_name, make
from dictate.web.asking import Ask, Refused


def export(ask: Ask) -> Response:
    """The newest state of a visit's record as a file to keep; a draft says on itself that it is one."""
    kind = ask.path("kind")
    if kind not in KINDS:
        raise Refused("There is no such form of a record.", 404)
    visit = ask.number()
    record, standing = store.standing_of(ask.house.store, visit, practice=ask.house.practice)
    content = make(kind, record, ask.house.words.lexicon, standing)
    store.note(ask.house.store, "exported", by=ask.who, visit_id=visit, what=kind)
    headers = {
        "content-disposition": f'attachment; filename="{file_name(record, kind, standing)}"',
        "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'; sandbox",
    }
    return Response(content, media_type=KINDS[kind].media_type, headers=headers)
