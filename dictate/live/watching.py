"""Whether the sound that comes is fit to be heard: silent and clipping microphones are told while the exam goes on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dictate.sound.levels import QUIET_DB, SILENT_DB, Levels, loudness, with_samples
from dictate.sound.sound import RATE

SILENT_FOR = 5.0  # seconds below which even a quiet room with a live microphone does not fall (SILENT_DB)
CLIPPED_RUNS = 20  # flat samples at full level within `WINDOW` seconds
WINDOW = 3.0


def level_db(samples: NDArray[np.int16]) -> float:
    """The level of samples in dB below full scale; -100 for none."""
    if not len(samples):
        return -100.0
    power = float(np.mean(np.square(samples.astype(np.float32) / 32768)))
    return max(-100.0, 10 * float(np.log10(power + 1e-12)))


class LevelWatch:
    """Told of every block, it says what is wrong now: "", "silent" or "clipping"."""

    def __init__(self) -> None:
        self._silent = 0.0
        self._clips: list[tuple[float, int]] = []
        self._now = 0.0
        self.level = -100.0

    def more(self, samples: NDArray[np.int16]) -> str:
        seconds = len(samples) / RATE
        self._now += seconds
        self.level = level_db(samples)
        self._silent = self._silent + seconds if self.level < SILENT_DB else 0.0
        clipped = with_samples(Levels(), samples).clipped
        self._clips = [(t, n) for t, n in self._clips if t > self._now - WINDOW]
        if clipped:
            self._clips.append((self._now, clipped))
        if self._silent >= SILENT_FOR:
            return "silent"
        return "clipping" if sum(n for _, n in self._clips) >= CLIPPED_RUNS else ""


def fitness(samples: NDArray[np.int16]) -> tuple[bool, str]:
    """Whether a microphone is fit, by some seconds of somebody speaking into it, and why not."""
    levels = with_samples(Levels(), samples)
    loud = loudness(levels)
    if loud < SILENT_DB:
        return False, "nothing was heard: it may be muted or unplugged"
    if levels.clipped >= CLIPPED_RUNS:
        return False, "it is too loud and clips: turn it down or hold it farther away"
    if loud < QUIET_DB:
        return False, f"too quiet ({loud:.0f} dB below full scale): turn it up or hold it nearer"
    quiet = _quietest(samples)
    if loud - quiet < 12:
        return False, f"speech is only {loud - quiet:.0f} dB above the room's noise: hold it nearer"
    return True, f"fit: speech at {loud:.0f} dB, the room {loud - quiet:.0f} dB below it"


def _quietest(samples: NDArray[np.int16]) -> float:
    """The level that the quietest tenth of frames of 30 ms stays below."""
    whole = len(samples) // 480 * 480
    power = np.square(samples[:whole].reshape(-1, 480).astype(np.float32) / 32768).mean(axis=1)
    return float(10 * np.log10(np.quantile(power, 0.1) + 1e-10))
