"""The heavy steps as functions; each is imported when it is first called."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from dictate.draft import Steps
from dictate.exam.statements import Reading
from dictate.lexicon import Lexicon
from dictate.speech.settings import Way
from dictate.speech.words import Transcript


def listener(
    model: str,
    *,
    plain: bool = False,
    way: Way = "default",
    lexicon: Path | None = None,
    within: Callable[[float], None] | None = None,
) -> Callable[[Path], Transcript]:
    """The function that makes words of a sound file with this speech model.

    `plain` takes the model as packaged; `lexicon` is the folder of a practice's own tables, whose words are listened
    for too; `way` is a way of working (`dictate/ways.py`).
    """

    def listen(file: Path) -> Transcript:
        from dictate.live.events import read_events, stretches_to_us
        from dictate.speech import transcribe
        from dictate.ways import speech_settings

        settings = speech_settings(model, plain=plain, way=way, lexicon=lexicon)
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
    model: str,
    *,
    plain: bool = False,
    way: Way = "default",
    lexicon: Path | None = None,
    within: Callable[[float], None] | None = None,
) -> Steps:
    """Both steps: sound to words, words to statements."""
    return Steps(read=read, listen=listener(model, plain=plain, way=way, lexicon=lexicon, within=within))
