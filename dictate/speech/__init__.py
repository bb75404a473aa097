"""Speech: a sound becomes words with times and probabilities, offline.

    transcribe(path, settings=SpeechSettings()) -> Transcript       a file, through the cache
    words_json(transcript) -> dict                                  as `dictate transcribe` writes it
    transcript_of_json(value) -> Transcript                         and back

The names are loaded on first use, so that importing this package costs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dictate.speech.listen import transcribe, transcribe_sound
    from dictate.speech.settings import SpeechSettings
    from dictate.speech.wordfile import transcript_of_json, words_json
    from dictate.speech.words import Gap, Reading, SoundNote, Transcript, Unheard, Word

_PLACES = {
    "SpeechSettings": "settings",
    "transcribe": "listen",
    "transcribe_sound": "listen",
    "transcript_of_json": "wordfile",
    "words_json": "wordfile",
    "Gap": "words",
    "Reading": "words",
    "SoundNote": "words",
    "Transcript": "words",
    "Unheard": "words",
    "Word": "words",
}

__all__ = [
    "Gap",
    "Reading",
    "SoundNote",
    "SpeechSettings",
    "Transcript",
    "Unheard",
    "Word",
    "transcribe",
    "transcribe_sound",
    "transcript_of_json",
    "words_json",
]


def __getattr__(name: str) -> Any:
    if name not in _PLACES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    value = getattr(import_module(f"dictate.speech.{_PLACES[name]}"), name)
    globals()[name] = value  # a function may be named as its module is: keep the function
    return value
