"""Transcripts as JSON: what `dictate transcribe` writes and what the cache keeps.

{"schema": "words/1", "words": [{"text", "start", "end", "probability", "readings"?, "heard"?}], "text", "source_hash",
 "sound": {"seconds", "gaps", "warnings"} | null, "unheard": [...], "settings": {...}}
"""

from __future__ import annotations

import math
from typing import Any

from dictate.errors import InputError
from dictate.speech.words import Gap, Reading, SoundNote, Transcript, Unheard, Word

SCHEMA = "words/1"


def words_json(transcript: Transcript) -> dict[str, Any]:
    """The transcript as plain values for `json.dumps`. Times in seconds (to the millisecond), probabilities 0 to 1."""
    sound = transcript.sound
    return {
        "schema": SCHEMA,
        "words": [_word(w) for w in transcript.words],
        "text": transcript.text,
        "source_hash": transcript.source_hash,
        "sound": None
        if sound is None
        else {
            "seconds": round(sound.seconds, 3),
            "gaps": [{"start": g.start, "end": g.end, "why": g.why} for g in sound.gaps],
            "warnings": list(sound.warnings),
        },
        "unheard": [{"start": u.start, "end": u.end, "kind": u.kind, "text": u.text} for u in transcript.unheard],
        "settings": dict(transcript.settings),
    }


def _word(word: Word) -> dict[str, Any]:
    value: dict[str, Any] = {
        "text": word.text,
        "start": round(word.start, 3),
        "end": round(word.end, 3),
        "probability": round(word.probability, 4),
    }
    if word.readings:
        value["readings"] = [{"text": r.text, "probability": round(r.probability, 4)} for r in word.readings]
    if word.heard:
        value["heard"] = word.heard
    return value


def transcript_of_json(value: Any, *, where: str = "") -> Transcript:
    """The transcript that `words_json` gave this value for; only "words" is needed, so that other programs' words can
    be read too.

    Raises:
        InputError: the value has another shape; names the place in it.
    """
    if not isinstance(value, dict) or not isinstance(value.get("words"), list):
        raise InputError('is no transcript: wanted an object with a list "words"', where=where)
    if value.get("schema", SCHEMA) != SCHEMA:
        raise InputError(f"is a transcript of another kind ({value['schema']!r}, wanted {SCHEMA!r})", where=where)
    words = tuple(_read_word(w, f"{where} words[{i}]".strip()) for i, w in enumerate(value["words"]))
    text = value.get("text")
    try:
        sound = value.get("sound")
        note = None
        if sound is not None:
            gaps = tuple(Gap(float(g["start"]), float(g["end"]), str(g["why"])) for g in sound["gaps"])
            note = SoundNote(float(sound["seconds"]), gaps, tuple(map(str, sound["warnings"])))
        unheard = tuple(
            Unheard(float(u["start"]), float(u["end"]), str(u["kind"]), str(u.get("text", "")))
            for u in value.get("unheard", [])
        )
        settings = {str(k): str(v) for k, v in value.get("settings", {}).items()}
    except (KeyError, TypeError, ValueError, AttributeError) as e:
        raise InputError(
            f'is no whole transcript: "sound", "unheard" or "settings" are damaged ({e})', where=where
        ) from None
    joined = " ".join(w.text for w in words)
    return Transcript(
        words, text if isinstance(text, str) else joined, str(value.get("source_hash", "")), note, settings, unheard
    )


def _read_word(value: Any, where: str) -> Word:
    try:
        text = value["text"].strip()
        start, end = float(value["start"]), float(value["end"])
        probability = float(value.get("probability", 1.0))
        readings = tuple(Reading(str(r["text"]), float(r["probability"])) for r in value.get("readings", ()))
        heard = str(value.get("heard", ""))
    except (KeyError, TypeError, ValueError, AttributeError) as e:
        raise InputError(f"a word needs text, start and end ({type(e).__name__}: {e})", where=where) from None
    if (
        not text
        or not math.isfinite(start)
        or not math.isfinite(end)
        or not 0 <= start <= end
        or not 0 <= probability <= 1
    ):
        raise InputError("a word needs some text, 0 <= start <= end and a probability from 0 to 1", where=where)
    return Word(text, start, end, probability, readings, heard)
