"""What was heard in the stretches of one sound, kept apart from what the lexicon made of it.

The words as they were first heard hang on the sound and the model alone; which other readings are asked about hangs on
the lexicon too. Kept apart, a changed lexicon costs no recognition: only a reading that was never asked about is asked,
and only then is its stretch encoded again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dictate.speech.files import private_folder, write_whole

FORM = "heard/1"


@dataclass(slots=True)
class Stretch:
    """One stretch: its segments (each a list of words and Whisper's figures), what the beam ended with where it was
    heard in one window (else None), and by how much each reading that was asked about fits better."""

    segments: list[list[Any]]
    ends: list[str] | None
    gains: dict[str, float] = field(default_factory=dict)


@dataclass(slots=True)
class Memory:
    """The stretches of one sound, by their samples; `languages` of the first one. `changed`: since it was read."""

    source_hash: str
    stretches: dict[str, Stretch] = field(default_factory=dict)
    languages: dict[str, float] = field(default_factory=dict)
    changed: bool = False


def key_of(samples: NDArray[np.float32], *about: str) -> str:
    """The name of a stretch: its samples, and what else decides about the words."""
    digest = hashlib.sha256(samples.tobytes())
    digest.update("\0".join(about).encode())
    return digest.hexdigest()[:24]


def gain_key(first: int, last: int, words: Sequence[str]) -> str:
    return f"{first} {last} {' '.join(words)}"


def memory_file(folder: Path, source_hash: str, settings: Mapping[str, str]) -> Path:
    """Where the memory of this sound lies; settings that hang on the lexicon play no part."""
    kept = {k: v for k, v in sorted(settings.items()) if k != "readings"}
    digest = hashlib.sha256(json.dumps([FORM, source_hash, kept]).encode()).hexdigest()
    return folder / "words" / digest[:2] / f"{digest}.json"


def remembered(place: Path, source_hash: str) -> Memory:
    """What is kept in a file; nothing where there is none, or none that can be trusted."""
    memory = Memory(source_hash)
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError, AttributeError):
        value = json.loads(place.read_bytes())
        body = value["heard"]
        if value["sum"] == _sum(body) and body["source_hash"] == source_hash:
            memory.languages = dict(body["languages"])
            memory.stretches = {k: Stretch(*row) for k, row in body["stretches"].items()}
    return memory


def keep(place: Path, memory: Memory | None) -> None:
    """Write a memory whole or not at all. A cache that cannot be written is no reason to fail: nothing is said."""
    if memory is None or not memory.changed:
        return
    stretches = {k: [s.segments, s.ends, s.gains] for k, s in memory.stretches.items()}
    body = {"source_hash": memory.source_hash, "languages": memory.languages, "stretches": stretches}
    with contextlib.suppress(OSError):
        private_folder(place.parent)
        write_whole(place, json.dumps({"sum": _sum(body), "heard": body}, ensure_ascii=False).encode())


def _sum(body: Any) -> str:
    return hashlib.sha256(json.dumps(body, ensure_ascii=True, sort_keys=True).encode()).hexdigest()
