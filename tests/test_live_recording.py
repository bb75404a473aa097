"""What is recorded of an exam is whole at every moment, and its events lie beside it."""

from __future__ import annotations

import errno
import os
import random
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from live_cases import noise

from dictate.errors import InputError
from dictate.live import recording as recordings
from dictate.live.events import EventLog, event_now, events_file, read_events, stretches_to_us
from dictate.live.masked import masked
from dictate.sound import decode, sound_of
from dictate.sound.sound import RATE

CHILD = """
import sys, numpy as np
from pathlib import Path
from dictate.live import recording
file = Path(sys.argv[1])
made = recording.resume(file) if file.exists() else recording.begin(file)
n = made.samples
while True:
    block = np.arange(n, n + 400, dtype=np.int64).astype(np.int16)
    made.append(block)
    n += 400
    print(n, flush=True)
"""


def test_a_recording_that_is_going_on_can_be_read_by_any_step(tmp_path: Path) -> None:
    """A recording that was never finished is read to its end, as `dictate draft` would read it after a crash."""
    made = recordings.begin(tmp_path / "a.wav")
    samples = noise(1.5)
    made.append(samples)
    found = decode(tmp_path / "a.wav")
    made.close()
    assert np.array_equal(found.samples, samples)
    assert found.note.warnings == ()


def test_finishing_states_the_true_length(tmp_path: Path) -> None:
    """A finished recording is an ordinary WAV file, and cannot be gone on with."""
    made = recordings.begin(tmp_path / "a.wav")
    made.append(noise(0.5))
    made.finish()
    assert decode(tmp_path / "a.wav").seconds == 0.5
    assert not recordings.is_open(tmp_path / "a.wav")
    with pytest.raises(InputError, match="finished recording"):
        recordings.resume(tmp_path / "a.wav")


def test_a_torn_end_is_no_hindrance(tmp_path: Path) -> None:
    """Half a sample at the end, or half a head, is what a power cut may leave: the exam goes on behind it."""
    file = tmp_path / "a.wav"
    made = recordings.begin(file)
    made.append(noise(0.1))
    made.close()
    with file.open("ab") as f:
        f.write(b"\x01")
    again = recordings.resume(file)
    assert again.samples == RATE // 10
    again.append(noise(0.1, seed=2))
    again.finish()
    assert decode(file).seconds == pytest.approx(0.2)
    (tmp_path / "b.wav").write_bytes(recordings.head(0)[:20])
    begun = recordings.resume(tmp_path / "b.wav")
    assert begun.samples == 0
    begun.close()


def test_a_recording_is_never_written_over(tmp_path: Path) -> None:
    """A second exam of the same name is refused in one line, and foreign files are left alone."""
    recordings.begin(tmp_path / "a.wav").close()
    with pytest.raises(InputError, match="--resume"):
        recordings.begin(tmp_path / "a.wav")
    (tmp_path / "c.wav").write_bytes(b"something else entirely" * 4)
    with pytest.raises(InputError, match="no recording of an exam"):
        recordings.resume(tmp_path / "c.wav")


def test_killed_at_any_moment_nothing_that_was_handed_over_is_lost(tmp_path: Path) -> None:
    """After SIGKILL, and SIGKILL again after going on, every sample that was handed over is there, in order."""
    file, lot = tmp_path / "a.wav", random.Random(5)
    for _ in range(4):
        child = subprocess.Popen([sys.executable, "-c", CHILD, str(file)], stdout=subprocess.PIPE, text=True)
        assert child.stdout is not None
        told = 0
        for _ in range(lot.randrange(20, 200)):
            told = int(child.stdout.readline())
        os.kill(child.pid, signal.SIGKILL)
        rest = child.stdout.read().split("\n")
        child.wait()
        child.stdout.close()
        told = max([told, *(int(n) for n in rest[:-1])])
        made = recordings.resume(file)
        assert told <= made.samples <= told + 400
        made.close()
    found = decode(file).samples
    assert np.array_equal(found, np.arange(len(found), dtype=np.int64).astype(np.int16))


def test_a_full_disk_leaves_what_was_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The failure is told to the caller at once; what was there stays whole, and the recording goes on when there is
    room."""
    made = recordings.begin(tmp_path / "a.wav")
    made.append(noise(0.2))
    real = os.pwrite

    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "pwrite", full)
    with pytest.raises(OSError, match="space"):
        made.append(noise(0.2))
    monkeypatch.setattr(os, "pwrite", real)
    made.append(noise(0.3))
    made.finish()
    assert decode(tmp_path / "a.wav").seconds == pytest.approx(0.5)


def test_events_are_read_again_and_a_torn_line_is_passed_over(tmp_path: Path) -> None:
    """Events come back as they were written; a last line without its end never happened; a damaged one is named."""
    log = EventLog(tmp_path / "a.wav")
    first = event_now("order", 1.0, 2.5, order="pause")
    log.add(first)
    log.close()
    with events_file(tmp_path / "a.wav").open("a") as f:
        f.write('{"kind": "ans')
    assert read_events(tmp_path / "a.wav") == (first,)
    again = EventLog(tmp_path / "a.wav")
    second = event_now("paused", 3.0)
    again.add(second)
    again.close()
    assert read_events(tmp_path / "a.wav") == (first, second)
    events_file(tmp_path / "a.wav").write_text("nonsense\n" + "{}\n")
    with pytest.raises(InputError, match="line 1"):
        read_events(tmp_path / "a.wav")


def test_what_was_spoken_to_the_program_is_silence_to_who_hears_the_talk() -> None:
    """Orders and answers are left out of the sound itself, whichever way it is read; the rest is as it was."""
    sound = sound_of(noise(4.0))
    events = (event_now("order", 1.0, 2.0), event_now("answer", 1.5, 2.5), event_now("paused", 3.0))
    hidden = stretches_to_us(events)
    assert hidden == ((1.0, 2.5),)
    quiet = masked(sound, hidden)
    assert not quiet.stretch(1.0, 2.5).any()
    assert np.array_equal(quiet.block(0, RATE), sound.samples[:RATE])
    assert np.array_equal(quiet.block(2 * RATE, 4 * RATE)[RATE // 2 :], sound.samples[round(2.5 * RATE) :])
