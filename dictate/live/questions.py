"""Numbered questions for the room, and the answers that are spoken to them.

An answer is a whole utterance. One that names the number settles that question; one that names none settles the only
question that it fits. What fits several, or is part of a longer sentence, settles nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from dictate.exam.record import Record
from dictate.exam.units import convert
from dictate.language.numbers import numbers, tokens
from dictate.language.quantities import quantities
from dictate.lexicon.tables import Lexicon
from dictate.live.spoken import bare, folded, said_once, unstuttered
from dictate.review import Question, questions
from dictate.review.choices import CONTRADICTION, KEEP, UNIT, VALUE, measure

AT_ONCE, AT_ONCE_SMALL = 3, 2  # on the display; on a small one, where the third would find no room
SMALL = 15.0  # inches
OF_VALUES = (VALUE, UNIT, CONTRADICTION)
Key = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """A question with its number in this exam; `key` says what is asked, whatever else is read anew."""

    number: int
    key: Key
    question: Question

    @property
    def choices(self) -> tuple[str, ...]:
        """What may be answered, as it is shown: the doubt's own choices that settle it by themselves."""
        return tuple(a.choice for a in self.question.answers if a.does == "settle" and a.key.isdigit())


@dataclass(frozen=True, slots=True)
class Asking:
    """All questions so far. `shown` are on the display; `left` were left for the review; `last` is the last number."""

    shown: tuple[Asked, ...] = ()
    waiting: int = 0
    left: frozenset[Key] = frozenset()
    last: int = 0


@dataclass(frozen=True, slots=True)
class Answered:
    """What an utterance says to a question: "settle" with a choice, "remove", or "leave"."""

    asked: Asked
    does: str
    choice: str = ""


@dataclass(frozen=True, slots=True)
class Unclear:
    """An answer that fits several questions: their numbers."""

    numbers: tuple[int, ...]


def key_of(question: Question) -> Key:
    """What is asked: the kind of doubt and the places."""
    kind = question.doubt.kind if question.doubt else ""
    return (kind, *sorted({(o.site, o.side or "") for o in question.observations}))


def ask(before: Asking, record: Record, *, most: int = AT_ONCE) -> Asking:
    """The questions of a record as it stands now, so many at most. What is shown stays until it is closed; then the
    weightiest comes."""
    open_now = {key_of(q): q for q in reversed(questions(record)) if _askable(q)}
    open_now = {key: q for key, q in reversed(open_now.items()) if key not in before.left}
    shown = [replace(a, question=open_now[a.key]) for a in before.shown if a.key in open_now]
    last = before.last
    for key, question in open_now.items():
        if len(shown) >= most:
            break
        if key not in {a.key for a in shown}:
            last += 1
            shown.append(Asked(last, key, question))
    return replace(before, shown=tuple(shown), waiting=len(open_now) - len(shown), last=last)


def leave(asking: Asking, key: Key) -> Asking:
    """The question is left for the review."""
    shown = tuple(a for a in asking.shown if a.key != key)
    return replace(asking, shown=shown, left=asking.left | {key})


def _askable(question: Question) -> bool:
    return question.doubt is not None and any(a.does == "settle" for a in question.answers)


@dataclass(frozen=True, slots=True)
class AnswerTable:
    phrases: dict[tuple[str, ...], str]
    numbering: tuple[tuple[str, ...], ...]
    courtesies: tuple[tuple[str, ...], ...]


@lru_cache(maxsize=2)
def _table(rule_set: str, rows: tuple[tuple[str, str], ...]) -> AnswerTable:
    numbering = sorted((folded(said) for said, means in rows if means == "number"), key=len, reverse=True)
    courtesies = tuple(folded(said) for said, means in rows if means == "courtesy")
    phrases = {folded(said): means for said, means in rows if means not in ("number", "courtesy")}
    return AnswerTable(phrases, tuple(numbering), courtesies)


def answer_table(lexicon: Lexicon) -> AnswerTable:
    return _table(lexicon.rule_set, tuple((r.said, r.answer) for r in lexicon.answer_words))


def answer_heard(text: str, shown: Sequence[Asked], table: AnswerTable) -> Answered | Unclear | None:
    """What a whole utterance says to the questions that are shown; None where it is no answer."""
    words = said_once(folded(text))
    number, rest = _numbered(text, words, table)
    if number is not None:
        asked = next((a for a in shown if a.number == number), None)
        return _answer(" ".join(rest), rest, asked, table) if asked and rest else None
    found = [a for a in (_answer(text, words, asked, table) for asked in shown) if a is not None]
    if len(found) > 1:
        return Unclear(tuple(a.asked.number for a in found))
    return found[0] if found else None


def _numbered(text: str, words: tuple[str, ...], table: AnswerTable) -> tuple[int | None, tuple[str, ...]]:
    """The number of the question that an utterance names, and the words behind it."""
    plain = bare(words, table.courtesies)
    for lead in table.numbering:
        if plain[: len(lead)] != lead or len(plain) <= len(lead):
            continue
        behind = plain[len(lead) :]
        said = tokens(" ".join(behind))
        found = [n for n in numbers(said) if n.first == 0]
        if found and found[0].value == int(found[0].value):
            # Only the first word or two are the number: "two thirty-eight point four" is question two.
            one = numbers(said[:1])
            first = one[0] if one else found[0]
            rest = " ".join(t.text for t in said[first.last :])
            return int(first.value), bare(folded(rest), table.courtesies)
    return None, words


def _answer(text: str, words: tuple[str, ...], asked: Asked, table: AnswerTable) -> Answered | None:
    question = asked.question
    plain = bare(words, table.courtesies)
    means = table.phrases.get(words) or table.phrases.get(plain) or table.phrases.get(unstuttered(plain))
    settling = {a.choice: a for a in question.answers if a.does == "settle"}
    by_label = next((c for c in asked.choices if c not in KEEP and folded(c) == plain), None)
    if by_label is not None:
        return Answered(asked, "settle", by_label)
    if means in settling and means not in KEEP:
        return Answered(asked, "settle", means)
    if means == "leave":
        return Answered(asked, "leave")
    if means == "not a finding":
        return Answered(asked, "remove")
    if means == "keep":
        kept = next((c for c in settling if c in KEEP), None)
        return Answered(asked, "settle", kept) if kept is not None else None
    if means and means.startswith("choice "):
        place = int(means.removeprefix("choice ")) - 1
        return Answered(asked, "settle", asked.choices[place]) if place < len(asked.choices) else None
    return _value(text, plain, asked)


def _value(text: str, plain: tuple[str, ...], asked: Asked) -> Answered | None:
    """A bare value ("thirty-eight point four") as an answer to a question about a value."""
    doubt = asked.question.doubt
    said = " ".join(plain)
    found = quantities(said)
    if doubt is None or doubt.kind not in OF_VALUES or len(found) != 1:
        return None
    (q,) = found
    if folded(said[: q.char_start] + said[q.char_end :]) or q.kind not in ("number", "time", "size", "score"):
        return None
    offered = {c: m for c in doubt.choices if (m := measure(c)) is not None}
    if q.unit and not any(m.unit and convert(q.number, q.unit, m.unit) is not None for m in offered.values()):
        return None  # a value of another kind
    same = [c for c, m in offered.items() if m.number == q.number and q.unit in (None, m.unit)]
    if len(same) == 1:
        return Answered(asked, "settle", same[0])
    if same or doubt.kind == CONTRADICTION or not offered:
        return None
    unit = q.unit or next((m.unit for m in offered.values() if m.unit), None)
    values = [o.value for o in asked.question.observations if o.value is not None]
    unit = q.unit or (values[0].unit if values and values[0].unit else unit)
    return Answered(asked, "settle", f"{q.number:.10g} {unit}") if unit else None
