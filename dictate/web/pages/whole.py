"""The whole record by region: every line with its sound, editable where it stands; what nobody spoke of is listed."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from dictate import store
from dictate.exam.phrases import quoted
from dictate.exam.record import Evidence, Record
from dictate.review import blocks
from dictate.web import undoing
from dictate.web.asking import Ask, show
from dictate.web.editing import Fields, fields_of, new_fields, units_of
from dictate.web.headers import ITS_MICROPHONE
from dictate.web.pages.correcting import SECTIONS
from dictate.web.pages.listening import prepared
from dictate.web.pickers import name_lists
from dictate.web.views import Sounds, regions, sounds_of


@dataclass(frozen=True, slots=True)
class Part:
    """A section of the record kept word for word; each part with its sound."""

    name: str
    parts: tuple[tuple[str, str, str], ...]  # words, time, address of the sound
    text: str


def whole_page(ask: Ask) -> Response:
    return _page(ask)


def said(ask: Ask) -> Response:
    """What was said into the microphone stands as words in the form of a new line, or of the site that is marked:
    nothing is entered before a person has read it."""
    return _page(ask, words=ask.house.hearing.words(ask.files.get("sound", b"")))


def _page(ask: Ask, *, words: str = "") -> Response:
    working = store.working(ask.house.store, ask.number())
    record, lexicon = working.record, ask.house.words.lexicon
    sounds = sounds_of(ask.house.store, working.visit, record)
    edit, mark = ask.asked("edit"), ask.asked("mark")
    if words and not mark:
        edit = "new"
    response = show(
        ask,
        "whole.html",
        working=working,
        visit=working.visit,
        record=record,
        regions=regions(record, lexicon, sounds),
        sections=sections(record, sounds),
        blocks=blocks(record),
        dismissed=[quoted([phrase]) for phrase in record.dismissed],
        unheard=_unheard(record, sounds),
        edit=edit,
        mark=mark,
        words=words,
        fields=_fields(ask, record, edit, mark),
        undo=undoing.newest(working),
        sounds=sounds,
        name_lists=name_lists(lexicon),
        units=units_of(lexicon),
    )
    response.headers["permissions-policy"] = ITS_MICROPHONE
    return prepared(ask, response, record)


def sections(record: Record, sounds: Sounds) -> tuple[Part, ...]:
    """All sections, the empty ones too: each can be filled."""
    return tuple(_part(name, getattr(record.other, name), sounds) for name in SECTIONS)


def _part(name: str, parts: tuple[Evidence, ...], sounds: Sounds) -> Part:
    words = tuple((" ".join(e.text.split()), quoted([e]), sounds.of([e])) for e in parts)
    return Part(name, words, "\n".join(text for text, _, _ in words))


def _fields(ask: Ask, record: Record, edit: str, mark: str) -> Fields | None:
    """The form that stands open: of a line, or of a site that nobody spoke of."""
    if mark:
        site = next((s for s in ask.house.words.lexicon.sites if s.site == mark), None)
        return new_fields(site.site, paired=site.paired) if site else None
    if edit == "new":
        return new_fields()
    ids = edit.split(",")
    alike = [o for o in record.observations if o.id in ids]
    return fields_of(alike) if alike else None


def _unheard(record: Record, sounds: Sounds) -> tuple[tuple[str, Evidence, str], ...]:
    """Stretches of speech that gave no sure words: they can only be listened to."""
    found = []
    for stretch in record.sound.unheard if record.sound else ():
        if stretch.kind in ("silence", "noise"):
            continue
        words = Evidence(text=stretch.text, start=stretch.start, end=stretch.end, char_start=0, char_end=0)
        found.append((stretch.kind, words, sounds.of([words])))
    return tuple(found)
