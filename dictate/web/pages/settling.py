"""Answers that need no typing, and undo."""

from __future__ import annotations

from urllib.parse import urlencode

from starlette.responses import Response

from dictate import store
from dictate.review import Answer, Decision, Question, Undo, decide, one_by_one, questions
from dictate.review.decisions import now
from dictate.store import Decided, Working
from dictate.web import undoing
from dictate.web.asking import Ask, Refused, go, own_address, show
from dictate.web.pages.reviewing import question_address

TYPING = ("correct", "place")


def answer(ask: Ask) -> Response:
    """One answer to one question. The question is found again in the record as it is now: an answer to something that
    is not asked any more is refused and told, never applied to something else."""
    working = store.working(ask.house.store, ask.number())
    visit, parent, key = working.visit.id, ask.sent.get("parent", ""), ask.sent.get("key", "")
    question = _find(working, ask.sent.get("question", ""))
    if question is None:
        return meanwhile(ask, working, None)
    chosen = question.answer(key)
    if chosen is None:
        raise Refused("There is no such answer to this question.")
    if chosen.does in TYPING:
        return go(question_address(visit, parent, **{"with": key}, **_part(ask, question)))
    if chosen.does == "one by one":
        return go(question_address(visit, parent, apart="1"))
    if chosen.does == "patient":
        return go(f"/visits/{visit}/whole?{urlencode({'edit': 'patient'})}#patient")
    made = decide(question, chosen, by=ask.who.name, time=now())
    return enter(ask, [made], back=_onward(ask, visit), about=(question, chosen))


def undo(ask: Ask) -> Response:
    """Take back the newest decision that still stands, and go back to where it was made."""
    working = store.working(ask.house.store, ask.number())
    newest = undoing.newest(working)
    if newest is None:
        raise Refused("There is nothing to take back.")
    if newest.id != ask.sent.get("of", ""):
        return meanwhile(ask, working, None)
    before = {q.id for q in questions(working.record)}
    back = own_address(ask.sent.get("back", "/"))
    undone = Undo(by=ask.who.name, time=now(), of=newest.id)
    after = store.decide(ask.house.store, ask.number(), [undone], by=ask.who, state=ask.sent.get("state", ""))
    again = next((q.id for q in questions(after.record) if q.id not in before), None)
    if again is not None and "/whole" not in back:
        return go(question_address(ask.number(), again), done="undone")
    return go(back, done="undone")


def enter(
    ask: Ask, decisions: list[Decision], *, back: str, about: tuple[Question, Answer] | None = None, done: str = ""
) -> Response:
    """Keep decisions, made on the state that the page showed; where somebody was quicker, nothing is kept and both
    are told what happened."""
    try:
        store.decide(ask.house.store, ask.number(), decisions, by=ask.who, state=ask.sent.get("state", ""))
    except store.Conflict as conflict:
        working = store.working(ask.house.store, ask.number())
        return meanwhile(ask, working, about, told=str(conflict), since=conflict.since)
    return go(back, done=done)


def meanwhile(
    ask: Ask,
    working: Working,
    about: tuple[Question, Answer] | None,
    *,
    told: str = "",
    since: tuple[Decided, ...] = (),
) -> Response:
    """Somebody else decided while this page stood open: what they did, and this answer once more to send or drop."""
    still = about is not None and _find(working, about[0].id) is not None
    return show(
        ask,
        "meanwhile.html",
        status=409,
        working=working,
        visit=working.visit,
        told=told,
        since=(since or working.decisions)[-5:],
        question=about[0] if about and still else None,
        answer=about[1] if about and still else None,
        sent=ask.sent,
    )


def _find(working: Working, wanted: str) -> Question | None:
    for question in questions(working.record):
        if question.id == wanted:
            return question
        part = next((q for q in one_by_one(question) if q.id == wanted), None)
        if part is not None:
            return part
    return None


def _onward(ask: Ask, visit: int) -> str:
    return question_address(visit, ask.sent.get("next", "")[:40])


def _part(ask: Ask, question: Question) -> dict[str, str]:
    return {"apart": "1", "part": question.id} if ask.sent.get("apart") else {}
