"""From a file to samples on one time line: 16 kHz, mono, gaps filled with silence and named."""

from __future__ import annotations

import hashlib
import mmap
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dictate.errors import InputError
from dictate.sound.container import Opened, Trouble, lacks_end_mark, opened
from dictate.sound.levels import Levels, level_warnings, with_samples
from dictate.sound.timeline import RATE, placed
from dictate.speech.words import Gap, SoundNote

_PIECE = 30 * RATE
_IN_MEMORY = 10 * 60 * RATE  # samples; a longer sound is kept in a file without a name, 115 MB an hour
_TOLD_APART = 0.1  # seconds by which a file may be shorter than it says; an MP3 is padded by up to 0.3

_READ_SHARE = 0.7  # of a file of sound alone; indexes, tags and pictures behind the sound fill less than the rest

Samples = NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of sound. `start` is its first sample's number; `samples` are 16 bit, 16 kHz, mono, shape (n,).

    `gaps` are those found while this piece was made, in seconds from the beginning of the sound; `warnings` stand on
    the last piece only.
    """

    start: int
    samples: Samples
    gaps: tuple[Gap, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sound:
    """A whole sound. `samples` has shape (n,), 16 bit, 16 kHz, mono, read-only; past ten minutes it lies in an unnamed
    temporary file that vanishes with this value. `source_hash` is the SHA-256 of the file's bytes."""

    samples: Samples
    note: SoundNote
    source_hash: str

    @property
    def seconds(self) -> float:
        return len(self.samples) / RATE

    def block(self, begin: int, end: int) -> Samples:
        """A copy of the samples from number `begin` to `end`; shorter where the sound ends. Of a sound on disk no more
        than this stays in memory."""
        part = np.array(self.samples[max(0, begin) : max(0, end)])
        mapped = getattr(self.samples, "_mmap", None)
        if mapped is not None and hasattr(mapped, "madvise") and hasattr(mmap, "MADV_DONTNEED"):
            mapped.madvise(mmap.MADV_DONTNEED)  # pages that were read would otherwise count as ours until the end
        return part

    def stretch(self, start: float, end: float) -> NDArray[np.float32]:
        """The samples from `start` to `end`, in seconds, as floats from -1 to 1; shorter where the sound ends."""
        return self.block(round(start * RATE), round(end * RATE)).astype(np.float32) * np.float32(1 / 32768)


def sound_of(samples: NDArray[Any], *, source_hash: str = "", note: SoundNote | None = None) -> Sound:
    """A sound from samples that are there already: floats from -1 to 1 or 16 bit integers, 16 kHz, mono, shape (n,)."""
    if samples.dtype != np.int16:
        samples = np.clip(np.rint(np.asarray(samples, dtype=np.float64) * 32768), -32768, 32767).astype(np.int16)
    if note is None:
        note = SoundNote(round(len(samples) / RATE, 3), (), level_warnings(with_samples(Levels(), samples)))
    return Sound(samples, note, source_hash or hashlib.sha256(samples.tobytes()).hexdigest())


def file_hash(path: Path | str) -> str:
    """The SHA-256 of a file's bytes, in hexadecimal digits.

    Raises:
        InputError: the file cannot be read.
    """
    digest = hashlib.sha256()
    try:
        with Path(path).open("rb") as f:
            while block := f.read(1 << 20):
                digest.update(block)
    except (OSError, ValueError) as e:
        raise InputError(f"cannot be read ({getattr(e, 'strerror', None) or e})", where=str(path)) from None
    return digest.hexdigest()


def pieces(path: Path | str, *, progress: Callable[[float], None] | None = None) -> Iterator[Piece]:
    """The sound of a file in pieces of about 30 seconds, in order and without holes; memory does not grow.

    `progress` is called with the fraction done, from 0 to 1, where the length is known.

    Raises:
        InputError: the file cannot be read as sound, or no sound in it can be decoded.
    """
    path = Path(path)
    held: list[Samples] = []
    gaps: list[Gap] = []
    levels, start, count = Levels(), 0, 0
    trouble = Trouble()
    with opened(path) as file:
        for item in placed(file, trouble):
            if isinstance(item, Gap):
                _joined(gaps, item)
                continue
            if isinstance(item, str):
                trouble.notes.append(item)
                continue
            held.append(item)
            count += len(item)
            if count >= _PIECE:
                samples = np.concatenate(held)
                levels = with_samples(levels, samples)
                yield Piece(start, samples, tuple(gaps))
                if progress and file.claimed:
                    progress(min(1.0, (start + count) / RATE / file.claimed))
                start, count, held, gaps = start + count, 0, [], []
        samples = np.concatenate(held) if held else np.zeros(0, dtype=np.int16)
        levels = with_samples(levels, samples)
        total = start + len(samples)
        if not total:
            raise InputError("no sound could be decoded from this file", where=str(path))
        warnings = _end_warnings(file, trouble, total / RATE, bool(gaps)) + level_warnings(levels)
    yield Piece(start, samples, tuple(gaps), warnings)
    if progress:
        progress(1.0)


def _joined(gaps: list[Gap], gap: Gap) -> None:
    """Add a gap; neighbours that touch become one."""
    if gaps and gap.start - gaps[-1].end < 0.05:
        gap = Gap(gaps.pop().start, gap.end, gap.why)
    gaps.append(gap)


def _end_warnings(file: Opened, trouble: Trouble, seconds: float, gaps: bool) -> tuple[str, ...]:
    warnings = list(dict.fromkeys(trouble.notes))
    slack = 0.3 if file.container.format.name == "mp3" else _TOLD_APART
    if file.claimed is not None and file.claimed - seconds > slack:
        warnings.append(f"the sound ends at {seconds:.1f} s, though the file says that it is {file.claimed:.1f} s long")
    elif lacks_end_mark(file):
        warnings.append(f"the file has no end mark: it may have been cut off at {seconds:.1f} s")
    size = file.path.stat().st_size
    if not warnings and not file.container.streams.video and 0 < trouble.reached < _READ_SHARE * size:
        share = 100 * (1 - trouble.reached / size)
        warnings.append(f"the last {share:.0f} % of the file could not be read; the sound ends at {seconds:.1f} s")
    if trouble.bad_packets:
        warnings.append(f"{trouble.bad_packets} damaged places could not be decoded")
    elif trouble.bad_reads and not gaps:
        warnings.append("parts of the file are damaged and were passed over")
    return tuple(warnings)


def decode(path: Path | str, *, progress: Callable[[float], None] | None = None) -> Sound:
    """The whole sound of a file: wav, flac, mp3, m4a, ogg, opus, the sound of a video, and whatever else FFmpeg reads.

    Up to ten minutes are kept in memory (19 MB), longer sounds in an unnamed file in the temporary folder (115 MB an
    hour), so two hours need no more memory than ten minutes. Damaged or missing stretches are silence and stand in
    `note.gaps`; clipped, quiet, silent or shortened sound is named in `note.warnings`.

    Raises:
        InputError: the file cannot be read as sound, or there is no room for it in the temporary folder.
    """
    path = Path(path)
    gaps: list[Gap] = []
    warnings: tuple[str, ...] = ()
    held: list[Samples] = []
    store, count = None, 0
    try:
        for piece in pieces(path, progress=progress):
            gaps.extend(piece.gaps)
            warnings = piece.warnings or warnings
            held.append(piece.samples)
            count += len(piece.samples)
            if store is None and count > _IN_MEMORY:
                store = tempfile.TemporaryFile(prefix="dictate-sound-")  # noqa: SIM115 (lives as long as the samples)
            if store is not None:
                for samples in held:
                    store.write(samples.tobytes())
                held = []
        if store is not None:
            store.flush()
            whole: Samples = np.memmap(store, dtype=np.int16, mode="r", shape=(count,))
        else:
            whole = np.concatenate(held)
            whole.setflags(write=False)
    except OSError as e:
        raise InputError(
            f"there is no room to unpack the sound in {tempfile.gettempdir()} ({e.strerror or e})", where=str(path)
        ) from None
    finally:
        if store is not None:
            store.close()  # the mapping keeps the file alive
    return Sound(whole, SoundNote(round(count / RATE, 3), tuple(gaps), warnings), file_hash(path))
