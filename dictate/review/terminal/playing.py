"""The sound of a stretch, played aloud where the machine can."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import wave
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

from dictate.errors import InputError
from dictate.exam.record import Evidence, Record
from dictate.sound import RATE, Sound, decode, file_hash

AROUND = 0.7  # seconds played before and after the words
PLAYERS = (("paplay",), ("pw-play",), ("aplay", "-q"), ("afplay",), ("ffplay", "-nodisp", "-autoexit", "-v", "quiet"))


def find_sound(record: Record, folders: Iterable[Path]) -> Path | None:
    """The recording that the record was drafted from, by its name and its hash; None where it is not at hand."""
    if record.source.kind != "sound":
        return None
    for folder in folders:
        file = folder / record.source.name
        if file.is_file() and file_hash(file) == record.source.sha256:
            return file
    return None


def play(file: Path, evidence: Evidence) -> None:
    """Play the words of one piece of evidence, and wait until they are over.

    Raises:
        InputError: the words have no time, or nothing on this machine plays sound.
    """
    if evidence.start is None or evidence.end is None:
        raise InputError("these words have no sound")
    player = next((p for p in PLAYERS if shutil.which(p[0])), None)
    if player is None:
        raise InputError(f"none of {', '.join(p[0] for p in PLAYERS)} is installed to play it")
    sound = _decoded(file)
    begin, end = max(0.0, evidence.start - AROUND), min(sound.seconds, evidence.end + AROUND)
    with tempfile.NamedTemporaryFile(suffix=".wav") as stretch:
        with wave.open(stretch, "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(RATE)
            out.writeframes(sound.block(round(begin * RATE), round(end * RATE)).tobytes())
        stretch.flush()
        done = subprocess.run([*player, stretch.name], stdin=subprocess.DEVNULL, capture_output=True, check=False)
    if done.returncode:
        raise InputError(f"{player[0]} could not play it")


@lru_cache(maxsize=1)
def _decoded(file: Path) -> Sound:
    return decode(file)
