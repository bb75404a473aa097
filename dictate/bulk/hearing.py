"""How the recordings of a batch of tasks are heard, by the way of working that was ordered."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dictate.bulk.values import Orders
from dictate.errors import InputError
from dictate.speech.settings import SpeechSettings
from dictate.speech.words import Transcript
from dictate.ways import speech_settings


def hear_all(paths: Sequence[Path], orders: Orders) -> list[Transcript | InputError]:
    """The words of each recording, or why it cannot be heard; in their order. Models stay loaded between calls.

    `thorough` hears each one as `dictate draft --thorough` does; the other ways hear them in packed windows, and take
    the first reading. A recording of an exam in which orders were spoken is heard alone in every way, as `dictate
    draft` hears it: what was said to the program is no part of the talk.
    """
    from dictate.speech.packed import Packing, transcribe_all

    settings = SpeechSettings(model=orders.model, plain=orders.plain, threads=orders.threads)
    careful = speech_settings(
        orders.model,
        plain=orders.plain,
        way="thorough" if orders.way == "thorough" else "default",
        lexicon=orders.lexicon,
        threads=orders.threads,
    )
    packing = Packing(beam=1) if orders.way == "quick" else Packing()
    apart = [orders.way == "thorough" or _has_orders(path) for path in paths]
    packed = transcribe_all(
        [p for p, alone in zip(paths, apart, strict=True) if not alone], settings=settings, packing=packing
    )
    return [_one(p, careful) if alone else next(packed) for p, alone in zip(paths, apart, strict=True)]


def _has_orders(path: Path) -> bool:
    from dictate.live.events import events_file

    return events_file(path).exists()


def _one(path: Path, settings: SpeechSettings) -> Transcript | InputError:
    from dictate.live.events import read_events, stretches_to_us
    from dictate.live.hearing import heard_recording
    from dictate.speech import transcribe

    try:
        if hidden := stretches_to_us(read_events(path)):
            return heard_recording(path, hidden, settings)
        return transcribe(path, settings=settings)
    except InputError as e:
        return e
