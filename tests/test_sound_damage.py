"""Damaged sound files: lengths and later times stay true, and no loss is silent.

The common decoding loop loses half of an MP3 or M4A to 512 damaged bytes without a word; these tests hold the opposite.
"""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "scripts"))

from test_sound_decode import sweep
from voices import write_sound

from dictate.errors import InputError
from dictate.sound import RATE, decode
from dictate.sound.container import frame_bytes

SECONDS = 10.0
PLACES = 40
SLACK = {"mp3": 0.3}
ENDINGS = ("wav", "flac", "mp3", "m4a", "ogg", "webm")


@pytest.fixture(scope="module")
def originals(tmp_path_factory):
    folder = tmp_path_factory.mktemp("whole")
    for ending in ENDINGS:
        write_sound(folder / f"exam.{ending}", sweep(SECONDS))
    return folder


def damaged(data: bytes, seed: int) -> bytes:
    rng = np.random.default_rng(seed)
    at = int(rng.integers(0, len(data) - 512))
    return data[:at] + rng.bytes(512) + data[at + 512 :]


def lag_at(whole: np.ndarray, other: np.ndarray, second: float) -> float:
    """By how many seconds the sound at this second lies later in `other`; searched half a second around."""
    here = whole[int(second * RATE) : int((second + 1) * RATE)].astype(float)
    around = other[int((second - 0.5) * RATE) : int((second + 1.5) * RATE)].astype(float)
    size = 1 << 16
    match = np.fft.irfft(np.fft.rfft(around, size) * np.conj(np.fft.rfft(here, size)), size)[: RATE + 1]
    return (int(match.argmax()) - RATE // 2) / RATE


@pytest.mark.parametrize("ending", ENDINGS)
def test_damage_is_told_and_moves_nothing(originals, tmp_path, ending):
    """512 random bytes anywhere: the length stays, or what is missing is named; what comes after keeps its time."""
    data = (originals / f"exam.{ending}").read_bytes()
    whole = decode(originals / f"exam.{ending}").samples
    path = tmp_path / f"damaged.{ending}"
    refused, told, late = 0, 0, []
    for seed in range(PLACES):
        path.write_bytes(damaged(data, seed))
        try:
            sound = decode(path)
        except InputError as e:
            assert "\n" not in str(e)
            refused += 1
            continue
        note = sound.note
        told += bool(note.gaps or note.warnings)
        if abs(sound.seconds - SECONDS) > SLACK.get(ending, 0.1):
            assert note.gaps or note.warnings, f"place {seed}: {sound.seconds} s and nothing said"
        for gap in note.gaps:
            assert 0 <= gap.start < gap.end <= sound.seconds + 0.1
        for second in (3, 7):
            near = any(g.start < second + 1.3 and g.end > second - 0.3 for g in note.gaps)
            if not near and sound.seconds > second + 1.6:
                late.append(abs(lag_at(whole, sound.samples, second)))
    assert refused <= PLACES // 8
    if ending not in ("wav",):  # samples without a checksum: damage there is a crack that nobody can tell from sound
        assert told >= PLACES - refused - 3
    assert late and sum(x > 0.1 for x in late) <= len(late) // 20


def test_gap_is_silence_at_its_place(originals, tmp_path):
    """Where pages of an Ogg file are lost, the gap says from when to when, and the samples there are silence."""
    data = (originals / "exam.ogg").read_bytes()
    page = data.index(b"OggS", len(data) // 2)
    path = tmp_path / "hole.ogg"
    path.write_bytes(data[: page + 30] + bytes(64) + data[page + 94 :])
    sound = decode(path)
    (gap,) = sound.note.gaps
    assert 0.3 < gap.end - gap.start < 2.5
    middle = sound.stretch(gap.start + 0.1, gap.end - 0.1)
    assert np.abs(middle).max() == 0
    assert abs(sound.seconds - SECONDS) < 0.1


def test_lost_bytes_of_an_mp3_keep_their_time(originals, tmp_path):
    """Half a second of rubbish in an MP3 is a gap of half a second, as the place in the file tells the time."""
    data = (originals / "exam.mp3").read_bytes()
    cut = len(data) // 2
    lost = len(data) // 20
    path = tmp_path / "rubbish.mp3"
    path.write_bytes(data[:cut] + np.random.default_rng(5).bytes(lost) + data[cut + lost :])
    sound = decode(path)
    assert abs(sound.seconds - SECONDS) < 0.3
    assert sum(g.end - g.start for g in sound.note.gaps) == pytest.approx(0.5, abs=0.2)
    assert abs(lag_at(decode(originals / "exam.mp3").samples, sound.samples, 7)) < 0.1


def test_cut_between_two_pages_is_told(originals, tmp_path):
    """An Ogg file cut just between two pages lacks nothing but its end mark: that is told, and the times stay."""
    data = (originals / "exam.ogg").read_bytes()
    path = tmp_path / "between.ogg"
    path.write_bytes(data[: data.index(b"OggS", len(data) // 2)])
    sound = decode(path)
    assert any("no end mark" in w for w in sound.note.warnings)
    assert abs(lag_at(decode(originals / "exam.ogg").samples, sound.samples, 3)) < 0.01


def test_damaged_last_page_is_a_short_end(originals, tmp_path):
    """Damage in the last page of an Ogg file, which its decoder drops, is told as a sound that ends too early."""
    path = tmp_path / "end.ogg"
    write_sound(path, sweep(SECONDS + 0.6))
    data = path.read_bytes()
    page = data.rindex(b"OggS")
    path.write_bytes(data[: page + 60] + bytes(40) + data[page + 100 :])
    sound = decode(path)
    assert sound.seconds < SECONDS + 0.4
    assert any("10.6 s long" in w for w in sound.note.warnings)


@pytest.mark.parametrize("seed", range(8))
def test_badly_damaged_files_end_in_a_result_or_one_line(originals, tmp_path, seed):
    """A tenth of all bytes replaced: sound with remarks or one clear line, never a traceback or an endless loop."""
    rng = np.random.default_rng(seed)
    for ending in ENDINGS:
        data = np.frombuffer((originals / f"exam.{ending}").read_bytes(), dtype=np.uint8).copy()
        hit = rng.random(len(data)) < 0.1
        data[hit] = rng.integers(0, 256, int(hit.sum()))
        path = tmp_path / f"worse.{ending}"
        path.write_bytes(data.tobytes())
        try:
            sound = decode(path)
        except InputError as e:
            assert str(e).startswith(str(path)) and "\n" not in str(e)
        else:
            assert len(sound.samples) and sound.seconds < 700


def test_frame_heads_tell_their_lengths():
    """The length in the head of an MP3 or ADTS frame is read as the standards say; rubbish has none.

    MP3: 144 * bit rate / rate bytes, ISO/IEC 11172-3; 128 kbit/s at 44.1 kHz gives 417, with padding 418 (a figure that
    every description of the format works out). Checked from memory of the published tables.
    """
    assert frame_bytes(bytes([0xFF, 0xFB, 0x90, 0x00, 0, 0, 0, 0]), "mp3") == 417
    assert frame_bytes(bytes([0xFF, 0xFB, 0x92, 0x00, 0, 0, 0, 0]), "mp3") == 418
    assert frame_bytes(bytes([0xFF, 0xF1, 0x50, 0x80, 0x1F, 0xFC, 0, 0]), "aac") == 255
    assert frame_bytes(b"rubbish!", "mp3") is None
    assert frame_bytes(b"rubbish!", "aac") is None
