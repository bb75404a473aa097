"""The events of an exam played again over its recording's words and draft: what was taken back, answered, paused.

The live exam and every later drafting of the recording use these functions; so both give the same record.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from dictate.exam.hearing import word_spans
from dictate.exam.phrases import at as clock
from dictate.exam.record import Encounter, Patient, Record, SpokenAnswer
from dictate.exam.statements import Reading, Statement
from dictate.live.events import Event
from dictate.review import Question, questions
from dictate.speech.words import Transcript

NEAR = 20.0  # seconds by which the words of a doubt may lie elsewhere than they were when it was asked


def taken_back(reading: Reading, transcript: Transcript, events: Sequence[Event]) -> Reading:
    """The reading without what was taken back by an order: each takes the last thing said before it."""
    times = [e.at for e in events if e.kind == "order" and e.told.get("order") == "go back"]
    statements = reading.statements
    spans = word_spans(transcript.words)
    for time in times:
        heard = [end for (_, end), word in zip(spans, transcript.words, strict=True) if word.end <= time + 0.3]
        statements = _without_last(statements, max(heard, default=0))
    return replace(reading, statements=statements) if times else reading


def _without_last(statements: tuple[Statement, ...], before: int) -> tuple[Statement, ...]:
    """The statements, less those of the last words before a character that make any."""
    ends = {i: max((e.char_end for e in s.evidence), default=0) for i, s in enumerate(statements)}
    told = [i for i, end in ends.items() if 0 < end <= before]
    if not told:
        return statements
    last = max(told, key=lambda i: ends[i])
    start = min(e.char_start for e in statements[last].evidence if e.char_end == ends[last])
    return tuple(s for i, s in enumerate(statements) if not (i in told and ends[i] > start))


def replayed(record: Record, events: Sequence[Event]) -> Record:
    """The draft with what the events tell: when, who the patient is, pauses, and what was answered aloud."""
    if not events:
        return record
    changes: dict[str, Any] = {}
    begun = next((e for e in events if e.kind == "begun"), None)
    if begun is not None:
        changes["encounter"] = _encounter(record.encounter, begun)
        changes["patient"] = _patient(record.patient, begun.told.get("patient") or {})
    if record.sound is not None and (notes := _notes(events)):
        changes["sound"] = record.sound.model_copy(update={"warnings": (*record.sound.warnings, *notes)})
    record = record.model_copy(update=changes)
    return _answered(record, events)


def _encounter(told: Encounter, begun: Event) -> Encounter:
    clinician, reason = begun.told.get("clinician") or None, begun.told.get("reason") or None
    return told.model_copy(
        update={
            "time": told.time or begun.time,
            "reason": told.reason or reason,
            "clinician": told.clinician or clinician,
        }
    )


def _patient(told: Patient, listed: Mapping[str, Any]) -> Patient:
    """The patient as told, and from the day list what nobody told."""
    known = {name: listed[name] for name in ("name", "species", "breed", "sex", "neutered") if name in listed}
    return told.model_copy(update={n: v for n, v in known.items() if v is not None and getattr(told, n) is None})


def _notes(events: Sequence[Event]) -> tuple[str, ...]:
    notes = []
    for i, event in enumerate(events):
        if event.kind == "paused":
            back = next((e for e in events[i:] if e.kind in ("resumed", "finished")), None)
            length = f" for {clock((back.time - event.time).total_seconds())} min" if back else ""
            notes.append(f"paused at {clock(event.at)}{length}: nothing was recorded meanwhile")
        elif event.kind == "broken off":
            notes.append(f"the recording broke off at {clock(event.at)} and was gone on with")
        elif event.kind == "trouble" and event.told.get("what"):
            notes.append(f"at {clock(event.at)}: {event.told['what']}")
    return tuple(notes)


def _answered(record: Record, events: Sequence[Event]) -> Record:
    """The draft with the answers that were spoken: each finds its doubt again, or is told in words."""
    spoken: list[SpokenAnswer] = []
    lost: list[str] = []
    open_now = list(questions(record))
    for event in events:
        if event.kind != "answer" or event.told.get("does") not in ("settle", "remove"):
            continue
        found = _find(open_now, event.told)
        if found is None or found.doubt is None:
            lost.append(f"at {clock(event.at)} an answer was spoken ({_told(event)}) that fits no doubt of the draft")
            continue
        open_now.remove(found)
        spoken.append(
            SpokenAnswer(
                observations=tuple(o.id for o in found.observations),
                doubt=found.doubt,
                does=event.told["does"],
                choice=str(event.told.get("choice", "")),
                start=event.at,
                end=event.end,
                time=event.time,
            )
        )
    changes: dict[str, Any] = {"spoken": tuple(spoken)} if spoken else {}
    if lost and record.sound is not None:
        changes["sound"] = record.sound.model_copy(update={"warnings": (*record.sound.warnings, *lost)})
    return record.model_copy(update=changes) if changes else record


def _told(event: Event) -> str:
    return str(event.told.get("choice") or "not a finding")


def question_told(question: Question) -> dict[str, Any]:
    """What an event keeps of the question that was answered, to find it again."""
    starts = [e.start for e in question.evidence if e.start is not None]
    return {
        "kind": question.doubt.kind if question.doubt else "",
        "places": sorted({(o.site, o.side or "") for o in question.observations}),
        "heard": round(min(starts), 2) if starts else None,
    }


def _find(open_now: Sequence[Question], told: Mapping[str, Any]) -> Question | None:
    """The question about the same kind of doubt in the same places, the nearest in time."""
    asked = told.get("question") or {}
    places = {tuple(p) for p in asked.get("places", ())}
    heard = asked.get("heard")

    def far(question: Question) -> float:
        starts = [e.start for e in question.evidence if e.start is not None]
        return min((abs(s - heard) for s in starts), default=0.0) if heard is not None else 0.0

    same = [
        q
        for q in open_now
        if q.doubt is not None
        and q.doubt.kind == asked.get("kind")
        and {(o.site, o.side or "") for o in q.observations} & places
        and far(q) <= NEAR
    ]
    return min(same, key=far, default=None)
