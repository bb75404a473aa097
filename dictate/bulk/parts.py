"""Several transcripts put end to end, and a part taken out of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.speech.words import Gap, SoundNote, Transcript, Unheard, Word


def joined(transcripts: Sequence[Transcript], *, source_hash: str) -> Transcript:
    """The recordings as if they were one: each one's times count from the end of the one before."""
    words: list[Word] = []
    unheard: list[Unheard] = []
    gaps: list[Gap] = []
    warnings: list[str] = []
    at = 0.0
    for t in transcripts:
        words += [replace(w, start=round(w.start + at, 3), end=round(w.end + at, 3)) for w in t.words]
        unheard += [replace(u, start=round(u.start + at, 2), end=round(u.end + at, 2)) for u in t.unheard]
        if t.sound:
            gaps += [replace(g, start=round(g.start + at, 3), end=round(g.end + at, 3)) for g in t.sound.gaps]
            warnings += t.sound.warnings
            at += t.sound.seconds
    note = SoundNote(round(at, 3), tuple(gaps), tuple(dict.fromkeys(warnings)))
    text = " ".join(w.text for w in words)
    return Transcript(tuple(words), text, source_hash, note, dict(transcripts[0].settings), tuple(unheard))


def between(whole: Transcript, first: int, last: int, *, number: int) -> Transcript:
    """The words from number `first` to before `last` as a transcript of its own; times stay those of the whole sound.

    `number` makes its `source_hash` another one than the whole's, as ids follow from it.
    """
    words = whole.words[first:last]
    start = words[0].start if first else 0.0
    end = whole.words[last].start if last < len(whole.words) else float("inf")
    return replace(
        whole,
        words=words,
        text=" ".join(w.text for w in words),
        source_hash=f"{whole.source_hash}:{number}",
        unheard=tuple(u for u in whole.unheard if start <= u.start < end),
        sound=whole.sound and replace(whole.sound, gaps=tuple(g for g in whole.sound.gaps if start <= g.start < end)),
    )
