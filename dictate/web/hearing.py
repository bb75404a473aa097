"""What a reviewer says into the browser's microphone, as words. The sound is kept nowhere."""

from __future__ import annotations

import threading
from collections.abc import Callable

from dictate.errors import InputError
from dictate.sound import Sound
from dictate.web.clips import decoded

LONGEST = 60.0  # seconds that are taken at once
LARGEST = 16 * 1024 * 1024  # bytes sent: a minute of 16 bit samples, at any rate that a microphone has
WHERE = "what was said"


def by_speech(sound: Sound) -> str:
    """The speech step, with the shipped model."""
    from dictate.speech import transcribe_sound
    from dictate.ways import speech_settings

    return transcribe_sound(sound, settings=speech_settings()).text


class Hearing:
    """Words of short recordings, one at a time, for the model is large. `listen` makes words of sound."""

    def __init__(self, listen: Callable[[Sound], str] = by_speech) -> None:
        self.listen = listen
        self._lock = threading.Lock()

    def words(self, content: bytes) -> str:
        """The words of a recording, on one line.

        Raises:
            InputError: no sound, longer than `LONGEST`, or no speech in it.
        """
        if content[:4] != b"RIFF":  # what our page sends; a compressed file could hold hours
            raise InputError("this is no WAV sound", where=WHERE)
        try:
            sound = decoded(content)
        except InputError as error:
            raise InputError(error.what, where=WHERE) from None
        if sound.seconds > LONGEST + 1:
            raise InputError(f"is longer than {LONGEST:.0f} seconds; say it in parts", where=WHERE)
        with self._lock:
            words = " ".join(self.listen(sound).split())
        if not words:
            raise InputError("no speech was heard in it", where=WHERE)
        return words
