"""The words of a talk: what the speech step hands to the language step."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Reading:
    """Another way to read the stretch of sound under a word. `probability` is between 0 and 1."""

    text: str
    probability: float


@dataclass(frozen=True, slots=True)
class Word:
    """One word as heard. `start` and `end` are seconds from the beginning of the sound, half-open; `probability` is 0
    to 1.

    `text` carries the recogniser's punctuation ("clear,") and no leading space. `heard` is what the recogniser had
    first where another reading of the sound took its place; such a reading may be of several words, and so may what
    was heard.
    """

    text: str
    start: float
    end: float
    probability: float
    readings: tuple[Reading, ...] = ()
    heard: str = ""


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch of the sound that could not be decoded and was filled with silence. Seconds, half-open."""

    start: float
    end: float
    why: str


@dataclass(frozen=True, slots=True)
class Unheard:
    """A stretch of sound that gave no words, or whose words were not kept. Seconds, half-open.

    `kind` is "silence" or "noise" (no speech was found; listed from two seconds on), "no words" (speech was found,
    the recogniser gave nothing) or "not kept" (the recogniser looped or made words up; `text` is what it gave).
    """

    start: float
    end: float
    kind: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class SoundNote:
    """What a reader must know of the sound: its length in seconds, gaps, and warnings in plain words (clipped ...)."""

    seconds: float
    gaps: tuple[Gap, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Transcript:
    """The words of one source, with where they came from.

    `source_hash` is the SHA-256 of the file's bytes. `sound` is None for a text. `settings` explains how the words were
    made (model, weights' hash, precision, options), so that a draft can name it. `unheard` lists what gave no words.
    For a text, `text` is the text as it stood and `words` is empty: positions are characters of `text`.
    For sound, `text` is the words joined by single spaces, so a word's place in it follows from the words before.
    """

    words: tuple[Word, ...]
    text: str
    source_hash: str
    sound: SoundNote | None = None
    settings: dict[str, str] = field(default_factory=dict)
    unheard: tuple[Unheard, ...] = ()
