"""Sound from its source into the recording, block by block; nothing that understands it can hold this up."""

from __future__ import annotations

import contextlib
import queue
import threading
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dictate.errors import InputError
from dictate.live.board import Board
from dictate.live.events import Event, EventLog, event_now
from dictate.live.recording import Recording
from dictate.live.sources import Source
from dictate.live.watching import LevelWatch
from dictate.sound.sound import RATE

SEAM = np.zeros(round(0.7 * RATE), dtype=np.int16)  # silence where the sound has a gap: no word may join across it
WATCHED = {
    "silent": "nothing is heard: is the microphone muted or unplugged?",
    "clipping": "the microphone is too loud: words may be misheard",
}


@dataclass(frozen=True, slots=True)
class Came:
    """Sound for those who understand it: `kept` is in the recording, else it was said during a pause. `at` is the
    number of its first sample in the recording."""

    samples: NDArray[np.int16]
    kept: bool
    at: int = 0


class Capture:
    """A thread that runs until the source ends or `stop` is set. What came lies in `inbox`; None is the end."""

    def __init__(self, source: Source, recording: Recording, log: EventLog, board: Board) -> None:
        self.inbox: queue.Queue[Came | None] = queue.Queue()
        self.stop = threading.Event()
        self.paused = False
        self.fault = ""
        self.events: tuple[Event, ...] = ()
        self._source, self._recording, self._log, self._board = source, recording, log, board
        self._watch = LevelWatch()
        self._seam = False
        self._full = False
        self._turn = threading.Lock()  # a block is taken in whole before or after a pause begins
        self._thread = threading.Thread(target=self._run, name="capture", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def join(self) -> None:
        self._thread.join(timeout=5)

    def note(self, event: Event) -> None:
        """Keep an event; one that cannot be written is still known until the end."""
        self.events = (*self.events, event)
        try:
            self._log.add(event)
        except OSError as error:
            self._board.trouble("disk", f"cannot be written ({error.strerror or error})")

    def pause(self, since: float) -> None:
        """From the second `since` on nothing is kept: what was written of it before the order was heard is blanked."""
        with self._turn:
            self.paused = True
            try:
                self._recording.blank(round(since * RATE))
            except OSError as error:
                self._board.trouble("disk", f"cannot be written ({error.strerror or error})")

    def resume(self, since: NDArray[np.int16]) -> None:
        """Go on. `since` is what was said after the order, while it was being heard: it is part of the exam again."""
        with self._turn:
            waiting = []
            while not self.inbox.empty():
                waiting.append(self.inbox.get())
            self._seam, self.paused = True, False
            self._hand_on(np.concatenate([since, *(c.samples for c in waiting if c is not None)]))
            if None in waiting:
                self.inbox.put(None)

    def _run(self) -> None:
        try:
            for block in self._source.blocks(self.stop):
                if block.trouble:
                    self._board.trouble("sound", block.trouble)
                    continue
                if block.late:
                    self._seam = True
                    self._board.trouble("sound", "")
                    self.note(
                        event_now("trouble", self._recording.seconds, what=f"no sound came for {block.late:.0f} s")
                    )
                self._take(block.samples)
        except InputError as error:
            self.fault = str(error)
        except Exception as error:
            self.fault = f"the sound broke off ({type(error).__name__}: {error})"
        finally:
            if self.fault:
                self._board.trouble("sound", self.fault)
            self.inbox.put(None)

    def _take(self, samples: NDArray[np.int16]) -> None:
        wrong = self._watch.more(samples)
        self._board.trouble("microphone", WATCHED.get(wrong, ""))
        self._board.level = self._watch.level
        with self._turn:
            self._hand_on(samples)

    def _hand_on(self, samples: NDArray[np.int16]) -> None:
        if self.paused:
            self.inbox.put(Came(samples, False))
            return
        if self._seam:
            samples = np.concatenate([SEAM, samples])
        at = self._recording.samples
        try:
            self._recording.append(samples)
        except OSError as error:
            self._board.trouble("disk", f"the sound is NOT being kept: {error.strerror or error}")
            self._full = self._seam = True
            return
        self._seam = False
        if self._full:
            self._full = False
            self._board.trouble("disk", "")
            with contextlib.suppress(OSError):
                self.note(event_now("trouble", self._recording.seconds, what="the disk was full: sound was lost"))
        self.inbox.put(Came(samples, True, at))
