"""Placing decoded frames on one time line and bringing them to 16 kHz mono."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import av
import av.error
import numpy as np
from numpy.typing import NDArray

from dictate.sound.container import Opened, Stamped, Trouble, stamped_frames
from dictate.speech.words import Gap

RATE = 16000
_TOLERANCE = 0.05  # seconds: containers round their stamps, encoders have a run-in
_LONGEST_GAP = 600.0  # seconds; a longer jump, in a file that states no length, is a damaged stamp


def placed(file: Opened, trouble: Trouble) -> Iterator[NDArray[np.int16] | Gap | str]:
    """Samples in order, with silence where time stamps show that something is missing; gaps and remarks in between.

    A jump in time counts only when the next frame confirms it. A jump back, or one past the end that the file states,
    is taken for a clock that was set anew: the sound goes on without a hole and a remark says so.
    """
    run: Any = None  # the resampler of the present run of frames
    kind: tuple[str, str, int] | None = None
    emitted = 0
    begun, taken = 0.0, 0  # where the run began, in seconds, and the samples it has taken in
    shift = 0.0
    for now, then in _pairs(stamped_frames(file, trouble)):
        frame = now.frame
        length = frame.samples / frame.sample_rate
        clock = begun + (taken / kind[2] if kind else 0.0)
        if now.time is not None and abs(off := now.time + shift - clock) > _TOLERANCE and _confirmed(now, then, length):
            end = clock + off
            if off > 0 and (end + length <= file.claimed + 1 if file.claimed else off <= _LONGEST_GAP):
                for part in _resampled(run, None, trouble):
                    emitted += len(part)
                    yield part
                silence = round(end * RATE) - emitted
                for left in range(silence, 0, -RATE):
                    yield np.zeros(min(left, RATE), dtype=np.int16)
                emitted += max(0, silence)
                yield Gap(round(clock, 3), round(end, 3), "damaged or missing in the file")
                run, kind = None, None
            else:
                shift -= off
                if abs(off) > 1:
                    yield f"the file's time stamps jump by {off:.1f} s at {clock:.1f} s; the sound is taken to go on"
        form = (frame.format.name, frame.layout.name, frame.sample_rate)
        if form != kind:
            for part in _resampled(run, None, trouble):
                emitted += len(part)
                yield part
            run = av.AudioResampler(format="s16", layout="mono", rate=RATE)
            kind, begun, taken = form, emitted / RATE, 0
        taken += frame.samples
        for part in _resampled(run, frame, trouble):
            emitted += len(part)
            yield part
    yield from _resampled(run, None, trouble)


def _confirmed(now: Stamped, then: Stamped | None, length: float) -> bool:
    """Whether the next frame follows on this one: a single wrong stamp moves nothing."""
    if then is None or then.time is None or now.time is None:
        return True
    return abs(then.time - now.time - length) <= _TOLERANCE


def _pairs(frames: Iterator[Stamped]) -> Iterator[tuple[Stamped, Stamped | None]]:
    before: Stamped | None = None
    for frame in frames:
        if before is not None:
            yield before, frame
        before = frame
    if before is not None:
        yield before, None


def _resampled(run: Any, frame: Any, trouble: Trouble) -> list[NDArray[np.int16]]:
    """What the resampler gives back for a frame, or at the end of a run for None."""
    if run is None:
        return []
    try:
        if frame is not None:
            frame.pts = None  # places are counted here; the resampler need not check them
        return [part.to_ndarray().reshape(-1).astype(np.int16, copy=False) for part in run.resample(frame)]
    except (av.error.FFmpegError, ValueError):
        if frame is not None:
            trouble.bad_packets += 1
        return []
