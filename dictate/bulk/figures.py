"""What the table says of a draft."""

from __future__ import annotations

from dictate.exam.record import Record
from dictate.speech.words import Transcript

# Rules of thumb (common practice, no source): from these shares on a recording is called fair or poor.
_UNSURE, _FAIR, _POOR = 0.5, 0.15, 0.35


def figures(record: Record, transcript: Transcript) -> tuple[str, float, int, int, str]:
    """(patient's name or "", minutes of sound, sites recorded, doubts with unplaced phrases, quality of the sound)."""
    doubts = sum(len(o.doubts) for o in record.observations) + len(record.unplaced)
    return (
        record.patient.name or "",
        round(minutes_of(transcript), 3),
        len(record.coverage.recorded),
        doubts,
        quality(transcript),
    )


def minutes_of(transcript: Transcript) -> float:
    """The length of the talk: from its first word to its last one, or of the whole sound where it is not cut."""
    whole = transcript.sound.seconds if transcript.sound else 0.0
    if ":" not in transcript.source_hash or not transcript.words:
        return whole / 60
    return (transcript.words[-1].end - transcript.words[0].start) / 60


def quality(transcript: Transcript) -> str:
    """ "good", "fair" or "poor", by the share of words heard with low probability and of speech without kept words; a
    recording that is clipped, quiet, damaged or not in English is never good."""
    words = transcript.words
    if not words:
        return "poor"
    unsure = sum(w.probability < _UNSURE for w in words) / len(words)
    lost = sum(u.end - u.start for u in transcript.unheard if u.kind in ("no words", "not kept"))
    spoken = sum(w.end - w.start for w in words) + lost
    bad = max(unsure, lost / spoken if spoken else 0.0)
    warned = bool(transcript.sound and (transcript.sound.warnings or transcript.sound.gaps))
    if bad >= _POOR:
        return "poor"
    return "fair" if bad >= _FAIR or warned else "good"
