"""Where somebody speaks, and how long stretches are cut for the recogniser: at pauses, never inside a word if it can
be helped. Silero's voice activity model, as it comes inside faster-whisper, gives the probability of speech for each
32 ms of sound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dictate.sound.sound import RATE, Sound
from dictate.speech.words import Unheard

FRAME = 512  # samples that the voice model judges at once
_STEP = FRAME / RATE
_BLOCK = 1875 * FRAME  # a minute at a time: memory stays the same for two hours
_RUN_IN = 64 * FRAME  # two seconds before a block, so that the model has heard what came before
_HYSTERESIS = 0.15  # speech ends where its probability falls this far below the threshold
_PAUSE = 0.5  # seconds without speech that end a passage
_PAD = 0.3  # seconds kept on either side: the voice model is late on soft beginnings
_LISTED = 2.0  # seconds from which a stretch without speech is listed
_NOISE = 20.0  # dB: quieter than the speech by more than this is called silence


@dataclass(frozen=True, slots=True)
class Stretch:
    """From `start` to `end`, in seconds."""

    start: float
    end: float

    @property
    def length(self) -> float:
        return self.end - self.start


def gain_for(sound: Sound) -> float:
    """By what factor a quiet sound is raised before it is judged, 1 to 32; the voice model is deaf to faint speech."""
    from dictate.sound.levels import Levels, loudness, with_samples

    levels = Levels()
    for at in range(0, len(sound.samples), _BLOCK):
        levels = with_samples(levels, sound.block(at, at + _BLOCK))
    below = -26.0 - loudness(levels)
    return float(np.clip(10 ** (below / 20), 1.0, 32.0))


def speech_probabilities(
    sound: Sound, *, gain: float = 1.0, progress: Callable[[float], None] | None = None
) -> NDArray[np.float32]:
    """The probability that somebody speaks, for each 512 samples; shape (ceil(n / 512),)."""
    from faster_whisper.vad import get_vad_model

    model = get_vad_model()
    total = len(sound.samples)
    parts = []
    for at in range(0, total, _BLOCK):
        begin = max(0, at - _RUN_IN)
        block = sound.block(begin, at + _BLOCK).astype(np.float32) * np.float32(gain / 32768)
        block = np.clip(np.pad(block, (0, -len(block) % FRAME)), -1.0, 1.0)
        parts.append(np.asarray(model(block), dtype=np.float32).reshape(-1)[(at - begin) // FRAME :])
        if progress:
            progress(min(1.0, (at + _BLOCK) / total))
    return np.concatenate(parts) if parts else np.zeros(0, dtype=np.float32)


def passages(probabilities: NDArray[np.float32], *, threshold: float, seconds: float) -> tuple[Stretch, ...]:
    """The stretches in which somebody speaks, with a little sound around each; in order, none overlapping.

    A passage begins where the probability reaches the threshold and ends where it has been well below it for half a
    second. Nothing is thrown away for being short: "no" is an answer.
    """
    found: list[Stretch] = []
    begun: float | None = None
    last = 0.0
    for i, p in enumerate(probabilities.tolist()):
        at = i * _STEP
        if p >= threshold or (begun is not None and p >= threshold - _HYSTERESIS):
            begun = at if begun is None else begun
            last = at + _STEP
        elif begun is not None and at - last >= _PAUSE:
            found.append(Stretch(begun, last))
            begun = None
    if begun is not None:
        found.append(Stretch(begun, last))
    padded: list[Stretch] = []
    for s in found:
        start, end = max(0.0, s.start - _PAD), min(seconds, s.end + _PAD)
        if padded and start <= padded[-1].end:
            start = padded.pop().start
        if end > start:
            padded.append(Stretch(start, end))
    return tuple(padded)


def chunks(
    speech: tuple[Stretch, ...], probabilities: NDArray[np.float32], *, longest: float
) -> tuple[tuple[Stretch, ...], ...]:
    """Passages gathered into chunks of at most `longest` seconds of sound, each chunk a row of stretches.

    A passage that is longer by itself is cut where speech is least likely in the last third of what fits.
    """
    rows: list[tuple[Stretch, ...]] = []
    row: list[Stretch] = []
    filled = 0.0
    for passage in (part for s in speech for part in _cut(s, probabilities, longest)):
        if row and filled + passage.length > longest:
            rows.append(tuple(row))
            row, filled = [], 0.0
        row.append(passage)
        filled += passage.length
    if row:
        rows.append(tuple(row))
    return tuple(rows)


def _cut(passage: Stretch, probabilities: NDArray[np.float32], longest: float) -> list[Stretch]:
    parts = []
    start = passage.start
    while passage.end - start > longest:
        low, high = int((start + longest * 2 / 3) / _STEP), int((start + longest) / _STEP)
        window = probabilities[low:high]
        # The middle of the quietest 100 ms rather than one frame: stops inside words are short.
        smooth = np.convolve(window, np.ones(3) / 3, mode="same") if len(window) > 3 else window
        place = (low + int(np.argmin(smooth)) + 0.5) * _STEP if len(window) else start + longest
        parts.append(Stretch(start, place))
        start = place
    parts.append(Stretch(start, passage.end))
    return parts


def original_time(row: tuple[Stretch, ...], time: float) -> float:
    """The time in the whole sound of a time in a chunk, in seconds: the row's stretches were put end to end."""
    for stretch in row:
        if time <= stretch.length:
            return stretch.start + max(0.0, time)
        time -= stretch.length
    return row[-1].end


def silences(sound: Sound, speech: tuple[Stretch, ...]) -> tuple[Unheard, ...]:
    """What lies between the passages, from two seconds on: "noise" where it is about as loud as the speech, else
    "silence"."""
    level = max((_level(sound, s) for s in speech[:200]), default=-30.0)
    edges = [0.0, *(t for s in speech for t in (s.start, s.end)), sound.seconds]
    found = []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if end - start >= _LISTED:
            kind = "noise" if _level(sound, Stretch(start, end)) > level - _NOISE else "silence"
            found.append(Unheard(round(start, 2), round(end, 2), kind))
    return tuple(found)


def _level(sound: Sound, stretch: Stretch) -> float:
    """The level in dB below full scale of the first minute of a stretch."""
    samples = sound.stretch(stretch.start, min(stretch.end, stretch.start + 60))
    return float(10 * np.log10(np.mean(np.square(samples)) + 1e-12)) if len(samples) else -120.0
