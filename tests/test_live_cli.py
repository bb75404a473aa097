"""`dictate exam` from its options to the draft, with stand-ins for the recogniser; and what it refuses in one line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from live_cases import Nothing, Told, noise, transcript
from test_live_exam import LoudIsSpeech, read

from dictate.cli import main
from dictate.cli.microphones import meter
from dictate.errors import InputError
from dictate.live import recording as recordings
from dictate.live.events import EventLog, event_now, read_events
from dictate.live.patients import from_day_list
from dictate.sound.sound import RATE

DAY_LIST = """date;time;patient;number;species;neutered;reason
2026-05-04;09:30;Bramble;S-17;dog;yes;yearly check
2026-05-04;10:00;Moss;S-18;cat;;cough
"""


@pytest.fixture
def light(monkeypatch: pytest.MonkeyPatch) -> None:
    """Everything heavy stands in: the voice model, the recogniser, the careful process, the language step."""
    talk = transcript("The elbow is thick.", seconds=3.0)
    monkeypatch.setattr("dictate.live.ear.VoiceActivity", LoudIsSpeech)
    monkeypatch.setattr("dictate.live.ear.Ear.provisional", lambda self: None)
    monkeypatch.setattr("dictate.live.hearing.QuickEar", lambda settings: Told("The elbow is thick."))
    monkeypatch.setattr("dictate.live.careful.CarefulProcess", lambda settings: Nothing(talk))
    monkeypatch.setattr("dictate.cli.exam.warm_up", lambda hearer, lexicon: None)
    monkeypatch.setattr("dictate.cli.exam.read", read)


@pytest.fixture
def talk(tmp_path: Path) -> Path:
    made = recordings.begin(tmp_path / "talk.wav")
    quiet = np.zeros(RATE // 2, dtype=np.int16)
    made.append(np.concatenate([quiet, noise(0.5), quiet]))
    made.finish()
    return tmp_path / "talk.wav"


def exam(out: Path, *more: str) -> int:
    return main(["exam", "--out", str(out), "--port", "0", "--no-browser", "--no-review", *more])


@pytest.mark.usefixtures("light")
def test_a_file_becomes_a_recording_its_events_and_a_draft(tmp_path: Path, talk: Path) -> None:
    """The recording holds the file's samples, the draft lies beside it with the patient of the day list, and the room's
    key is the same the next time."""
    (tmp_path / "day.csv").write_text(DAY_LIST)
    out = tmp_path / "out"
    more = ("--day-list", str(tmp_path / "day.csv"), "--patient", "bramble")
    assert exam(out, "--name", "one", "--from-file", str(talk), *more) == 0
    assert (out / "one.wav").read_bytes()[44:] == talk.read_bytes()[44:]
    assert [e.kind for e in read_events(out / "one.wav")] == ["begun", "finished"]
    record = json.loads((out / "one.record.json").read_text())
    assert record["patient"]["name"] == "Bramble"
    assert record["encounter"]["reason"] == "yearly check"
    assert record["observations"][0]["site"] == "elbow"
    assert (out / "one.record.txt").exists()
    key = (out / ".room-key").read_text()
    assert exam(out, "--name", "two", "--from-file", str(talk)) == 0
    assert (out / ".room-key").read_text() == key


@pytest.mark.usefixtures("light")
def test_an_exam_that_broke_off_is_gone_on_with(tmp_path: Path, talk: Path) -> None:
    """The recording goes on behind what there is, the draft says where it broke off."""
    out = tmp_path / "out"
    out.mkdir()
    begun = recordings.begin(out / "one.wav")
    begun.append(np.frombuffer(talk.read_bytes()[44:], dtype="<i2")[:4000])
    begun.close()
    assert exam(out, "--resume", "--from-file", str(talk)) == 0
    assert (out / "one.wav").read_bytes()[44:] == talk.read_bytes()[44:]
    record = json.loads((out / "one.record.json").read_text())
    assert any("broke off" in w for w in record["sound"]["warnings"])


@pytest.mark.usefixtures("light")
def test_an_exam_that_broke_off_in_a_pause_goes_on_in_it(tmp_path: Path, talk: Path) -> None:
    """Nothing is recorded until the order to resume, and the draft tells of one pause."""
    out = tmp_path / "out"
    out.mkdir()
    begun, log = recordings.begin(out / "one.wav"), EventLog(out / "one.wav")
    begun.append(np.frombuffer(talk.read_bytes()[44:], dtype="<i2")[:4000])
    begun.close()
    log.add(event_now("paused", 0.25))
    log.close()
    assert exam(out, "--resume", "--from-file", str(talk)) == 0
    assert len((out / "one.wav").read_bytes()) == 44 + 2 * 4000
    record = json.loads((out / "one.record.json").read_text())
    assert sum("nothing was recorded" in w for w in record["sound"]["warnings"]) == 1


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (("--resume", "--from-file", "x.wav"), "no exam here broke off"),
        (("--name", "../x", "--from-file", "x.wav"), "plain name"),
        (("--visit", "3", "--from-file", "x.wav"), "--store"),
        (("--phone",), "--host 0.0.0.0"),
        (("--day-list", "nowhere.csv", "--from-file", "x.wav"), "nowhere.csv"),
    ],
)
def test_what_cannot_be_done_is_told_in_one_line(
    more: tuple[str, ...], told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Status 1, one line that says what and where, and no recording is begun."""
    assert exam(tmp_path, *more) == 1
    said = capsys.readouterr().err.strip().split("\n")
    assert len(said) == 1 and told in said[0]
    assert not list(tmp_path.glob("*.wav"))


def test_the_patient_is_one_row_of_the_day_list(tmp_path: Path) -> None:
    """By name or number; none or several are told with what there is."""
    file = tmp_path / "day.csv"
    file.write_text(DAY_LIST)
    told: dict[str, Any] = from_day_list(file, "S-17")
    assert told == {"patient": {"name": "Bramble", "species": "dog", "neutered": True}, "reason": "yearly check"}
    assert from_day_list(file, "mos")["patient"]["species"] == "cat"
    with pytest.raises(InputError, match="several rows fit"):
        from_day_list(file, "")
    with pytest.raises(InputError, match="Bramble"):
        from_day_list(file, "Nobody")


def test_the_meter_fills_with_the_level() -> None:
    """Silence is empty, full level is full."""
    assert meter(-90).count("#") == 0
    assert meter(-1).count(".") <= 1
