"""Sound files become samples with true lengths, whatever their format, and unreadable ones give one clear line."""

import hashlib
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "scripts"))

import av
from voices import write_sound

from dictate.errors import InputError
from dictate.sound import RATE, decode, pieces, sound_of

SECONDS = 6.0
FORMATS = ("wav", "flac", "mp3", "m4a", "ogg", "opus", "webm")


def sweep(seconds: float = SECONDS, *, level: float = 0.3) -> np.ndarray:
    """A tone whose pitch tells the time, so that a shift shows; floats, 16 kHz."""
    t = np.arange(int(seconds * RATE)) / RATE
    rng = np.random.default_rng(1)
    tone = np.sin(2 * np.pi * (200 * t + 60 * np.sin(1.7 * t) + 8 * t * t))
    return (level * tone * (0.6 + 0.4 * np.sin(3 * t)) + 0.01 * level * rng.standard_normal(len(t))).astype(np.float32)


def line_of(error: pytest.ExceptionInfo[InputError]) -> str:
    return str(error.value)


@pytest.mark.parametrize("ending", FORMATS)
def test_every_format_keeps_its_length(tmp_path, ending):
    """A sound written in any common format is read with its length, at 16 kHz, without gaps or warnings."""
    path = tmp_path / f"exam.{ending}"
    write_sound(path, sweep())
    sound = decode(path)
    assert abs(sound.seconds - SECONDS) < 0.06
    assert sound.samples.dtype == np.int16
    assert sound.note.gaps == () and sound.note.warnings == ()
    assert sound.note.seconds == pytest.approx(sound.seconds, abs=0.001)
    assert sound.source_hash == hashlib.sha256(path.read_bytes()).hexdigest()


def test_samples_are_those_that_were_written(tmp_path):
    """A WAV file at 16 kHz comes back sample by sample, to within rounding."""
    path = tmp_path / "exam.wav"
    write_sound(path, sweep())
    assert np.abs(decode(path).samples / 32768 - sweep()).max() < 2 / 32768


def test_stereo_at_another_rate_is_mixed_down(tmp_path):
    """A stereo file at 44.1 kHz becomes mono at 16 kHz with the pitch that it had."""
    t = np.arange(44100 * 2) / 44100
    both = np.stack([np.sin(2 * np.pi * 440 * t), np.sin(2 * np.pi * 440 * t)]).astype(np.float32) * 0.3
    path = tmp_path / "stereo.wav"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("pcm_s16le", rate=44100)
        stream.layout = "stereo"
        frame = av.AudioFrame.from_ndarray(
            np.ascontiguousarray((both * 32767).astype(np.int16)), format="s16p", layout="stereo"
        )
        frame.sample_rate = 44100
        packed = av.AudioResampler(format="s16", layout="stereo", rate=44100)
        for part in [*packed.resample(frame), *packed.resample(None)]:
            container.mux(stream.encode(part))
        container.mux(stream.encode(None))
    sound = decode(path)
    assert abs(sound.seconds - 2) < 0.01
    spectrum = np.abs(np.fft.rfft(sound.samples[:RATE].astype(float)))
    assert spectrum.argmax() == 440


def test_sound_of_a_video(tmp_path):
    """The sound track of a video file is read; the pictures are passed over."""
    path = tmp_path / "exam.mp4"
    with av.open(str(path), "w") as container:
        video = container.add_stream("mpeg4", rate=10)
        video.width, video.height, video.pix_fmt = 64, 64, "yuv420p"
        sound = container.add_stream("aac", rate=16000)
        sound.layout = "mono"
        for i in range(20):
            picture = av.VideoFrame.from_ndarray(np.full((64, 64, 3), i * 10, dtype=np.uint8), format="rgb24")
            container.mux(video.encode(picture))
        resampler = av.AudioResampler(format="fltp", layout="mono", rate=16000, frame_size=1024)
        frame = av.AudioFrame.from_ndarray(sweep(2.0)[None], format="flt", layout="mono")
        frame.sample_rate = RATE
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            container.mux(sound.encode(part))
        container.mux(video.encode(None))
        container.mux(sound.encode(None))
    assert abs(decode(path).seconds - 2) < 0.2  # the encoder's run-in is not marked in this file


def test_video_without_sound_is_refused(tmp_path):
    """A film without a sound track gives one line that says so."""
    path = tmp_path / "silent film.mp4"
    with av.open(str(path), "w") as container:
        video = container.add_stream("mpeg4", rate=10)
        video.width, video.height, video.pix_fmt = 64, 64, "yuv420p"
        for _ in range(5):
            container.mux(
                video.encode(av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), dtype=np.uint8), format="rgb24"))
            )
        container.mux(video.encode(None))
    with pytest.raises(InputError, match="no sound track") as error:
        decode(path)
    assert str(path) in line_of(error)


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("empty.wav", b"", "empty"),
        ("text.wav", b"The left ear is clean.\n" * 400, "cannot be read as sound"),
        ("text.mp3", b"The left ear is clean.\n" * 400, "cannot be read as sound"),
        ("zeros.m4a", bytes(20000), "cannot be read as sound"),
        ("picture.ogg", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40, "cannot be read as sound"),
        (
            "list.mp3",
            b"#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\nhttp://127.0.0.1:9/a.ts\n",
            "cannot be read as sound",
        ),
        ("list.wav", b"ffconcat version 1.0\nfile '/etc/passwd'\n", "cannot be read as sound"),
        (
            "header alone.wav",
            b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0\1\0\1\0\x80>\0\0\0}\0\0\2\0\x10\0data\0\0\0\0",
            "no sound",
        ),
    ],
)
def test_what_is_no_sound_gives_one_line(tmp_path, name, content, says):
    """Empty files, text, pictures, playlists and bare headers under a sound's name are refused in one named line."""
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(InputError, match=says) as error:
        decode(path)
    assert str(path) in line_of(error) and "\n" not in line_of(error)


def test_unknown_coding_gives_one_line(tmp_path):
    """A WAV whose head names a coding that nobody knows is refused in one line."""
    path = tmp_path / "odd.wav"
    write_sound(path, sweep(1.0))
    data = path.read_bytes()
    at = data.index(b"fmt ") + 8
    path.write_bytes(data[:at] + b"\x77\x77" + data[at + 2 :])
    with pytest.raises(InputError, match="not known") as error:
        decode(path)
    assert str(path) in line_of(error)


def test_missing_file_and_folder_are_named(tmp_path):
    """A file that is not there, or a folder, gives one line with its name."""
    for path, says in ((tmp_path / "gone.wav", "no such file"), (tmp_path, "folder")):
        with pytest.raises(InputError, match=says) as error:
            decode(path)
        assert str(path) in line_of(error)


def test_a_colon_in_the_name_is_no_address(tmp_path):
    """A file whose name looks like an address is opened as the file that it is."""
    path = tmp_path / "http:exam.wav"
    write_sound(tmp_path / "a.wav", sweep(1.0))
    (tmp_path / "a.wav").rename(path)
    assert decode(path).seconds == pytest.approx(1.0, abs=0.01)


def test_cut_wav_keeps_its_times_and_says_so(tmp_path):
    """A WAV cut in the middle gives the first half, unmoved, and a warning with both lengths."""
    path = tmp_path / "cut.wav"
    write_sound(path, sweep())
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    sound = decode(path)
    assert abs(sound.seconds - SECONDS / 2) < 0.01
    assert any("3.0 s" in w and "6.0 s" in w for w in sound.note.warnings)


@pytest.mark.parametrize("ending", ["mp3", "flac", "ogg"])
def test_cut_file_is_never_silent(tmp_path, ending):
    """A compressed file cut in the middle gives what is left, with the same samples as before, and a warning."""
    path = tmp_path / f"cut.{ending}"
    write_sound(path, sweep())
    whole = decode(path)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    sound = decode(path)
    assert 1.0 < sound.seconds < 5.0
    assert sound.note.warnings or sound.note.gaps
    same = min(len(sound.samples), len(whole.samples)) - RATE // 2
    assert np.abs(sound.samples[:same].astype(int) - whole.samples[:same]).max() < 200


def test_cut_m4a_tells_the_reason(tmp_path):
    """An M4A that was cut off cannot be opened by anybody; the line says why."""
    path = tmp_path / "cut.m4a"
    write_sound(path, sweep())
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(InputError, match="index is missing"):
        decode(path)


def test_wav_whose_sizes_were_never_filled_in(tmp_path):
    """A WAV of a recorder that was killed, with no sizes filled in, is read to its end without a warning."""
    path = tmp_path / "killed.wav"
    write_sound(path, sweep())
    data = path.read_bytes()
    at = data.index(b"data") + 4
    for size in (b"\xff\xff\xff\xff", b"\0\0\0\0"):
        path.write_bytes(data[:4] + size + data[8:at] + size + data[at + 4 :])
        sound = decode(path)
        assert abs(sound.seconds - SECONDS) < 0.01 and sound.note.warnings == ()


@pytest.mark.parametrize(
    ("samples", "says"),
    [
        (np.zeros(RATE * 3, dtype=np.float32), "silent"),
        (sweep(level=0.002), "quiet"),
        (np.clip(sweep(level=4.0), -1, 1), "clipped"),
    ],
    ids=["silent", "quiet", "clipped"],
)
def test_bad_levels_are_named(tmp_path, samples, says):
    """A silent, a very quiet and a clipped recording are read, each with a plain warning; a good one has none."""
    path = tmp_path / "level.wav"
    write_sound(path, samples)
    assert [w for w in decode(path).note.warnings if says in w]
    assert sound_of(sweep()).note.warnings == ()


def test_pieces_join_without_holes(tmp_path):
    """The pieces of a longer sound follow on each other sample by sample and make up the whole."""
    path = tmp_path / "long.flac"
    write_sound(path, np.tile(sweep(), 16))
    parts = list(pieces(path))
    assert len(parts) > 2
    assert [p.start for p in parts] == [0, *np.cumsum([len(p.samples) for p in parts])[:-1].tolist()]
    assert np.array_equal(np.concatenate([p.samples for p in parts]), decode(path).samples)


def test_long_sound_lies_on_disk_and_leaves_nothing_behind(tmp_path, monkeypatch):
    """A sound past ten minutes is kept in an unnamed file: same samples as its pieces, nothing left in the folder."""
    path = tmp_path / "long.flac"
    write_sound(path, np.tile(sweep(), 105))
    place = tmp_path / "temporary"
    place.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(place))
    sound = decode(path)
    assert isinstance(sound.samples, np.memmap)
    assert list(place.iterdir()) == []
    assert abs(sound.seconds - 630) < 0.1
    at = 0
    for piece in pieces(path):
        assert np.array_equal(sound.samples[at : at + len(piece.samples)], piece.samples)
        at += len(piece.samples)
    assert at == len(sound.samples)


def test_stretch_gives_seconds_and_stops_at_the_end():
    """A stretch is cut by seconds, as floats, and is shorter where the sound ends."""
    sound = sound_of(sweep(2.0))
    assert len(sound.stretch(0.5, 1.0)) == RATE // 2
    assert len(sound.stretch(1.5, 9.0)) == RATE // 2
    assert np.allclose(sound.stretch(0.5, 1.0), sweep(2.0)[RATE // 2 : RATE], atol=1 / 16384)


def test_progress_never_passes_one(tmp_path):
    """Progress rises from 0 to 1 and ends at 1."""
    path = tmp_path / "exam.flac"
    write_sound(path, np.tile(sweep(), 16))
    told: list[float] = []
    decode(path, progress=told.append)
    assert told == sorted(told) and told[-1] == 1.0 and told[0] > 0
