"""How the recordings of a batch of tasks are heard, by the way of working that was ordered."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dictate.bulk.values import Orders
from dictate.errors import InputError
from dictate.speech.words import Transcript


def hear_all(paths: Sequence[Path], orders: Orders) -> list[Transcript | InputError]:
    """The words of each recording, or why it cannot be heard; in their order. Models stay loaded between calls.

    `thorough` hears each one as `dictate draft` does; the other ways hear them in packed windows.
    """
    from dictate.speech import SpeechSettings, transcribe
    from dictate.speech.packed import Packing, transcribe_all

    settings = SpeechSettings(model=orders.model, threads=orders.threads)
    if orders.way == "thorough":
        return [_one(path, settings, transcribe) for path in paths]
    packing = Packing(beam=1) if orders.way == "quick" else Packing()
    return list(transcribe_all(paths, settings=settings, packing=packing))


def _one(path: Path, settings, transcribe) -> Transcript | InputError:  # type: ignore[no-untyped-def]
    try:
        heard: Transcript = transcribe(path, settings=settings)
        return heard
    except InputError as e:
        return e
