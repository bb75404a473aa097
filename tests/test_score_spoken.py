"""The command that speaks narrations and scores them keeps held voices and held sound apart."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "scripts"))

import score_spoken  # noqa: E402
import voices  # noqa: E402


def test_held_voices_are_in_no_sample():
    """A voice for measuring is neither one of the others under another name nor heard in the sample audio."""
    assert not set(voices.VOICES.values()) & set(voices.HELD_VOICES.values())
    assert not voices.VOICES.keys() & voices.HELD_VOICES.keys()
    with (HERE.parent / "sample_audio_synthetic" / "index.csv").open(encoding="utf-8", newline="") as f:
        heard = {row["voice"] for row in csv.DictReader(f)}
    assert heard and not heard & {v.name for v in voices.HELD_VOICES.values()}


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--out", str(HERE / "spoken")], "lies in the repository"),
        (["--out", "/tmp/spoken", "--voices", "hank", "--names", "n00"], "no narration n00"),
    ],
)
def test_what_cannot_be_done_is_told(arguments, said, capsys):
    """Sound meant for the repository and a narration that is not there end with one line, and nothing is spoken."""
    if said.startswith("no narration") and voices.missing("hank"):
        pytest.skip("espeak-ng is not installed")
    with pytest.raises(SystemExit) as ended:
        score_spoken.main(arguments)
    assert ended.value.code == 2
    assert said in capsys.readouterr().err
    assert not (HERE / "spoken").exists()
