"""Answers that were spoken during the exam, as decisions: they stand first, and a reviewer can undo each."""

from __future__ import annotations

import hashlib

from dictate.exam.record import Record, SpokenAnswer
from dictate.review.decisions import Decision, Remove, Settle

BY_VOICE = "answered aloud during the exam"


def spoken_decisions(draft: Record) -> tuple[Decision, ...]:
    """The decisions that a draft's spoken answers are. Their ids follow from the draft, so an Undo finds them. A signed
    record has taken them in already."""
    if draft.status != "preliminary":
        return ()
    return tuple(_decision(draft.id, answer) for answer in draft.spoken)


def _decision(record: str, answer: SpokenAnswer) -> Decision:
    key = "\x1f".join([record, f"{answer.start:.2f}", *answer.observations, answer.doubt.kind, answer.choice])
    identity = hashlib.sha256(key.encode()).hexdigest()[:32]
    if answer.does == "remove":
        return Remove(id=identity, by=BY_VOICE, time=answer.time, observations=answer.observations)
    return Settle(
        id=identity,
        by=BY_VOICE,
        time=answer.time,
        observations=answer.observations,
        doubt=answer.doubt,
        choice=answer.choice,
    )


def answered_aloud(record: Record) -> frozenset[str]:
    """The ids of the observations, in a record after the decisions, that a spoken answer in force was about."""
    return frozenset(i for mark in record.review if mark.by == BY_VOICE for i in mark.about)
