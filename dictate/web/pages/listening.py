"""The sound of one stretch of a visit."""

from __future__ import annotations

import math

from starlette.background import BackgroundTask
from starlette.responses import Response

from dictate import store
from dictate.exam.record import Record
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


def prepared(ask: Ask, response: Response, record: Record) -> Response:
    """The response; once it is sent, the record's sound is made ready to listen to."""
    visit, sha256 = ask.number(), record.source.sha256

    def prepare() -> None:
        ask.house.clips.prepare(sha256, lambda: store.sound_bytes(ask.house.store, visit, sha256))

    if record.source.kind == "sound":
        response.background = BackgroundTask(prepare)
    return response


def _seconds(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0 <= value < 1_000_000:
        raise Refused("That is no time of the sound.")
    return value
