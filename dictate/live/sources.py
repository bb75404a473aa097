"""Where the sound comes from: a file or a pipe at real speed, a microphone, or a browser in the room.

A source gives blocks of 16 kHz mono samples, at most a quarter of a second each, and says in words when none come.
"""

from __future__ import annotations

import contextlib
import queue
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from dictate.errors import InputError
from dictate.sound.sound import RATE, pieces

BLOCK = RATE // 10
MISSED_AFTER = 1.0  # seconds without a block after which a microphone counts as lost


@dataclass(frozen=True, slots=True)
class Block:
    """Samples, shape (n,), or none and what is wrong. `late` are seconds that were lost before it."""

    samples: NDArray[np.int16] = field(default_factory=lambda: np.zeros(0, dtype=np.int16))
    trouble: str = ""
    late: float = 0.0


class Source(Protocol):
    name: str

    def blocks(self, stop: threading.Event) -> Iterator[Block]: ...


class FileSource:
    """A sound file played at real speed, from `begin` seconds on; `speed` 2 is twice as fast, 0 as fast as it goes."""

    def __init__(
        self, file: Path, *, begin: float = 0.0, speed: float = 1.0, told: Callable[[int], None] | None = None
    ) -> None:
        self.name = file.name
        self._file, self._begin, self._speed, self._told = file, round(begin * RATE), speed, told

    def blocks(self, stop: threading.Event) -> Iterator[Block]:
        clock, given = time.monotonic(), 0
        for piece in pieces(self._file):
            for at in range(0, len(piece.samples), BLOCK):
                part = piece.samples[at : at + BLOCK]
                part = part[max(0, self._begin - piece.start - at) :]
                if not len(part):
                    continue
                given += len(part)
                if self._speed:
                    due = clock + given / RATE / self._speed
                    if stop.wait(max(0.0, due - time.monotonic())):
                        return
                elif stop.is_set():
                    return
                if self._told:
                    self._told(self._begin + given)
                yield Block(part)


class PipeSource:
    """Raw sound from a pipe (`-`): 16 bit little-endian samples, 16 kHz, mono, as they come."""

    def __init__(self, stream: Any = None) -> None:
        self.name = "the pipe"
        self._stream = stream or sys.stdin.buffer

    def blocks(self, stop: threading.Event) -> Iterator[Block]:
        rest = b""
        while not stop.is_set():
            data = self._stream.read1(2 * BLOCK) if hasattr(self._stream, "read1") else self._stream.read(2 * BLOCK)
            if not data:
                return
            data = rest + data
            whole = len(data) // 2 * 2
            rest = data[whole:]
            if whole:
                yield Block(np.frombuffer(data[:whole], dtype="<i2"))


class QueueSource:
    """Sound that another thread hands over with `put`: a browser, or the callback of a microphone."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._waiting: queue.Queue[NDArray[np.int16] | None] = queue.Queue(maxsize=600)

    def put(self, samples: NDArray[np.int16]) -> None:
        with contextlib.suppress(queue.Full):
            self._waiting.put_nowait(samples)

    def close(self) -> None:
        self._waiting.put(None)

    def blocks(self, stop: threading.Event) -> Iterator[Block]:
        lost_at: float | None = None
        last = time.monotonic()
        while not stop.is_set():
            try:
                samples = self._waiting.get(timeout=0.25)
            except queue.Empty:
                if lost_at is None and time.monotonic() - last > MISSED_AFTER:
                    lost_at = last
                    yield Block(trouble=f"no sound comes from {self.name}")
                continue
            if samples is None:
                return
            late = time.monotonic() - lost_at if lost_at is not None else 0.0
            lost_at, last = None, time.monotonic()
            yield Block(samples, late=late)


class MicrophoneSource:
    """A microphone of this machine. One that is pulled out is looked for again, by its name, once a second.

    `portaudio` is the module sounddevice, or something like it.
    """

    def __init__(self, name: str = "", *, portaudio: Any = None) -> None:
        self._sd = portaudio if portaudio is not None else load_sounddevice()
        self._wanted = name
        self.name = name or "the microphone"

    def blocks(self, stop: threading.Event) -> Iterator[Block]:
        lost: float | None = None
        while not stop.is_set():
            arrived: queue.Queue[NDArray[np.int16]] = queue.Queue()
            try:
                with self._opened(arrived):
                    for samples in self._arriving(arrived, stop):
                        late = time.monotonic() - lost if lost is not None else 0.0
                        lost = None
                        yield Block(samples, late=late)
            except InputError:
                raise
            except Exception:
                pass  # PortAudio's errors differ by system; whatever it was, the device is looked for again
            if stop.is_set():
                return
            lost = time.monotonic() if lost is None else lost
            yield Block(trouble=f"{self.name} was lost")
            stop.wait(1.0)
            self._look_again()

    def _opened(self, arrived: queue.Queue[NDArray[np.int16]]) -> Any:
        from dictate.live.resampling import Resampler

        device = find_microphone(self._wanted, self._sd)
        rate = device.rate
        bring = Resampler(rate)

        def came(data: Any, frames: int, when: Any, status: Any) -> None:
            samples = bring(np.asarray(data, dtype=np.int16).reshape(-1))
            if len(samples):
                arrived.put(samples)

        return self._sd.InputStream(
            device=device.number, samplerate=rate, channels=1, dtype="int16", blocksize=round(rate / 10), callback=came
        )

    @staticmethod
    def _arriving(arrived: queue.Queue[NDArray[np.int16]], stop: threading.Event) -> Iterator[NDArray[np.int16]]:
        while not stop.is_set():
            try:
                yield arrived.get(timeout=MISSED_AFTER)
            except queue.Empty:
                return

    def _look_again(self) -> None:
        """Have PortAudio list the devices anew; it does so only when it is started."""
        with contextlib.suppress(Exception):
            self._sd._terminate()
            self._sd._initialize()


@dataclass(frozen=True, slots=True)
class Microphone:
    """An input device: its number and name as PortAudio has them, its own rate in Hz, whether it is the usual one."""

    number: int
    name: str
    rate: int
    usual: bool


def load_sounddevice() -> Any:
    """The module sounddevice. InputError, with the way out, where it or PortAudio is not installed."""
    try:
        import sounddevice
    except ImportError:
        raise InputError("microphones need sounddevice: pip install 'dictate-exam[live]'") from None
    except OSError:
        raise InputError(
            "microphones need the system's library PortAudio (Debian: apt install libportaudio2)"
        ) from None
    return sounddevice


def microphones(portaudio: Any) -> tuple[Microphone, ...]:
    """The input devices of this machine."""
    try:
        usual = portaudio.default.device[0]
        found = [
            Microphone(i, str(d["name"]), round(float(d["default_samplerate"])), i == usual)
            for i, d in enumerate(portaudio.query_devices())
            if d["max_input_channels"] > 0
        ]
    except Exception as error:
        raise InputError(f"the microphones cannot be listed ({error})") from None
    return tuple(found)


def find_microphone(name: str, portaudio: Any) -> Microphone:
    """The microphone of this number, or whose name holds these letters; the usual one for an empty name.

    Raises:
        LookupError: it is not there now. InputError: several fit.
    """
    there = microphones(portaudio)
    if not name:
        fit = [m for m in there if m.usual] or list(there[:1])
    elif name.isdigit():
        fit = [m for m in there if m.number == int(name)]
    else:
        fit = [m for m in there if name.casefold() in m.name.casefold()]
        fit = [m for m in fit if m.name.casefold() == name.casefold()] or fit
    if not fit:
        raise LookupError(name)
    if len({m.name for m in fit}) > 1:
        raise InputError(f"several microphones fit: {'; '.join(m.name for m in fit)}", where=f"--microphone {name}")
    return fit[0]
