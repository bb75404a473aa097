"""The sound of one stretch of a visit."""

from __future__ import annotations

import math

from starlette.responses import Response

from dictate import store
from dictate.web.asking import Ask, Refused


def clip(ask: Ask) -> Response:
    """The named seconds of the recording that the visit's record was drafted from, as WAV."""
    start, end = _seconds(ask.asked("from")), _seconds(ask.asked("to"))
    visit = ask.number()
    kept = [r for r in store.recordings_of(ask.house.store, visit) if r.kept]
    if not kept:
        raise Refused("There is no sound of this visit.", 404)
    sha256 = kept[-1].sha256
    sound = ask.house.clips.clip(sha256, lambda: store.sound_bytes(ask.house.store, visit, sha256), start, end)
    return Response(sound, media_type="audio/wav")


def _seconds(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0 <= value < 1_000_000:
        raise Refused("That is no time of the sound.")
    return value
