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
_AT_ONCE = 0.5  # seconds that are resampled together: a call for each frame of 20 ms costs more than its work
_LONGEST_GAP = 600.0  # seconds; a longer jump, in a file that states no length, is a damaged stamp


def placed(file: Opened, trouble: Trouble) -> Iterator[NDArray[np.int16] | Gap | str]:
    """Samples in order, with silence where time stamps show that something is missing; gaps and remarks in between.

    A jump in time counts only when the next frame confirms it. A jump back, or one past the end that the file states,
    is taken for a clock that was set anew: the sound goes on without a hole and a remark says so.
    """
    run: _Run | None = None  # the present run of frames
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
                for part in run.ended(trouble) if run else ():
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
            for part in run.ended(trouble) if run else ():
                emitted += len(part)
                yield part
            run = _Run(frame.sample_rate)
            kind, begun, taken = form, emitted / RATE, 0
        taken += frame.samples
        for part in run.taken(frame, trouble) if run else ():
            emitted += len(part)
            yield part
    if run is not None:
        yield from run.ended(trouble)


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


class _Run:
    """The resampler of frames of one form that follow on one another. Frames are gathered before they are resampled,
    which changes no sample."""

    def __init__(self, rate: int) -> None:
        self._resampler = av.AudioResampler(format="s16", layout="mono", rate=RATE)
        self._rate = rate
        self._held: list[Any] = []
        self._samples = 0

    def taken(self, frame: Any, trouble: Trouble) -> list[NDArray[np.int16]]:
        """What comes out once this frame is in; mostly nothing."""
        self._held.append(frame)
        self._samples += frame.samples
        return self._through(trouble) if self._samples >= _AT_ONCE * self._rate else []

    def ended(self, trouble: Trouble) -> list[NDArray[np.int16]]:
        """What is still in it, at the end of the run."""
        return [*self._through(trouble), *self._resampled(None, trouble)]

    def _through(self, trouble: Trouble) -> list[NDArray[np.int16]]:
        held, self._held, self._samples = self._held, [], 0
        if len(held) > 1 and (whole := _one_frame(held)) is not None:
            held = [whole]
        return [part for frame in held for part in self._resampled(frame, trouble)]

    def _resampled(self, frame: Any, trouble: Trouble) -> list[NDArray[np.int16]]:
        try:
            if frame is not None:
                frame.pts = None  # places are counted here; the resampler need not check them
            parts = self._resampler.resample(frame)
            return [part.to_ndarray().reshape(-1).astype(np.int16, copy=False) for part in parts]
        except (av.error.FFmpegError, ValueError):
            if frame is not None:
                trouble.bad_packets += 1
            return []


def _one_frame(frames: list[Any]) -> Any:
    """Frames of one form put end to end as one; None where PyAV cannot (a sample format that numpy does not know)."""
    first = frames[0]
    try:
        samples = np.concatenate([f.to_ndarray() for f in frames], axis=1)
        whole = av.AudioFrame.from_ndarray(samples, format=first.format.name, layout=first.layout.name)
    except (av.error.FFmpegError, ValueError, KeyError):
        return None
    whole.sample_rate = first.sample_rate
    return whole
