"""The questions, one at a time: what is in doubt, the words around it, one key for each answer."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.exam.phrases import at
from dictate.exam.record import Evidence
from dictate.review.decisions import Place, Replace, now
from dictate.review.questions import KEYS, Answer, Question, around, decide, one_by_one, questions
from dictate.review.terminal.desk import Desk
from dictate.review.terminal.entering import by_fields, by_words
from dictate.review.terminal.patients import edit_the_patient

TO_RECORD, STOP = "r", "q"


def ask_all(desk: Desk) -> str:
    """Ask until nothing is open but what was put off, or until the reviewer leaves the questions.

    Returns:
        TO_RECORD or STOP.
    """
    while question := next((q for q in questions(desk.record) if q.id not in desk.later), None):
        key = ask(desk, question)
        if key in (TO_RECORD, STOP):
            return key
    return TO_RECORD


def ask(desk: Desk, question: Question) -> str:
    """One question until it is answered, undone or left. The key by which it was left, or ""."""
    while True:
        show(desk, question)
        key = desk.screen.key()
        desk.note = ""
        answer = question.answer(key)
        if key in (TO_RECORD, STOP):
            return key
        if key == "p":
            desk.play(question.evidence)
        elif key == "u":
            desk.undo()
            return ""
        elif key == "s":
            desk.later.add(question.id)
            return ""
        elif answer is None:
            desk.note = "No answer has this key."
        elif answer.does == "one by one":
            return _apart(desk, question)
        elif give(desk, question, answer):
            return ""


def _apart(desk: Desk, question: Question) -> str:
    """The same question for each site; what is left of it is asked again as usual."""
    for part in one_by_one(question):
        standing = {o.id: o for o in desk.record.observations}
        if any(question.doubt in standing[o.id].doubts for o in part.observations if o.id in standing):
            key = ask(desk, part)
            if key in (TO_RECORD, STOP):
                return key
    return ""


def give(desk: Desk, question: Question, answer: Answer) -> bool:
    """Carry an answer out, asking for what it needs. False where the reviewer gave it up."""
    ids = tuple(o.id for o in question.observations)
    if answer.does == "correct":
        becomes, words = by_words(desk, answer.words, question.evidence)
        if becomes:
            desk.take(Replace(by=desk.by, time=now(), observations=ids, becomes=becomes, words=words))
        return bool(becomes)
    if answer.does == "place" and question.phrase is not None:
        placed = by_fields(desk, (question.phrase,))
        if placed:
            desk.take(Place(by=desk.by, time=now(), phrase=question.phrase, observations=placed))
        return bool(placed)
    if answer.does == "patient":
        return edit_the_patient(desk)
    desk.take(decide(question, answer, by=desk.by, time=now()))
    desk.note = f"{question.title}: {answer.label}"
    return True


def show(desk: Desk, question: Question) -> None:
    """The question as a page."""
    screen, record = desk.screen, desk.record
    open_now = questions(record)
    doubts = sum(q.about == "doubt" for q in open_now)
    screen.clear()
    who = ", ".join(part for part in (record.patient.name or "name not told", record.patient.species) if part)
    put_off = f", {len(desk.later & {q.id for q in open_now})} put off" if desk.later else ""
    screen.show(f"{who}   open: {doubts} doubts, {len(open_now) - doubts} phrases{put_off}", style="dim")
    if desk.note:
        screen.show(desk.note, style="dim")
    screen.show()
    screen.show(question.title, style="bold")
    screen.show(question.message)
    screen.show()
    show_words(desk, question.evidence)
    screen.show()
    choices = [a for a in question.answers if a.key.isdigit()]
    others = [a for a in question.answers if not a.key.isdigit()]
    for answer in choices if question.about == "doubt" else others:
        screen.show_parts((f"  {answer.key} ", "bold"), (answer.label, ""))
    rest = others if question.about == "doubt" else choices
    screen.show_keys(*(f"{a.key} {a.label}" for a in rest))
    always = [f"{key} {KEYS[key]}" for key in ("p", "u", "s")]
    screen.show_keys(*always, f"{TO_RECORD} the whole record", f"{STOP} stop", style="dim")


def show_words(desk: Desk, evidence: Sequence[Evidence]) -> None:
    """The words behind it, in the words before and after."""
    for one in evidence:
        before, words, after = around(desk.record, one)
        time = f"  {at(one.start)}" if one.start is not None else f"  typed by {one.by}" if one.by else ""
        desk.screen.show_parts(
            (f"  … {before} " if before else "  ", "dim"),
            (words, "bold underline"),
            (f" {after} …" if after else "", "dim"),
            (time, "dim"),
        )
