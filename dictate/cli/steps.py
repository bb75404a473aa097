"""The heavy steps as functions; each is imported when it is first called."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from dictate.draft import Steps
from dictate.exam.statements import Reading
from dictate.lexicon import Lexicon
from dictate.speech.words import Transcript


def listener(model: str, *, within: Callable[[float], None] | None = None) -> Callable[[Path], Transcript]:
    """The function that makes words of a sound file with this speech model."""

    def listen(file: Path) -> Transcript:
        from dictate.live.events import read_events, stretches_to_us
        from dictate.speech import SpeechSettings, transcribe

        if hidden := stretches_to_us(read_events(file)):
            from dictate.live.hearing import heard_recording

            return heard_recording(file, hidden, SpeechSettings(model=model), progress=within)
        return transcribe(file, settings=SpeechSettings(model=model), progress=within)

    return listen


def read(transcript: Transcript, lexicon: Lexicon) -> Reading:
    """The language step."""
    from dictate import language

    return language.read(transcript, lexicon)


def steps_for(model: str, *, within: Callable[[float], None] | None = None) -> Steps:
    """Both steps: sound to words, words to statements."""
    return Steps(read=read, listen=listener(model, within=within))
