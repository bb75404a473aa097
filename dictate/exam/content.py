"""What a signature stands for, as one hash; and how the words of a talk are deleted without breaking it."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from dictate.exam.record import Evidence, Observation, Record, Sound


def content_hash(record: Record) -> str:
    """SHA-256 over the whole record, less the signature, the talk, and the words of stretches that were not kept.

    Quoted words enter by their own hash, so the hash stays the same when they are deleted (`forget_words`). A field
    that has its default value is left out, so a field that a later version adds changes no hash.
    """
    bare = record.model_copy(update={"signature": None, "talk": None, "sound": _without_unheard(record.sound)})
    content = bare.model_dump(mode="json", exclude_defaults=True)
    return _sha256(json.dumps(_words_hashed(content), sort_keys=True, ensure_ascii=False))


def forget_words(record: Record) -> Record:
    """The record without the talk, the quoted words behind observations and unplaced phrases, and words not kept.

    For the day on which the sound is deleted. The sections (history, plan ...) are part of the record and stay, and so
    do words that a reviewer typed. `content_hash` stays the same.
    """

    def forgotten(parts: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(_forget(part) for part in parts)

    def without(observation: Observation) -> Observation:
        return observation.model_copy(update={"evidence": forgotten(observation.evidence)})

    return record.model_copy(
        update={
            "talk": None,
            "observations": tuple(without(o) for o in record.observations),
            "unplaced": forgotten(record.unplaced),
            "dismissed": forgotten(record.dismissed),
            "sound": _without_unheard(record.sound),
        }
    )


def _without_unheard(sound: Sound | None) -> Sound | None:
    if sound is None:
        return None
    return sound.model_copy(update={"unheard": tuple(u.model_copy(update={"text": ""}) for u in sound.unheard)})


def _forget(evidence: Evidence) -> Evidence:
    if evidence.by is not None or evidence.deleted is not None:
        return evidence
    return evidence.model_copy(update={"text": "", "deleted": _sha256(evidence.text)})


def _words_hashed(data: Any) -> Any:
    """The same JSON value, the text of every piece of evidence replaced by its hash."""
    if isinstance(data, list):
        return [_words_hashed(item) for item in data]
    if not isinstance(data, dict):
        return data
    if "char_start" in data:
        hashed = data.get("deleted") or _sha256(data["text"])
        return {**{key: value for key, value in data.items() if key != "deleted"}, "text": hashed}
    return {key: _words_hashed(value) for key, value in data.items()}


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
