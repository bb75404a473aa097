"""The system's own speech voice, for answers that were asked for. Nothing is spoken otherwise."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable

from dictate.errors import InputError

PROGRAMS = (("spd-say", "--wait"), ("say",), ("espeak-ng",), ("espeak",))
LONGEST = 600  # characters; more is shown, not spoken


def speaker() -> Callable[[str], None]:
    """A function that speaks a text and returns when it was spoken. InputError where the system has no voice."""
    found = next((p for p in PROGRAMS if shutil.which(p[0])), None)
    if found is None:
        raise InputError("this system has no speech voice (spd-say, say or espeak-ng)", where="--speak")
    program = found

    def speak(text: str) -> None:
        subprocess.run(
            [*program, text[:LONGEST]], stdin=subprocess.DEVNULL, capture_output=True, timeout=90, check=False
        )

    return speak
