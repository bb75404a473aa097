"""The review: one question at a time, the most weighty first, then the phrases that were not placed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.responses import Response

from dictate import store
from dictate.exam.page import pairs_joined
from dictate.review import Answer, Question, around, find_sites, one_by_one, questions
from dictate.review.questions import title
from dictate.store import Working
from dictate.web import undoing
from dictate.web.asking import Ask, go, show
from dictate.web.editing import Fields, fields_of, new_fields, phrase_key, units_of
from dictate.web.pages.listening import prepared
from dictate.web.pickers import name_lists
from dictate.web.views import Sounds, sounds_of

OFFERED_SITES = 6


@dataclass(frozen=True, slots=True)
class Heard:
    """Words of the talk with those around them, and the address of their sound."""

    before: str
    words: str
    after: str
    start: float | None
    sound: str


@dataclass(frozen=True, slots=True)
class Asked:
    """One question as the page shows it: `answers` need no typing; `correct` does, and may be opened by a choice."""

    question: Question
    titles: tuple[str, ...]
    number: int
    of: int
    heard: tuple[Heard, ...]
    answers: tuple[Answer, ...]
    others: tuple[Answer, ...]
    correct: Answer | None
    place: Answer | None
    sites: tuple[str, ...]
    next: str


def review_page(ask: Ask) -> Response:
    """The question that the address names, else the first that is open; when none is, the whole record."""
    working = store.working(ask.house.store, ask.number())
    record = working.record
    asked = questions(record)
    if not asked:
        return go(f"/visits/{working.visit.id}/whole", done=ask.asked("done"))
    place = next((n for n, q in enumerate(asked) if q.id == ask.asked("at")), 0)
    question = asked[place]
    apart = one_by_one(question) if ask.asked("apart") else (question,)
    question = next((q for q in apart if q.id == ask.asked("part")), apart[0])
    sounds = sounds_of(ask.house.store, working.visit, record)
    shown = _asked(ask, question, asked, place, working, sounds)
    lexicon = ask.house.words.lexicon
    response = show(
        ask,
        "review.html",
        working=working,
        visit=working.visit,
        record=record,
        asked=shown,
        open_doubts=sum(q.about == "doubt" for q in asked),
        open_phrases=sum(q.about == "unplaced" for q in asked),
        apart=bool(ask.asked("apart")),
        parent=asked[place].id,
        opened=_opened(question, ask.asked("with")),
        fields=_fields(question),
        undo=undoing.newest(working),
        sounds=sounds,
        name_lists=name_lists(lexicon),
        units=units_of(lexicon),
        phrase=phrase_key(question.phrase) if question.phrase else "",
    )
    return prepared(ask, response, record)


def _asked(
    ask: Ask, question: Question, asked: Sequence[Question], place: int, working: Working, sounds: Sounds
) -> Asked:
    lexicon = ask.house.words.lexicon
    sites: tuple[str, ...] = ()
    if question.phrase is not None:
        sites = find_sites("", lexicon, patient=working.record.patient, near=question.phrase.text)[:OFFERED_SITES]
    following = asked[(place + 1) % len(asked)].id
    by_digit = [a for a in question.answers if a.key.isdigit()]
    by_letter = [a for a in question.answers if not a.key.isdigit() and a.does not in ("correct", "place")]
    return Asked(
        question=question,
        titles=tuple(title(alike) for alike in pairs_joined(question.observations)) or (question.title,),
        number=place + 1,
        of=len(asked),
        heard=tuple(
            Heard(*around(working.record, e), e.start, sounds.of([e])) for e in question.evidence if e.by is None
        ),
        answers=tuple(by_digit),
        others=tuple(by_letter),
        correct=next((a for a in question.answers if a.does == "correct" and not a.key.isdigit()), None),
        place=next((a for a in question.answers if a.does == "place"), None),
        sites=sites,
        next=following,
    )


def _opened(question: Question, key: str) -> Answer | None:
    """The answer that needs typing and was chosen, so that its form stands open."""
    answer = question.answer(key) if key else None
    return answer if answer is not None and answer.does in ("correct", "place") else None


def _fields(question: Question) -> Fields:
    return fields_of(question.observations) if question.observations else new_fields()


def question_address(visit: int, question: str, **more: str) -> str:
    """The address of one question of a visit's review."""
    return f"/visits/{visit}/review?" + urlencode({"at": question, **more})
