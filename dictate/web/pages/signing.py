"""Before you sign, and signing itself: sign, amend with a reason, enter in error, move to another patient."""

from __future__ import annotations

from starlette.responses import Response

from dictate import store
from dictate.errors import InputError
from dictate.exam.record import Record
from dictate.review import before_you_sign, questions
from dictate.review.summary import TITLES
from dictate.store import Visit
from dictate.web.asking import Ask, Refused, go, show
from dictate.web.pages.visits import int_of
from dictate.web.views import sounds_of, with_sounds


def before_page(ask: Ask) -> Response:
    """All that a signature would stand for, on one page."""
    return _before(ask)


def sign(ask: Ask) -> Response:
    """Sign exactly what the page showed, or nothing."""
    try:
        store.sign(
            ask.house.store,
            ask.number(),
            by=ask.who,
            secret=ask.sent.get("secret", ""),
            seen=ask.sent.get("seen", ""),
            patient_id=int_of(ask.sent.get("patient", "")),
        )
    except store.Conflict:
        raise
    except InputError as error:
        return _before(ask, wrong=str(error))
    return go(f"/visits/{ask.number()}/record", done="signed")


def amend(ask: Ask) -> Response:
    """Sign what was changed since the last signature, with the reason."""
    try:
        store.amend(
            ask.house.store,
            ask.number(),
            by=ask.who,
            secret=ask.sent.get("secret", ""),
            why=ask.sent.get("why", ""),
            seen=ask.sent.get("seen", ""),
            patient_id=int_of(ask.sent.get("patient", "")),
        )
    except store.Conflict:
        raise
    except InputError as error:
        return _before(ask, wrong=str(error))
    return go(f"/visits/{ask.number()}/record", done="amended")


def enter_in_error(ask: Ask) -> Response:
    store.enter_in_error(
        ask.house.store,
        ask.number(),
        by=ask.who,
        secret=ask.sent.get("secret", ""),
        why=ask.sent.get("why", ""),
        version=int_of(ask.sent.get("version", "")),
    )
    return go(f"/visits/{ask.number()}/record", done="withdrawn")


def move(ask: Ask) -> Response:
    """Move the visit to the patient of this practice number or id; signed, with the reason, and traced."""
    store.move_visit(
        ask.house.store,
        ask.number(),
        _patient(ask),
        by=ask.who,
        secret=ask.sent.get("secret", ""),
        why=ask.sent.get("why", ""),
        expected=int_of(ask.sent.get("version", "")),
    )
    return go(f"/visits/{ask.number()}", done="moved")


def _patient(ask: Ask) -> int:
    number = ask.sent.get("number", "").strip()
    if not number:
        raise Refused("Give the practice number of the patient that the visit belongs to.")
    return store.patient_numbered(ask.house.store, number).id


def _before(ask: Ask, wrong: str = "") -> Response:
    before = store.before_signing(ask.house.store, ask.number())
    visit, record = before.working.visit, before.working.record
    lexicon = ask.house.words.lexicon
    summary = before_you_sign(record, lexicon, earlier=_earlier(ask, visit))
    return show(
        ask,
        "sign.html",
        status=400 if wrong else 200,
        before=before,
        working=before.working,
        visit=visit,
        record=record,
        summary=with_sounds(summary, record, sounds_of(ask.house.store, visit, record)),
        summary_patient=summary.patient,
        titles=TITLES,
        open=questions(record),
        may_sign=ask.who.may("signer"),
        wrong=wrong,
    )


def _earlier(ask: Ask, visit: Visit) -> Record | None:
    """The newest signed record of the same patient before this visit."""
    if visit.patient is None:
        return None
    return store.earlier_record(ask.house.store, visit)
