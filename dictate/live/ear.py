"""What is heard at once: growing sound in, utterances with their words out."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from dictate.live.hearing import QuickWords, VoiceActivity
from dictate.live.utterances import PAD, Segmenter, Utterance
from dictate.sound.sound import RATE

KEPT = 20 * RATE  # samples held in memory for hearing
PIECE = 5 * RATE  # samples taken in at a time
PROVISIONAL_EVERY = 0.45  # seconds of new sound between two hearings of an utterance that is being spoken
BUSY_AT_MOST = 0.5  # share of the time that such hearings may take


class Hearer(Protocol):
    def hear(self, samples: NDArray[np.float32]) -> QuickWords: ...

    def likelihoods(self, phrases: Sequence[str]) -> tuple[tuple[float, ...], ...]: ...

    def begins(self, text: str, word: int) -> float: ...


@dataclass(frozen=True, slots=True)
class HeardUtterance:
    """An utterance and its words; `from_second` is where the sound that was heard begins."""

    utterance: Utterance
    words: QuickWords
    from_second: float


@dataclass(frozen=True, slots=True)
class Provisional:
    """What was heard so far of the utterance that is being spoken."""

    start: float
    end: float
    words: QuickWords


class Ear:
    """Fed with samples, it says what was said. Times count from `begin`, in seconds."""

    def __init__(
        self,
        hearer: Hearer,
        *,
        begin: float = 0.0,
        provisional: bool = True,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.hearer = hearer
        self._clock = clock
        self.segmenter = Segmenter()
        self._voice = VoiceActivity()
        self._begin = begin
        self._held: NDArray[np.int16] = np.zeros(0, dtype=np.int16)
        self._first = 0  # number of the first held sample
        self._provisional = provisional
        self._heard_at, self._took = 0.0, 0.0
        self._tried_at = 0.0

    @property
    def now(self) -> float:
        return self._begin + self.segmenter.now

    @property
    def speaking(self) -> bool:
        return self.segmenter.open_since is not None

    @property
    def silence(self) -> float:
        """Seconds since somebody spoke."""
        return self.segmenter.silence

    def more(self, samples: NDArray[np.int16]) -> tuple[HeardUtterance, ...]:
        """Take in sound; the utterances that ended in it, with their words."""
        found: list[HeardUtterance] = []
        for at in range(0, len(samples), PIECE):  # however far behind we are, an utterance is heard while it is held
            found += self._more(samples[at : at + PIECE])
        return tuple(found)

    def since(self, second: float) -> NDArray[np.int16]:
        """What came after a second, as far back as it is held."""
        return self._held[max(0, round((second - self._begin) * RATE) - self._first) :]

    def _more(self, samples: NDArray[np.int16]) -> tuple[HeardUtterance, ...]:
        self._held = np.concatenate([self._held, samples])
        if len(self._held) > KEPT:
            self._first += len(self._held) - KEPT
            self._held = self._held[-KEPT:]
        return self._hear(self.segmenter.more(self._voice.more(samples).tolist()))

    def end(self) -> tuple[HeardUtterance, ...]:
        return self._hear(self.segmenter.end())

    def provisional(self) -> Provisional | None:
        """What can be heard of the utterance that is being spoken, where it is time to listen again."""
        start, now = self.segmenter.open_since, self.segmenter.now
        if not self._provisional or start is None or now - max(start, self._heard_at) < PROVISIONAL_EVERY:
            return None
        if self.segmenter.silence > 0.1:  # it is about to end: it will be heard whole in a moment
            return None
        if self._clock() - self._tried_at < self._took / BUSY_AT_MOST:
            return None
        begun = self._clock()
        words = self.hearer.hear(self._samples(start - PAD, now))
        self._heard_at, self._tried_at = now, begun
        self._took = self._clock() - begun
        return Provisional(self._begin + start, self._begin + now, words)

    def _hear(self, ended: Sequence[Utterance]) -> tuple[HeardUtterance, ...]:
        found = []
        for u in ended:
            first = max(0.0, u.start - PAD)
            words = self.hearer.hear(self._samples(first, u.end + PAD))
            moved = Utterance(self._begin + u.start, self._begin + u.end, u.before, u.cut)
            found.append(HeardUtterance(moved, words, self._begin + first))
        return tuple(found)

    def _samples(self, start: float, end: float) -> NDArray[np.float32]:
        first, last = max(0, round(start * RATE) - self._first), max(0, round(end * RATE) - self._first)
        part = self._held[first:last].astype(np.float32) * np.float32(self._voice.gain / 32768)
        return np.clip(part, -1.0, 1.0)
