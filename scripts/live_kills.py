"""SIGKILL at random moments of a capture, and a disk that runs full.

A child records a sound whose every sample tells its place, and writes into a mapped file how much the source has given,
before it hands it on. It is killed at a random moment; the recording must be whole, hold the right samples, and lack at
most a second of what was given; then the next child goes on with it.
"""

from __future__ import annotations

import os
import random
import signal
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

CHILD = """
import mmap, struct, sys, time
import numpy as np
from pathlib import Path
from dictate.live import recording as recordings
from dictate.live.board import Board
from dictate.live.capture import Capture
from dictate.live.events import EventLog, event_now
from dictate.live.sources import Block
file, count = Path(sys.argv[1]), Path(sys.argv[2])
recording = recordings.resume(file) if file.exists() else recordings.begin(file)
handle = count.open("r+b")
mapped = mmap.mmap(handle.fileno(), 8)
class Ramp:
    name = "ramp"
    def blocks(self, stop):
        n = recording.samples
        while not stop.is_set():
            block = np.arange(n, n + 400, dtype=np.int64).astype(np.int16)
            n += 400
            mapped[:8] = struct.pack("<q", n)
            yield Block(block)
            time.sleep(400 / 16000 / float(sys.argv[3]))
log = EventLog(file)
capture = Capture(Ramp(), recording, log, Board())
capture.note(event_now("broken off", recording.seconds))
capture.start()
while capture.inbox.get() is not None: pass
"""


def kills(times: int, *, seed: int = 1, speed: float = 4.0) -> None:
    """Print the most that was lost in so many kills; the sound comes `speed` times as fast as it is, to save time."""
    from dictate.live.events import read_events
    from dictate.live.recording import is_open
    from dictate.sound import decode

    lot, worst, broken, wrong = random.Random(seed), 0, 0, 0
    with tempfile.TemporaryDirectory(prefix="kills-") as place:
        count = Path(place) / "count"
        count.write_bytes(bytes(8))
        for n in range(times):
            file = Path(place) / f"{n // 10}.wav"  # ten kills in a row on one recording
            if n % 10 == 0:
                count.write_bytes(bytes(8))
            before = count.read_bytes()
            child = subprocess.Popen([sys.executable, "-c", CHILD, str(file), str(count), str(speed)])
            while count.read_bytes() == before and child.poll() is None:
                time.sleep(0.01)
            time.sleep(lot.uniform(0.0, 0.8))
            os.kill(child.pid, signal.SIGKILL)
            child.wait()
            given = struct.unpack("<q", count.read_bytes())[0]
            try:
                found = decode(file).samples
                read_events(file)
            except Exception as error:
                broken += 1
                print(f"    kill {n}: {error}", flush=True)
                continue
            worst = max(worst, given - len(found))
            right = np.arange(len(found), dtype=np.int64).astype(np.int16)
            wrong += not np.array_equal(found, right) or not is_open(file)
    print(f"{times} kills: at most {worst / 16000:.3f} s lost, {broken} broken files, {wrong} with other samples")


def full_disk() -> None:
    """Print what happens on a disk of 1 MB that runs full: what the display says, and what is left. Needs a tmpfs."""
    from dictate.live import recording as recordings
    from dictate.live.board import Board
    from dictate.live.capture import Capture
    from dictate.live.events import EventLog
    from dictate.live.sources import QueueSource
    from dictate.sound import decode

    with tempfile.TemporaryDirectory(prefix="full-") as place:
        if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "none", place], capture_output=True).returncode:
            print("full disk: no small file system can be mounted here")
            return
        try:
            file, board = Path(place) / "a.wav", Board()
            recording, log = recordings.begin(file), EventLog(file)
            capture = Capture(QueueSource("none"), recording, log, board)
            samples = np.arange(1600, dtype=np.int16)
            told = 0
            for n in range(500):
                capture._take(samples)
                if board.view.troubles:
                    told = n
                    break
            whole = recording.samples
            found = decode(file).samples
            kept = np.array_equal(found[: told * 1600], np.tile(samples, told))
            print(f"full disk: said in the block in which it happened: {board.view.troubles[0]!r}; "
                  f"{whole / 16000:.1f} s written before, all there: {kept}")  # fmt: skip
            log.close()
            recording.close()
        finally:
            subprocess.run(["umount", place], capture_output=True)
