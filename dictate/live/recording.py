"""The recording on disk: a WAV file that is whole at every moment.

Its head says "as long as the file is" (data size 0, as recorders write that do not know the end; `dictate.sound` and
FFmpeg read such a file to its end), and samples are only ever added behind it. So a process that is killed loses what
was not handed over yet, under a quarter of a second, and a power cut what the disk had not taken, under a second:
a thread of its own syncs twice a second, so that a slow disk never holds up the sound. The true sizes are written into
the head at the end, once the samples are safe.
"""

from __future__ import annotations

import contextlib
import os
import struct
import threading
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dictate.errors import InputError
from dictate.sound.sound import RATE, Sound
from dictate.speech.files import sync_folder
from dictate.speech.words import SoundNote

HEAD = 44
_SYNC_EVERY = 0.5  # seconds
Samples = NDArray[np.int16]


def head(data_bytes: int) -> bytes:
    """The head of a WAV file of 16 bit samples, 16 kHz, mono (RIFF/WAVE, Microsoft 1991). 0: the end is not known."""
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, RATE, 2 * RATE, 2, 16)
    whole = 36 + data_bytes if data_bytes else 0
    return struct.pack("<4sI4s", b"RIFF", whole, b"WAVE") + form + struct.pack("<4sI", b"data", data_bytes)


class Recording:
    """The growing file. One thread appends; any may ask for `seconds` or read what is there."""

    def __init__(self, file: Path, handle: int, samples: int) -> None:
        self.file = file
        self.samples = samples
        self._handle = handle
        self._wake = threading.Event()
        self._closed = False
        self._syncer = threading.Thread(target=self._sync_on, name="sync", daemon=True)
        self._syncer.start()

    @property
    def seconds(self) -> float:
        return self.samples / RATE

    def append(self, samples: Samples) -> None:
        """Hand samples to the system. OSError where there is no room: what was written before stays whole."""
        data = samples.astype("<i2", copy=False).tobytes()
        at, done = HEAD + 2 * self.samples, 0
        while done < len(data):
            wrote = os.pwrite(self._handle, data[done:], at + done)
            if wrote <= 0:
                raise OSError(28, os.strerror(28))
            done += wrote
            self.samples = (at + done - HEAD) // 2  # whole samples only; half a one is written over by the next block
        self._wake.set()

    def blank(self, first: int) -> None:
        """Write silence over the samples from number `first` on. OSError where the disk refuses."""
        if first < self.samples:
            os.pwrite(self._handle, bytes(2 * (self.samples - first)), HEAD + 2 * first)
            self._wake.set()

    def _sync_on(self) -> None:
        while not self._closed:
            self._wake.wait()
            self._wake.clear()
            with contextlib.suppress(OSError):
                os.fdatasync(self._handle)
            if not self._closed:
                threading.Event().wait(_SYNC_EVERY)

    def finish(self) -> None:
        """Make the samples safe, then write the true length into the head."""
        self._stop()
        os.ftruncate(self._handle, HEAD + 2 * self.samples)
        os.fsync(self._handle)
        if 2 * self.samples < 0x7FFFFF00:
            os.pwrite(self._handle, head(2 * self.samples), 0)
            os.fsync(self._handle)
        os.close(self._handle)

    def close(self) -> None:
        """Close without an end: the exam can be resumed."""
        self._stop()
        with contextlib.suppress(OSError):
            os.fsync(self._handle)
        os.close(self._handle)

    def _stop(self) -> None:
        self._closed = True
        self._wake.set()
        self._syncer.join(timeout=5)


def begin(file: Path) -> Recording:
    """A new recording. InputError where there is one already, or nothing can be written there."""
    try:
        handle = os.open(file, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise InputError(
            "there is a recording of that name; go on with it (--resume) or choose another (--name)", where=str(file)
        ) from None
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror or error})", where=str(file)) from None
    try:
        os.pwrite(handle, head(0), 0)
        os.fsync(handle)
        sync_folder(file.parent)  # or a power cut might leave no name for the sound
    except OSError as error:
        os.close(handle)
        file.unlink(missing_ok=True)
        raise InputError(f"cannot be written ({error.strerror or error})", where=str(file)) from None
    return Recording(file, handle, 0)


def resume(file: Path) -> Recording:
    """A recording that broke off, open to go on behind its last whole sample.

    Raises:
        InputError: there is none, it is none of ours, or it was finished.
    """
    try:
        handle = os.open(file, os.O_RDWR)
    except OSError as error:
        raise InputError(f"cannot be opened to go on ({error.strerror or error})", where=str(file)) from None
    size = os.fstat(handle).st_size
    start = os.pread(handle, HEAD, 0)
    if size < HEAD and head(0).startswith(start):  # killed before the head was written whole
        os.pwrite(handle, head(0), 0)
        size, start = HEAD, head(0)
    if start != head(0):
        os.close(handle)
        finished = start[:4] == b"RIFF" and start[8:12] == b"WAVE"
        what = "is a finished recording; begin a new one" if finished else "is no recording of an exam"
        raise InputError(what, where=str(file))
    samples = (size - HEAD) // 2
    os.ftruncate(handle, HEAD + 2 * samples)
    return Recording(file, handle, samples)


def is_open(file: Path) -> bool:
    """Whether a file is a recording that was not finished."""
    try:
        with file.open("rb") as f:
            start = f.read(HEAD)
    except OSError:
        return False
    return start == head(0) or (len(start) < HEAD and head(0).startswith(start))


def sound_so_far(file: Path, samples: int) -> Sound:
    """The first `samples` samples of a growing recording, read from disk as they are asked for."""
    if not samples:
        return Sound(np.zeros(0, dtype=np.int16), SoundNote(0.0), "")
    mapped = np.memmap(file, dtype="<i2", mode="r", offset=HEAD, shape=(samples,))
    return Sound(mapped, SoundNote(round(samples / RATE, 3)), "")
