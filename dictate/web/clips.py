"""Short stretches of a visit's recording, cut on the recording's own time line and sent as WAV.

The browser never gets a whole recording at once, needs to know none of its kinds, and hears exactly the named seconds.
"""

from __future__ import annotations

import contextlib
import io
import tempfile
import threading
import wave
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path

from dictate.errors import InputError
from dictate.sound import RATE, Sound, decode

AROUND = 0.4  # seconds played before and after a stretch, so that no word is cut
LONGEST = 120.0  # seconds of one clip: 3.8 MB
KEPT = 3  # decoded recordings; those past ten minutes lie on disk (see `dictate.sound.decode`)


class Clips:
    """The last few recordings that were listened to, decoded. Safe to use from several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, Sound] = OrderedDict()

    def clip(self, key: str, load: Callable[[], bytes], start: float, end: float) -> bytes:
        """The seconds from `start` to `end`, and a little around them, as a WAV file (16 kHz, mono, 16 bit).

        `load` gives the recording's bytes; it is called when the recording `key` is not at hand. One recording is
        decoded at a time, so that a page with many lines does not fill the memory.
        """
        sound = self._sound(key, load)
        begin = max(0.0, start - AROUND)
        until = min(max(end, start) + AROUND, begin + LONGEST)
        return wav(sound.block(round(begin * RATE), round(until * RATE)).tobytes())

    def prepare(self, key: str, load: Callable[[], bytes]) -> None:
        """Decode a recording before anybody listens: five milliseconds for a second of sound, once."""
        with contextlib.suppress(InputError):  # told when it is listened to
            self._sound(key, load)

    def _sound(self, key: str, load: Callable[[], bytes]) -> Sound:
        with self._lock:
            sound = self._kept.pop(key, None) or decoded(load())
            self._kept[key] = sound
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
            return sound


def decoded(content: bytes) -> Sound:
    """The sound of a file's bytes. InputError where there is none in them."""
    with tempfile.TemporaryDirectory(prefix="dictate-") as folder:
        file = Path(folder) / "recording"
        file.write_bytes(content)
        return decode(file)


def wav(samples: bytes) -> bytes:
    """16 bit mono samples as the bytes of a WAV file."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(samples)
    return out.getvalue()
