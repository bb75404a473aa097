"""A visit: where its pages begin, whose it is, consent, and what happened to it."""

from __future__ import annotations

from starlette.responses import Response

from dictate import store
from dictate.errors import InputError
from dictate.store import Facts, Visit
from dictate.web.asking import Ask, Refused, go, show
from dictate.web.pages.patients import read_facts

MOST = 20


def visit_page(ask: Ask) -> Response:
    """Where a visit stands: its signed record, else its review, else only that it is planned."""
    visit = store.visit(ask.house.store, ask.number())
    if visit.signed:
        return go(f"/visits/{visit.id}/record")
    if visit.draft_id is not None:
        return go(f"/visits/{visit.id}/review")
    return show(ask, "planned.html", visit=visit)


def who_page(ask: Ask) -> Response:
    """Whose visit this is: those whose names fit the talk's come first; a new patient starts from what was told."""
    visit = store.visit(ask.house.store, ask.number())
    return _who(ask, visit, words=ask.asked("words"))


def assign(ask: Ask) -> Response:
    """Tell whose visit it is, while nobody did: one that was planned, a patient of the practice, or a new one."""
    visit = store.visit(ask.house.store, ask.number())
    expected = int_of(ask.sent.get("version", ""))
    try:
        if "planned" in ask.sent:
            planned = int_of(ask.sent["planned"])
            store.join_planned(ask.house.store, visit.id, planned, by=ask.who, expected=expected)
            return go(f"/visits/{visit.id}", done="saved")
        if "new" in ask.sent:
            number = store.add_patient(ask.house.store, read_facts(ask.sent), by=ask.who).id
        else:
            number = int_of(ask.sent.get("patient", ""))
        store.assign_patient(ask.house.store, visit.id, number, by=ask.who, expected=expected)
    except InputError as error:
        return _who(ask, visit, words=ask.sent.get("words", ""), wrong=str(error))
    return go(f"/visits/{visit.id}", done="saved")


def set_consent(ask: Ask) -> Response:
    """Consent to the recording, given or refused; refused, the sound and its words are erased at once."""
    given = ask.sent.get("given", "")
    if given not in ("yes", "no"):
        raise Refused("Say whether consent was given or refused.")
    store.set_consent(ask.house.store, ask.number(), given == "yes", by=ask.who, why=ask.sent.get("why", "")[:400])
    return go(f"/visits/{ask.number()}/history", done="saved")


def history_page(ask: Ask) -> Response:
    visit = store.visit(ask.house.store, ask.number())
    return show(
        ask,
        "history.html",
        visit=visit,
        steps=store.history(ask.house.store, visit.id),
        consent=store.consent(ask.house.store, visit.id),
    )


def int_of(text: str) -> int:
    """A whole number that a form of ours sent."""
    if not text.isdigit() or len(text) > 18:
        raise Refused("This form is not one of ours, or is out of date.")
    return int(text)


def _who(ask: Ask, visit: Visit, *, words: str, wrong: str = "") -> Response:
    told = Facts(name="")
    if visit.draft_id is not None:
        told = store.facts_of_record(store.working(ask.house.store, visit.id).record.patient) or told
    words = words or told.name
    return show(
        ask,
        "who.html",
        status=400 if wrong else 200,
        visit=visit,
        words=words,
        told=told,
        planned=store.planned_for(ask.house.store, visit.id) if visit.patient is None else (),
        found=store.find_patients(ask.house.store, words, limit=MOST) if words else (),
        wrong=wrong,
    )
