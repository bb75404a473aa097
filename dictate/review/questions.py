"""What a reviewer is asked, in order: doubts first, the most weighty first, then the phrases that were not placed.

Every answer has one key, the same in the page and in the terminal. Where the same answer settles the doubts of several
observations (one mis-heard word, both sides of one statement), they are one question.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from dictate.exam.page import pairs_joined
from dictate.exam.phrases import name_of, sentence, told
from dictate.exam.record import Doubt, Evidence, Observation, Record, Unplaced
from dictate.exam.statements import Section
from dictate.review.choices import (
    CONTRADICTION,
    KEEP,
    NO_READING,
    PATIENT,
    REPAIRED,
    SCALE,
    SIDE,
    STATUS,
    UNIT,
    VALUE,
    is_complete,
    keeps,
    place,
    untold,
)
from dictate.review.decisions import (
    AS_DRAFTED,
    CannotTell,
    Decision,
    Dismiss,
    NotExamined,
    PlaceInSection,
    Remove,
    Settle,
)

Does = Literal[
    "settle", "cannot tell", "not examined", "remove", "correct", "patient", "place", "section", "dismiss", "one by one"
]
# Every key and what it does; digits are the choices of a doubt, or the sections that a phrase may be kept in.
KEYS = {
    "k": "keep as drafted",
    "t": "cannot be told",
    "e": "not examined",
    "n": "not a finding",
    "c": "correct",
    "o": "one by one",
    "f": "place: it is a finding",
    "d": "dismiss",
    "p": "play the sound",
    "u": "undo",
    "s": "later",
}
SECTIONS: tuple[Section, ...] = ("history", "plan", "advice", "procedures", "laboratory", "assessment", "general")
# A wrong answer to the first kinds changes what the record states; the last ones only ask whether it was heard right.
WEIGHT = (
    CONTRADICTION,
    VALUE,
    UNIT,
    SIDE,
    "not of this patient",
    STATUS,
    SCALE,
    REPAIRED,
    "heard with low probability",
)


@dataclass(frozen=True, slots=True)
class Answer:
    """One key. `choice` is the doubt's own words; `words` what a correction begins with, where the choice tells it."""

    key: str
    label: str
    does: Does
    choice: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """`id` stays the same as long as the same is asked. `title` says what stands in the draft, `message` the doubt."""

    id: str
    about: Literal["doubt", "unplaced"]
    title: str
    message: str
    evidence: tuple[Evidence, ...]
    answers: tuple[Answer, ...]
    observations: tuple[Observation, ...] = ()
    doubt: Doubt | None = None
    phrase: Unplaced | None = None

    def answer(self, key: str) -> Answer | None:
        """The answer of a key; None where the key is none."""
        return next((a for a in self.answers if a.key == key), None)


def questions(record: Record) -> tuple[Question, ...]:
    """All that is open in a record, in the order in which it is asked."""
    groups: dict[tuple[object, ...], list[Observation]] = {}
    for o in record.observations:
        for doubt in o.doubts:
            groups.setdefault((doubt, *_same_answer(o, doubt)), []).append(o)
    asked = [doubt_question(tuple(group), key[0]) for key, group in groups.items()]  # type: ignore[arg-type]
    return (*sorted(asked, key=_weight), *(phrase_question(phrase) for phrase in record.unplaced))


def _same_answer(o: Observation, doubt: Doubt) -> tuple[object, ...]:
    """What observations under one doubt must share for one answer to settle all of them."""
    words = tuple((e.char_start, e.char_end, e.text) for e in o.evidence)
    if doubt.kind == CONTRADICTION:
        return place(o)  # of another tooth or digit it is another contradiction
    if doubt.kind in (VALUE, UNIT, SCALE, "not of this patient"):
        return (o.site, str(o.value), words)
    return words


def _weight(question: Question) -> tuple[int, int, int]:
    """Values and abnormal findings before normal ones; then by the kind of doubt; then in the order of the talk."""
    doubt = question.doubt
    light = all(o.status != "abnormal" and o.value is None for o in question.observations)
    rank = WEIGHT.index(doubt.kind) if doubt and doubt.kind in WEIGHT else len(WEIGHT)
    return (int(light), rank, min((e.char_start for e in question.evidence), default=0))


def doubt_question(group: tuple[Observation, ...], doubt: Doubt) -> Question:
    """The question about one doubt of one or several observations."""
    evidence = tuple(dict.fromkeys(e for o in group for e in o.evidence))
    return Question(
        id=_id("doubt", doubt.kind, doubt.message, *(o.id for o in group)),
        about="doubt",
        title="; ".join(title(alike) for alike in pairs_joined(group)),
        message=sentence(doubt.message),
        evidence=evidence,
        answers=_answers(group, doubt, evidence),
        observations=group,
        doubt=doubt,
    )


def phrase_question(phrase: Unplaced) -> Question:
    """The question about one unplaced phrase."""
    return Question(
        id=_id("unplaced", phrase.char_start, phrase.char_end, phrase.text),
        about="unplaced",
        title=f"“{' '.join(phrase.text.split())}”",
        message=sentence(phrase.why),
        evidence=(phrase,),
        answers=(
            Answer("f", KEYS["f"], "place", words=phrase.text),
            Answer("d", KEYS["d"], "dismiss"),
            *(Answer(str(n), f"keep in {name}", "section", choice=name) for n, name in enumerate(SECTIONS, start=1)),
        ),
        phrase=phrase,
    )


def title(alike: Sequence[Observation]) -> str:
    """The site, the side and what is said of them."""
    return f"{name_of(alike)}: {told(alike[0])}"


def _answers(group: tuple[Observation, ...], doubt: Doubt, evidence: tuple[Evidence, ...]) -> tuple[Answer, ...]:
    answers = [_choice(str(n), choice, group, doubt, evidence) for n, choice in enumerate(doubt.choices[:9], start=1)]
    if not any(_keeps_all(group, doubt, choice) for choice in doubt.choices):
        answers.append(Answer("k", KEYS["k"], "settle", choice=AS_DRAFTED))
    answers += [
        Answer("t", f"{KEYS['t']} ({untold(doubt)})", "cannot tell"),
        Answer("e", KEYS["e"], "not examined"),
        Answer("n", KEYS["n"], "remove"),
        Answer("c", KEYS["c"], "correct", words=_words(evidence)),
    ]
    if len(pairs_joined(group)) > 1 and doubt.kind != CONTRADICTION:
        answers.append(Answer("o", KEYS["o"], "one by one"))
    return tuple(answers)


def _keeps_all(group: tuple[Observation, ...], doubt: Doubt, choice: str) -> bool:
    """Whether a choice leaves every observation as it was drafted, less the doubt."""
    if doubt.kind == CONTRADICTION:
        return choice == "both"
    return all(keeps(o, doubt, choice) for o in group)


def _choice(
    key: str, choice: str, group: tuple[Observation, ...], doubt: Doubt, evidence: tuple[Evidence, ...]
) -> Answer:
    if choice in PATIENT:
        return Answer(key, choice, "patient", choice=choice)
    if all(is_complete(o, doubt, choice) for o in group):
        return Answer(key, choice, "settle", choice=choice)
    return Answer(key, choice, "correct", choice=choice, words=_with_reading(_words(evidence), choice, doubt))


def _with_reading(words: str, choice: str, doubt: Doubt) -> str:
    """The words of the talk with the chosen reading in place of the one that was taken, where that can be told."""
    taken = [c for c in doubt.choices if c not in (*KEEP, *NO_READING) and c != choice]
    if doubt.kind == REPAIRED:
        return words
    quoted = doubt.message.split("“")[1:]
    unsure = [part.split("”")[0] for part in quoted]
    if doubt.kind != "heard with low probability" or choice in NO_READING or len(unsure) != 1 or choice in taken:
        return words
    return words.replace(unsure[0], choice, 1)


def _words(evidence: Sequence[Evidence]) -> str:
    return " ".join(" ".join(e.text.split()) for e in evidence)


def one_by_one(question: Question) -> tuple[Question, ...]:
    """The same question for each site apart; both sides of one statement stay together."""
    if question.doubt is None:
        return (question,)
    return tuple(doubt_question(tuple(alike), question.doubt) for alike in pairs_joined(question.observations))


def decide(question: Question, answer: Answer, *, by: str, time: datetime, reason: str = "") -> Decision:
    """The decision that an answer makes which needs no typing.

    Raises:
        ValueError: the answer needs more (correct, place, patient, one by one) or is none of the question's.
    """
    ids = tuple(o.id for o in question.observations)
    if question.doubt is not None:
        match answer.does:
            case "settle":
                return Settle(by=by, time=time, observations=ids, doubt=question.doubt, choice=answer.choice)
            case "cannot tell":
                return CannotTell(by=by, time=time, observations=ids, doubt=question.doubt)
            case "not examined":
                return NotExamined(by=by, time=time, observations=ids, reason=reason)
            case "remove":
                return Remove(by=by, time=time, observations=ids)
    elif question.phrase is not None:
        match answer.does:
            case "dismiss":
                return Dismiss(by=by, time=time, phrase=question.phrase)
            case "section":
                return PlaceInSection(by=by, time=time, phrase=question.phrase, section=answer.choice)  # type: ignore[arg-type]
    raise ValueError(f"“{answer.label}” does not decide this question by itself")


def around(record: Record, evidence: Evidence, *, words: int = 12) -> tuple[str, str, str]:
    """Up to so many words before, the words themselves, as many after. Where the talk is not kept, only the words."""
    own = " ".join(evidence.text.split())
    if record.talk is None or evidence.by is not None or evidence.deleted is not None:
        return ("", own, "")
    before = record.talk[: evidence.char_start].split()[-words:]
    after = record.talk[evidence.char_end :].split()[:words]
    return (" ".join(before), own, " ".join(after))


def _id(*parts: object) -> str:
    return hashlib.sha256("\x1f".join(str(p) for p in parts).encode()).hexdigest()[:12]
