"""How loud a sound is, and what a reader must be told of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_FRAME = 480  # samples: 30 ms at 16 kHz
_FLOOR = -100  # dB below full scale; the histogram has one place a dB from here to 0
_NO_COUNTS: tuple[int, ...] = (0,) * (1 - _FLOOR)
_CLIPPED = 32760  # of 32767: the resampler rounds a flat top a little
SILENT_DB = -65.0
QUIET_DB = -45.0
CLIPPED_SHARE = 0.002  # of the loud samples, in flat runs of three or more


@dataclass(frozen=True, slots=True)
class Levels:
    """Loudness counted so far: frames of 30 ms for each whole dB below full scale, and samples at the very top."""

    frames: tuple[int, ...] = _NO_COUNTS
    clipped: int = 0
    samples: int = 0


def with_samples(levels: Levels, samples: NDArray[np.int16]) -> Levels:
    """The counts with some more 16 bit samples, shape (n,), taken in. A last frame of under 30 ms is not counted."""
    whole = len(samples) // _FRAME * _FRAME
    power = np.square(samples[:whole].reshape(-1, _FRAME).astype(np.float32) / 32768).mean(axis=1)
    level = np.clip(np.rint(10 * np.log10(power + 1e-12)), _FLOOR, 0).astype(int) - _FLOOR
    counts = np.bincount(level, minlength=len(_NO_COUNTS)) + np.asarray(levels.frames)
    top = np.abs(samples.astype(np.int32)) >= _CLIPPED
    flat = int(np.count_nonzero(top[2:] & top[1:-1] & top[:-2])) if len(top) > 2 else 0
    return Levels(tuple(counts.tolist()), levels.clipped + flat, levels.samples + len(samples))


def loudness(levels: Levels) -> float:
    """The level in dB below full scale that the loudest tenth of all frames reaches; -100 for no sound at all."""
    total, seen = sum(levels.frames), 0
    for place in range(len(levels.frames) - 1, -1, -1):
        seen += levels.frames[place]
        if seen and seen >= total / 10:
            return float(place + _FLOOR)
    return float(_FLOOR)


def level_warnings(levels: Levels) -> tuple[str, ...]:
    """In plain words: silent, very quiet, clipped."""
    loud = loudness(levels)
    warnings = []
    # The very loudest frames decide about silence: one word in ten minutes is not silence.
    loudest = max((p + _FLOOR for p, n in enumerate(levels.frames) if n), default=_FLOOR)
    if loudest < SILENT_DB:
        return ("silent: nothing can be heard in the whole recording",)
    if loud < QUIET_DB:
        warnings.append(f"very quiet ({loud:.0f} dB below full scale at its loudest tenth): words may be missed")
    if levels.samples and levels.clipped / levels.samples > CLIPPED_SHARE:
        share = 100 * levels.clipped / levels.samples
        warnings.append(f"clipped: {share:.1f} % of the sound is cut off at full level; words may be misheard")
    return tuple(warnings)
