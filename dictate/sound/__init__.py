"""Sound: any file that FFmpeg's libraries read becomes 16 kHz mono samples with true times; what is missing is named.

    decode(path) -> Sound              the whole sound, as 16 bit samples, in memory or, past ten minutes, on disk
    pieces(path) -> Iterator[Piece]    the same, piece by piece, in bounded memory

The names are loaded on first use, so that importing this package costs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dictate.sound.sound import RATE, Piece, Sound, decode, file_hash, pieces, sound_of

__all__ = ["RATE", "Piece", "Sound", "decode", "file_hash", "pieces", "sound_of"]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from dictate.sound import sound

    return getattr(sound, name)
