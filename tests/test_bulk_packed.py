"""Hearing many recordings together, with the real shipped model: the same values as hearing them one by one."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "scripts"))

import voices

from dictate.errors import InputError
from dictate.sound import RATE
from dictate.speech import SpeechSettings, Transcript, packed
from dictate.speech.packed import Packing, transcribe_all

pytestmark = pytest.mark.skipif(not shutil.which("espeak-ng"), reason="espeak-ng is not installed")
TALKS = (
    "The heart rate is one hundred and twenty. Both ears are clean. The left eye is clear.",
    "The weight is thirty kilos. The right ear is clean, and there is no discharge.",
)


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Two talks, the second one with ten seconds of silence in it and said twice; silence; no sound at all."""
    folder = tmp_path_factory.mktemp("talks")
    first, second = (voices.speak(t, "hank", seed=i) for i, t in enumerate(TALKS))
    silence = np.zeros(10 * RATE, dtype=np.float32)
    for name, samples in (("a", first), ("b", np.concatenate([second, silence, second])), ("c", silence)):
        voices.write_sound(folder / f"{name}.ogg", samples)
    (folder / "d.ogg").write_bytes(b"this is no sound")
    return [folder / f"{name}.ogg" for name in "abcd"]


@pytest.fixture(scope="module")
def settings(tmp_path_factory: pytest.TempPathFactory) -> SpeechSettings:
    return SpeechSettings(cache=tmp_path_factory.mktemp("cache"))


@pytest.fixture(scope="module")
def heard(recordings: list[Path], settings: SpeechSettings) -> list[Transcript | InputError]:
    return list(transcribe_all(recordings, settings=settings))


def test_each_recording_gets_its_own_words(heard: list[Transcript | InputError]) -> None:
    """Words of one recording never end up in another, whatever shared a window's batch."""
    first, second = heard[0], heard[1]
    assert isinstance(first, Transcript)
    assert isinstance(second, Transcript)
    assert "heart" in first.text.lower()
    assert "weight" not in first.text.lower()
    assert second.text.lower().count("weight") == 2
    assert "heart" not in second.text.lower()


def test_times_are_those_of_the_recording(heard: list[Transcript | InputError]) -> None:
    """The silence that was skipped counts: the second round of the talk comes ten seconds after the first one ends."""
    found = heard[1]
    assert isinstance(found, Transcript) and found.sound
    starts = [w.start for w in found.words if "weight" in w.text.lower()]
    length = (found.sound.seconds - 10) / 2
    assert starts[1] - starts[0] == pytest.approx(length + 10, abs=0.5)
    assert [w.start for w in found.words] == sorted(w.start for w in found.words)
    assert all(0 <= w.start <= w.end <= found.sound.seconds and 0 <= w.probability <= 1 for w in found.words)
    assert found.text == " ".join(w.text for w in found.words)
    assert any(u.kind == "silence" and u.end - u.start > 8 for u in found.unheard)


def test_words_do_not_hang_on_what_else_is_heard(
    heard: list[Transcript | InputError], recordings: list[Path], settings: SpeechSettings
) -> None:
    """A recording heard alone gives the very transcript that it gives among others."""
    from dataclasses import replace

    (alone,) = transcribe_all(recordings[1:2], settings=replace(settings, use_cache=False))
    assert alone == heard[1]


def test_what_cannot_be_heard_is_told_and_the_others_go_on(heard: list[Transcript | InputError]) -> None:
    """A silent recording has no words; a file that is no sound gives the reason."""
    silent, bad = heard[2], heard[3]
    assert isinstance(silent, Transcript)
    assert silent.words == ()
    assert isinstance(bad, InputError)
    assert "cannot be read" in bad.what


def test_words_come_from_the_cache_the_second_time(
    heard: list[Transcript | InputError],
    recordings: list[Path],
    settings: SpeechSettings,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The same recordings under the same settings need no recognition, and give the same transcripts."""
    monkeypatch.setattr(packed._Hearer, "_batch", None)
    again = list(transcribe_all(recordings[:2], settings=settings))
    assert again == heard[:2]


def test_the_settings_tell_how_windows_were_made(
    heard: list[Transcript | InputError], recordings: list[Path], settings: SpeechSettings
) -> None:
    """Two ways of packing are two settings, so that neither takes the other's words from the cache."""
    narrow = next(transcribe_all(recordings[:1], settings=settings, packing=Packing(beam=1)))
    first = heard[0]
    assert isinstance(first, Transcript)
    assert isinstance(narrow, Transcript)
    assert narrow.settings != first.settings
    assert {"windows", "beam", "model", "weights"} <= set(first.settings)


def test_a_loop_is_heard_again_with_care(
    recordings: list[Path], settings: SpeechSettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A window whose result compresses like a loop does not stand: it is heard again alone."""
    from dataclasses import replace

    inner = packed._Hearer._segments

    def looping(self, encoded, results, sizes):  # type: ignore[no-untyped-def]
        return [replace(h, compression=9.0) for h in inner(self, encoded, results, sizes)]

    again: list[int] = []
    careful = packed.listen._heard
    monkeypatch.setattr(packed._Hearer, "_segments", looping)
    monkeypatch.setattr(packed.listen, "_heard", lambda *a, **k: again.append(1) or careful(*a, **k))
    fresh = replace(settings, use_cache=False)
    (found,) = transcribe_all(recordings[:1], settings=fresh)
    assert again
    assert isinstance(found, Transcript)
    assert "heart" in found.text.lower()


def test_what_was_said_to_the_program_is_left_out(recordings: list[Path], tmp_path: Path) -> None:
    """A recording with events beside it is heard with care, its spoken orders left out, in every way of working."""
    import shutil as files

    from dictate.bulk.hearing import hear_all
    from dictate.bulk.values import Orders
    from dictate.live.events import event_json, event_now, events_file

    copy = tmp_path / "a.ogg"
    files.copyfile(recordings[0], copy)
    events_file(copy).write_text(event_json(event_now("order", 0.0, 3.0, what="pause")) + "\n", encoding="utf-8")
    (found,) = hear_all([copy], Orders())
    assert isinstance(found, Transcript)
    assert "clear" in found.text.lower()
    assert "heart" not in found.text.lower()
