"""`dictate microphones`: which there are, and whether one is fit, with a meter while it is tried."""

from __future__ import annotations

import sys
import threading
import time
from argparse import Namespace

import numpy as np

from dictate.cli import DONE, SOME_FAILED, say
from dictate.errors import InputError
from dictate.live.sources import MicrophoneSource, find_microphone, load_sounddevice, microphones
from dictate.live.watching import fitness, level_db

WIDTH, FLOOR = 40, -60.0


def run(options: Namespace) -> int:
    """List the microphones, or try one; status 1 where there is none or it is not fit."""
    portaudio = load_sounddevice()
    if options.name is None:
        found = microphones(portaudio)
        for m in found:
            print(f"{m.number:>4}{'*' if m.usual else ' '} {m.name} ({m.rate} Hz)")
        if not found:
            raise InputError("this machine has no microphone; a phone in the room can be one: dictate exam --phone")
        say("* is the usual one. Try one: dictate microphones NUMBER")
        return DONE
    try:
        chosen = find_microphone(options.name, portaudio)
    except LookupError:
        raise InputError("there is no such microphone; `dictate microphones` lists them", where=options.name) from None
    say(f"{chosen.name}: speak as you do in an exam, for {options.seconds:g} seconds")
    fit, told = fitness(_listen(MicrophoneSource(str(chosen.number), portaudio=portaudio), options.seconds))
    print(told)
    return DONE if fit else SOME_FAILED


def _listen(source: MicrophoneSource, seconds: float) -> np.ndarray:
    stop, parts, ends = threading.Event(), [], time.monotonic() + seconds
    for block in source.blocks(stop):
        if block.trouble:
            raise InputError(block.trouble)
        parts.append(block.samples)
        if sys.stderr.isatty():
            print(f"\r{meter(level_db(block.samples))}", end="", file=sys.stderr, flush=True)
        if time.monotonic() >= ends:
            stop.set()
    if sys.stderr.isatty():
        print(file=sys.stderr)
    return np.concatenate(parts) if parts else np.zeros(0, dtype=np.int16)


def meter(level: float) -> str:
    """A level in dB below full scale as a bar with its number."""
    filled = round(WIDTH * min(1.0, max(0.0, 1 - level / FLOOR)))
    return f"[{'#' * filled}{'.' * (WIDTH - filled)}] {level:4.0f} dB"
