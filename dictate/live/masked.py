"""A sound in which what was spoken to the program is silence: orders and answers are no part of a talk."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dictate.sound.sound import RATE, Sound

Stretches = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class MaskedSound(Sound):
    """`hidden` are seconds, half-open; whoever reads the sound by `block` or `stretch` finds zeros there."""

    hidden: Stretches = ()

    def block(self, begin: int, end: int) -> NDArray[np.int16]:
        part = Sound.block(self, begin, end)
        begin = max(0, begin)
        for start, stop in self.hidden:
            first, last = round(start * RATE) - begin, round(stop * RATE) - begin
            if last > 0 and first < len(part):
                part[max(0, first) : last] = 0
        return part

    def stretch(self, start: float, end: float) -> NDArray[np.float32]:
        return self.block(round(start * RATE), round(end * RATE)).astype(np.float32) * np.float32(1 / 32768)


def masked(sound: Sound, hidden: Stretches) -> Sound:
    """The sound with these stretches hidden."""
    return MaskedSound(sound.samples, sound.note, sound.source_hash, hidden) if hidden else sound
