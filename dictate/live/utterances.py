"""From the probability of speech, frame by frame, to utterances: what is said between two pauses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictate.live.hearing import FRAME_SECONDS

THRESHOLD, HYSTERESIS = 0.35, 0.15  # as in `dictate.speech.voice`
PAUSE = 0.35  # seconds without speech that end an utterance; half a second is what separates passages of a file
LONGEST = 9.0  # seconds; a longer one is cut where speech is least likely in its last third
PAD = 0.2  # seconds heard on either side
SHORTEST = 0.1  # seconds; shorter bursts of speech-like sound are none


@dataclass(frozen=True, slots=True)
class Utterance:
    """Seconds of the sound, half-open. `before` is the silence before it. `cut`: it goes on in the next one."""

    start: float
    end: float
    before: float
    cut: bool = False


class Segmenter:
    """Utterances of growing sound. `open_since` is the start of the one that is being spoken, None in silence."""

    def __init__(self, *, pause: float = PAUSE) -> None:
        self.open_since: float | None = None
        self.now = 0.0
        self.last_end = 0.0
        self._pause = pause
        self._last_speech = 0.0
        self._row: list[float] = []  # probabilities since the open utterance began
        self._frames = 0

    @property
    def silence(self) -> float:
        """Seconds since speech was heard last."""
        return self.now - (self._last_speech if self.open_since is not None else self.last_end)

    def more(self, probabilities: Sequence[float]) -> tuple[Utterance, ...]:
        """Take in frames; the utterances that ended with them."""
        done = []
        for p in probabilities:
            at = self._frames * FRAME_SECONDS
            self._frames += 1
            self.now = at + FRAME_SECONDS
            if p >= THRESHOLD or (self.open_since is not None and p >= THRESHOLD - HYSTERESIS):
                if self.open_since is None:
                    self.open_since, self._row = at, []
                self._last_speech = self.now
            if self.open_since is None:
                continue
            self._row.append(float(p))
            if self.now - self._last_speech >= self._pause:
                done += self._closed()
            elif self.now - self.open_since >= LONGEST:
                done.append(self._cut())
        return tuple(done)

    def end(self) -> tuple[Utterance, ...]:
        """What is being spoken when the sound ends."""
        return tuple(self._closed()) if self.open_since is not None else ()

    def _closed(self) -> list[Utterance]:
        start = self.open_since or 0.0
        self.open_since = None
        if self._last_speech - start < SHORTEST:
            return []
        made = Utterance(start, self._last_speech, start - self.last_end)
        self.last_end = self._last_speech
        return [made]

    def _cut(self) -> Utterance:
        start = self.open_since or 0.0
        first = len(self._row) * 2 // 3
        place = min(range(first, len(self._row) - 3), key=lambda i: sum(self._row[i - 1 : i + 2]))
        at = start + place * FRAME_SECONDS
        made = Utterance(start, at, start - self.last_end, cut=True)
        self.open_since, self._row, self.last_end = at, self._row[place:], at
        return made
