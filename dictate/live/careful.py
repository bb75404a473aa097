"""The careful hearing, in a process of its own with a low priority: it never holds up what is heard at once.

It follows the recording on disk, chunk by chunk as the final draft will hear them, and makes the final transcript, for
which it has then heard nearly everything.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

from dictate.errors import InputError
from dictate.live.masked import Stretches, masked
from dictate.speech.settings import SpeechSettings
from dictate.speech.words import Transcript, Word

Progress = Callable[[float], None]
NICE = 10


class Careful(Protocol):
    def look(self, file: Path, samples: int, hidden: Stretches) -> None: ...

    def reply(self) -> tuple[tuple[Word, ...], float] | None: ...

    def finish(self, file: Path, hidden: Stretches, progress: Progress) -> Transcript: ...

    def close(self) -> None: ...


class CarefulProcess:
    """See above. `look` asks and returns at once; `reply` gives what was heard since, if anything."""

    def __init__(self, settings: SpeechSettings) -> None:
        context = multiprocessing.get_context("spawn")
        self._ours, theirs = context.Pipe()
        self._process = context.Process(target=_work, args=(theirs, settings), daemon=True, name="dictate-careful")
        self._process.start()
        theirs.close()
        self._settings = settings
        self._asked = False

    @property
    def pid(self) -> int | None:
        return self._process.pid

    def look(self, file: Path, samples: int, hidden: Stretches) -> None:
        if not self._asked:
            self._send("look", file, samples, hidden)
            self._asked = True

    def reply(self) -> tuple[tuple[Word, ...], float] | None:
        with contextlib.suppress(OSError, EOFError):
            while self._ours.poll():
                kind, *rest = self._ours.recv()
                if kind == "words":
                    self._asked = False
                    return rest[0], rest[1]
        return None

    def finish(self, file: Path, hidden: Stretches, progress: Progress) -> Transcript:
        """The transcript of the finished recording. Should the process have died, it is made here."""
        try:
            self._ours.send(("finish", file, 0, hidden))
            while True:
                kind, *rest = self._ours.recv()
                if kind == "done":
                    progress(rest[0])
                elif kind == "transcript":
                    made: Transcript = rest[0]
                    return made
                elif kind == "refused":
                    raise InputError(rest[0], where=rest[1])
        except (OSError, EOFError):
            from dictate.live.hearing import heard_recording

            return heard_recording(file, hidden, self._settings, progress=progress)

    def _send(self, *what: Any) -> None:
        with contextlib.suppress(OSError):
            self._ours.send(what)

    def close(self) -> None:
        self._send("end", None, 0, ())
        self._process.join(timeout=2)
        if self._process.is_alive():
            self._process.terminate()


def _work(pipe: Any, settings: SpeechSettings) -> None:
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the exam; it tells us to finish
    with contextlib.suppress(OSError, AttributeError):
        os.nice(NICE)
    from dictate.live.hearing import CarefulEar, heard_recording
    from dictate.live.recording import sound_so_far

    ear: CarefulEar | None = None
    while True:
        try:
            kind, file, samples, hidden = pipe.recv()
        except (EOFError, OSError):
            return
        try:
            if kind == "look":
                ear = ear or CarefulEar(settings)
                words, reach = ear.look(masked(sound_so_far(file, samples), hidden))
                pipe.send(("words", words, reach))
            elif kind == "finish":
                known = ear.known if ear else None

                def told(done: float) -> None:
                    pipe.send(("done", done))

                made = heard_recording(file, hidden, settings, known=known, progress=told)
                pipe.send(("transcript", made))
            else:
                return
        except InputError as error:
            pipe.send(("refused", error.what, error.where))
        except (BrokenPipeError, ConnectionResetError):
            return
