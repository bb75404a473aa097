"""Sound files that cannot be drafted, through the whole command line with the shipped speech model."""

from __future__ import annotations

import json
import shutil
import wave
from pathlib import Path

import numpy as np
import pytest

from dictate.cli import main

SAMPLE = sorted((Path(__file__).resolve().parent.parent / "sample_audio_synthetic").glob("*_clean.ogg"))[0]
RATE = 16000


def write_wave(file: Path, samples: np.ndarray) -> None:
    with wave.open(str(file), "wb") as out:
        out.setparams((1, 2, RATE, len(samples), "NONE", ""))
        out.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())


def make(folder: Path, kind: str) -> Path:
    """A file of the named kind of badness."""
    file = folder / f"{kind}.wav"
    rng = np.random.default_rng(1)
    if kind == "zero bytes":
        file.write_bytes(b"")
    elif kind == "text under a sound's name":
        file.write_text("The left elbow is thick and the eyes are clear.")
    elif kind == "picture under a sound's name":
        file.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(200))
    elif kind == "random bytes":
        file.write_bytes(rng.bytes(5000))
    elif kind == "header alone":
        write_wave(file, np.zeros(0))
    elif kind == "silence":
        write_wave(file, np.zeros(4 * RATE))
    elif kind == "noise":
        write_wave(file, rng.normal(0, 0.05, 4 * RATE))
    return file


BAD = ["zero bytes", "text under a sound's name", "picture under a sound's name", "random bytes", "header alone"]


@pytest.mark.parametrize("kind", [*BAD, "silence", "noise", "missing"])
def test_bad_sound_is_one_clear_line(tmp_path: Path, kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    """What holds no speech is told in one line that names the file; status 1; no record of it is written."""
    file = make(tmp_path, kind)
    assert main(["draft", str(file), "--out", str(tmp_path / "out")]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert str(file) in line
    assert "fault of the program" not in line
    assert list((tmp_path / "out").iterdir()) == []


def test_sound_cut_in_the_middle_is_drafted_and_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Half of a file gives the record of that half, with seconds inside it; a bad file beside it does not matter."""
    content = SAMPLE.read_bytes()
    half = tmp_path / "half.ogg"
    half.write_bytes(content[: len(content) // 2])
    empty = make(tmp_path, "zero bytes")
    assert main(["draft", str(empty), str(half), "--out", str(tmp_path / "out")]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "zero bytes" in line
    record = json.loads((tmp_path / "out" / "half.record.json").read_text(encoding="utf-8"))
    assert record["observations"]
    ends = [e["end"] for o in record["observations"] for e in o["evidence"]]
    assert 0 < max(ends) <= record["sound"]["seconds"]


def test_unknown_model_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A speech model that is not there is told in one line, and nothing is fetched."""
    shutil.copy(SAMPLE, tmp_path / "exam.ogg")
    code = main(
        ["draft", str(tmp_path / "exam.ogg"), "--out", str(tmp_path / "out"), "--model", str(tmp_path / "none")]
    )
    assert code == 1
    assert len(capsys.readouterr().err.splitlines()) == 1
