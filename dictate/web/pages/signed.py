"""A signed record as it was signed, every state of it, and what may be done with it."""

from __future__ import annotations

from starlette.responses import Response

from dictate import store
from dictate.export import KINDS
from dictate.web.asking import Ask, go, show
from dictate.web.pages.whole import sections
from dictate.web.views import regions, sounds_of


def record_page(ask: Ask) -> Response:
    """The newest signed state, or the one that the address names."""
    visit = store.visit(ask.house.store, ask.number())
    states = store.signed(ask.house.store, visit.id)
    if not states:
        return go(f"/visits/{visit.id}")
    wanted = ask.asked("version")
    shown = next((s for s in states if str(s.version) == wanted), states[-1])
    sounds = sounds_of(ask.house.store, visit, shown.record)
    return show(
        ask,
        "record.html",
        visit=visit,
        states=states,
        shown=shown,
        newest=states[-1],
        record=shown.record,
        regions=regions(shown.record, ask.house.words.lexicon, sounds),
        sections=[part for part in sections(shown.record, sounds) if part.parts],
        changed=len(store.working(ask.house.store, visit.id).decisions),
        exports=KINDS.values(),
        sounds=sounds,
        head=store.head(ask.house.store),
        may_sign=ask.who.may("signer"),
    )
