"""The heavy steps as functions; each is imported when it is first called."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from dictate.draft import Steps
from dictate.exam.statements import Reading
from dictate.lexicon import Lexicon
from dictate.speech.words import Transcript


def listener(
    model: str, *, plain: bool = False, quick: bool = False, within: Callable[[float], None] | None = None
) -> Callable[[Path], Transcript]:
    """The function that makes words of a sound file with this speech model.

    `plain` takes the model as packaged; `quick` the likeliest words alone instead of the best of five ways.
    """

    def listen(file: Path) -> Transcript:
        from dictate.live.events import read_events, stretches_to_us
        from dictate.speech import SpeechSettings, transcribe

        settings = SpeechSettings(model=model, plain=plain, beam=1 if quick else 5)
        if hidden := stretches_to_us(read_events(file)):
            from dictate.live.hearing import heard_recording

            return heard_recording(file, hidden, settings, progress=within)
        return transcribe(file, settings=settings, progress=within)

    return listen


def read(transcript: Transcript, lexicon: Lexicon) -> Reading:
    """The language step."""
    from dictate import language

    return language.read(transcript, lexicon)


def steps_for(
    model: str, *, plain: bool = False, quick: bool = False, within: Callable[[float], None] | None = None
) -> Steps:
    """Both steps: sound to words, words to statements."""
    return Steps(read=read, listen=listener(model, plain=plain, quick=quick, within=within))
