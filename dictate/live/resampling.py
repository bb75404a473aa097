"""Growing sound at any rate brought to 16 kHz, through FFmpeg's resampler."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dictate.sound.sound import RATE


class Resampler:
    """Called with 16 bit mono samples at `rate` Hz, shape (n,), it gives those at 16 kHz that are due."""

    def __init__(self, rate: int) -> None:
        import av

        self.rate = rate
        self._av = av
        self._run = av.AudioResampler(format="s16", layout="mono", rate=RATE) if rate != RATE else None

    def __call__(self, samples: NDArray[np.int16]) -> NDArray[np.int16]:
        if self._run is None or not len(samples):
            return samples
        frame = self._av.AudioFrame.from_ndarray(np.ascontiguousarray(samples)[None], format="s16", layout="mono")
        frame.sample_rate = self.rate
        parts = [p.to_ndarray().reshape(-1) for p in self._run.resample(frame)]
        return np.concatenate(parts).astype(np.int16) if parts else np.zeros(0, dtype=np.int16)
