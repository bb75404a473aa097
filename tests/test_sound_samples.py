"""The committed sample audio is whole and as its index says; noise is added at the level that was asked for."""

import csv
import json
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "scripts"))

import voices

from dictate.sound import decode

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "sample_audio_synthetic"
NARRATIONS = ROOT / "scripts" / "sample_narrations"


def index() -> list[dict[str, str]]:
    with (FOLDER / "index.csv").open(encoding="utf-8", newline="") as f:
        return list(csv.DictReader(f))


def test_index_lists_every_file_with_its_length():
    """Every sample is in the index, can be read without gaps or warnings, and is as long as the index says."""
    rows = index()
    assert sorted(r["file"] for r in rows) == sorted(p.name for p in FOLDER.glob("*.ogg"))
    for row in rows:
        sound = decode(FOLDER / row["file"])
        assert sound.note.gaps == () and sound.note.warnings == ()
        assert sound.seconds == pytest.approx(float(row["seconds"]), abs=0.1)


def test_samples_are_many_voices_and_small():
    """At least four voices of three engines, clean and with each kind of noise; under four megabytes."""
    rows = index()
    assert len({r["voice"] for r in rows}) >= 4
    assert {r["engine"] for r in rows} == {"espeak", "flite", "piper"}
    assert {"none", "fan", "bark", "talker", "clatter"} <= {r["noise"] for r in rows}
    assert sum(p.stat().st_size for p in FOLDER.iterdir()) < 4_000_000


def test_every_sample_has_its_truth():
    """Each sample's narration lies among the scripts, and every quote of its truth stands in its text."""
    for name in {r["narration"] for r in index()}:
        truth = json.loads((NARRATIONS / f"{name}.json").read_text(encoding="utf-8"))
        quotes = [x["quote"] for x in (*truth["facts"], *truth["not_facts"])]
        quotes += [q for section in truth["other"].values() for q in section]
        assert quotes and all(q in truth["text"] for q in quotes)


def talk_like(seconds: float) -> np.ndarray:
    """Bursts of a buzz with pauses: active level and mean level differ, as in speech."""
    t = np.arange(int(seconds * voices.RATE)) / voices.RATE
    return (0.2 * np.sign(np.sin(2 * np.pi * 140 * t)) * (np.sin(2 * np.pi * 0.7 * t) > 0)).astype(np.float32)


@pytest.mark.parametrize("kind", ["fan", "bark", "clatter"])
@pytest.mark.parametrize("snr", [0.0, 15.0])
def test_noise_is_as_loud_as_it_was_asked_for(kind, snr):
    """What add_noise adds lies the asked number of dB below the speech, by the active levels of both."""
    speech = talk_like(20)
    mixed = voices.add_noise(speech, kind, snr, seed=4)
    scale = np.dot(mixed, speech) / np.dot(speech, speech)
    noise = voices.noise_of(kind, len(speech), 4)
    rest = mixed - speech * scale
    share = np.dot(rest, noise) / np.dot(noise, noise)
    found = voices.active_level(speech * np.float32(scale)) - voices.active_level(noise * np.float32(share))
    assert found == pytest.approx(snr, abs=1.0)
    assert np.abs(mixed).max() <= 0.99 and len(mixed) == len(speech)


def test_noise_follows_from_its_seed():
    """The same seed gives the same noise, another seed another; an unknown kind is refused by name."""
    speech = talk_like(5)
    assert np.array_equal(voices.add_noise(speech, "fan", 5, seed=1), voices.add_noise(speech, "fan", 5, seed=1))
    assert not np.array_equal(voices.add_noise(speech, "fan", 5, seed=1), voices.add_noise(speech, "fan", 5, seed=2))
    with pytest.raises(ValueError, match="rain"):
        voices.add_noise(speech, "rain", 5)


@pytest.mark.parametrize("voice", ["hank", "slt"])
def test_voices_follow_speed_and_keep_their_words_apart(voice):
    """A voice told to go faster takes less time; the result is 16 kHz sound that does not clip."""
    if why := voices.missing(voice):
        pytest.skip(why)
    text = "The left ear is clean. The right ear is clean."
    slow, fast = (voices.speak(text, voice, speed=s) for s in (0.8, 1.4))
    assert len(fast) < 0.85 * len(slow)
    assert fast.dtype == np.float32 and 0.4 < np.abs(fast).max() <= 0.5
    assert voices.sentences(text) == ["The left ear is clean.", "The right ear is clean."]
