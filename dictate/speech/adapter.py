"""What the shipped speech model was taught of the trade: low-rank matrices, added to the packaged weights on first use.

The weights file is CTranslate2's `model.bin` (version 6): a header, then arrays one after the other, each with its
name, shape, type and bytes. Only float16 arrays are changed, in place, so the file keeps its length. Method: Hu et al.,
LoRA: low-rank adaptation of large language models, 2021. scripts/train_speech_adapter.py makes the file.
"""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dictate.errors import InputError

ADAPTER = Path(__file__).with_name("adapter.npz")
_TYPES = {0: np.float32, 1: np.int8, 2: np.int16, 3: np.int32, 4: np.float16}


@dataclass(frozen=True, slots=True)
class Place:
    """Where an array lies in the file: its name, shape, type, and bytes from `start` to `end`."""

    name: str
    shape: tuple[int, ...]
    type: int
    start: int
    end: int


def places(data: bytes | bytearray) -> Iterator[Place]:
    """The arrays of a CTranslate2 model file, in order. ValueError or struct.error where it is none."""
    at = 0

    def number(form: str) -> int:
        nonlocal at
        (value,) = struct.unpack_from(f"<{form}", data, at)
        at += struct.calcsize(f"<{form}")
        return int(value)

    def text() -> str:
        nonlocal at
        length = number("H")
        at += length
        return bytes(data[at - length : at - 1]).decode()

    number("I"), text(), number("I")
    for _ in range(number("I")):
        name = text()
        shape = tuple(number("I") for _ in range(number("B")))
        kind, length = number("B"), number("I")
        yield Place(name, shape, kind, at, at + length)
        at += length


def arrays(path: Path) -> dict[str, NDArray[np.float32]]:
    """The arrays of a model file by name, as float32."""
    data = path.read_bytes()
    return {
        p.name: np.frombuffer(data[p.start : p.end], dtype=_TYPES[p.type]).reshape(p.shape).astype(np.float32)
        for p in places(data)
    }


def deltas(path: Path = ADAPTER) -> dict[str, NDArray[np.float32]]:
    """What is added to each array, by its name: the products of the low-rank matrices, kept as int8 with a scale a row.

    Raises:
        InputError: the file is not there or damaged.
    """
    try:
        with np.load(path) as stored:
            names = sorted({key.rpartition("|")[0] for key in stored.files})
            whole = {
                name: {part: stored[f"{name}|{part}"].astype(np.float32) for part in ("a", "a_scale", "b", "b_scale")}
                for name in names
            }
    except (OSError, ValueError, KeyError) as e:
        raise InputError(f"what the speech model was taught cannot be read ({e})", where=str(path)) from None
    return {name: (p["b"] * p["b_scale"][:, None]) @ (p["a"] * p["a_scale"][:, None]) for name, p in whole.items()}


def merge(model: Path, target: Path, *, adapter: Path = ADAPTER) -> None:
    """Write the model file with the deltas added to `target`.

    Raises:
        InputError: an array is missing or of another shape, or the adapter cannot be read.
    """
    added = deltas(adapter)
    data = bytearray(model.read_bytes())
    for p in list(places(data)):
        delta = added.pop(p.name.removesuffix("/weight"), None) if p.name.endswith("/weight") else None
        if delta is None:
            continue
        if p.shape != delta.shape or _TYPES.get(p.type) is not np.float16:
            raise InputError(f"does not fit the speech model (array {p.name})", where=str(adapter))
        old = np.frombuffer(bytes(data[p.start : p.end]), dtype=np.float16).reshape(p.shape)
        data[p.start : p.end] = (old.astype(np.float32) + delta).astype(np.float16).tobytes()
    if added:
        raise InputError(f"does not fit the speech model (no array {min(added)})", where=str(adapter))
    target.write_bytes(data)


def fingerprint(path: Path = ADAPTER) -> str:
    """The SHA-256 of the file, or an empty text where there is none."""
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""
