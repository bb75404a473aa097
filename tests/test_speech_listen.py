"""The whole speech step on spoken sound, with the real shipped model, loaded once for this file."""

import shutil
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "scripts"))

import voices

from dictate.errors import InputError
from dictate.sound import RATE, sound_of
from dictate.speech import SpeechSettings, transcribe, transcribe_sound
from dictate.speech.readings import Proposed

needs_voice = pytest.mark.skipif(not shutil.which("espeak-ng"), reason="espeak-ng is not installed")
TALK = (
    "The heart rate is one hundred and twenty. Both ears are clean. The left eye is clear, and there is no discharge."
)


@pytest.fixture(scope="module")
def settings(tmp_path_factory):
    return SpeechSettings(cache=tmp_path_factory.mktemp("cache"))


@pytest.fixture(scope="module")
def talk(tmp_path_factory):
    """The talk, ten seconds of silence, and the talk again, as an Ogg file."""
    said = voices.speak(TALK, "hank", seed=1)
    path = tmp_path_factory.mktemp("talk") / "talk.ogg"
    voices.write_sound(path, np.concatenate([said, np.zeros(10 * RATE, dtype=np.float32), said]))
    return path, len(said) / RATE


@needs_voice
def test_spoken_words_come_back_at_their_times(talk, settings):
    """A talk spoken twice is heard twice, the second after the silence, which is listed and holds no word."""
    path, length = talk
    told: list[float] = []
    found = transcribe(path, settings=settings, progress=told.append)
    text = found.text.lower()
    for word in ("heart", "rate", "ears", "clean", "left", "eye", "clear", "discharge"):
        assert text.count(word) == 2, text
    assert found.text == " ".join(w.text for w in found.words)
    starts = [w.start for w in found.words if "heart" in w.text.lower()]
    assert starts[1] - starts[0] == pytest.approx(length + 10, abs=0.4)
    assert all(0 <= w.start <= w.end <= found.sound.seconds and 0 <= w.probability <= 1 for w in found.words)
    assert [w.start for w in found.words] == sorted(w.start for w in found.words)
    (silence,) = [u for u in found.unheard if u.kind == "silence"]
    assert not any(w.start < silence.end and w.end > silence.start for w in found.words)
    assert silence.end - silence.start > 8
    assert found.settings["model"] == "base" and len(found.settings["weights"]) == 64
    assert told == sorted(told) and told[-1] == 1.0 and len(told) >= 3


@needs_voice
def test_second_time_comes_from_the_cache(talk, settings, monkeypatch):
    """The same sound under the same settings is not recognised again; a damaged cache file is made anew."""
    path, _ = talk
    first = transcribe(path, settings=settings)
    calls = []
    from dictate.speech.recogniser import Recogniser

    hear = Recogniser.hear
    monkeypatch.setattr(Recogniser, "hear", lambda *a: calls.append(1) or hear(*a))
    assert transcribe(path, settings=settings) == first and calls == []
    for kept in (settings.cache_folder / "words").rglob("*.json"):
        kept.write_bytes(kept.read_bytes()[:100])
    assert transcribe(path, settings=settings) == first and calls
    before = len(calls)
    assert transcribe(path, settings=settings) == first and len(calls) == before


@dataclass(frozen=True)
class Fancying:
    """A proposer that fancies one other word for each first word."""

    name: str
    other: str

    def __call__(self, words):
        return [Proposed(0, 1, self.other, 0.9, "sound")]


@needs_voice
def test_another_lexicon_costs_no_recognition(talk, settings, monkeypatch):
    """With other proposals the sound is asked about what is new, and nothing of it is recognised again."""
    from dictate.speech.recogniser import Recogniser

    path, _ = talk
    heard, asked = [], []
    first, encoded = Recogniser.first, Recogniser.encoded
    monkeypatch.setattr(Recogniser, "first", lambda *a: heard.append(1) or first(*a))
    monkeypatch.setattr(Recogniser, "encoded", lambda *a: asked.append(1) or encoded(*a))
    one = replace(settings, proposer=Fancying("one", "zebra"))
    before = transcribe(path, settings=one)
    heard.clear()
    asked.clear()
    again = transcribe(path, settings=replace(settings, proposer=Fancying("renamed", "zebra")))
    assert again.words == before.words and heard == [] and asked == []
    other = transcribe(path, settings=replace(settings, proposer=Fancying("other", "giraffe")))
    assert heard == [] and asked
    assert [w.text for w in other.words] == [w.text for w in before.words]
    assert "zebra" not in other.text.lower() and "giraffe" not in other.text.lower()


@needs_voice
def test_gains_from_kept_words_are_those_of_the_first_hearing(talk, settings):
    """Encoding a stretch again for a question gives what the first encoding would have given."""
    from dictate.sound.sound import decode
    from dictate.speech import listen

    path, length = talk
    recogniser, _ = listen._ready(listen._with_hint(settings))
    samples = decode(path).stretch(0.0, length)
    _, (window,) = recogniser.first(samples, replace(settings, hotwords=""))
    assert np.array_equal(np.asarray(recogniser.encoded(samples).encoded), np.asarray(window.encoded))


@needs_voice
@pytest.mark.parametrize("language", ["fr", "de", "es"])
def test_another_language_is_told(settings, talk, language):
    """Speech in French, German or Spanish gives a warning that says so; English speech gives none."""
    text = {
        "fr": "Bonjour, voici Médor, un labrador de huit ans. Les deux yeux sont clairs et les oreilles sont propres.",
        "de": "Guten Tag, das ist Bello, ein acht Jahre alter Hund. Beide Augen sind klar, die Ohren sind sauber.",
        "es": "Buenos días, este es Toby, un perro de ocho años. Los ojos están limpios y las orejas también.",
    }[language]
    data = voices._output(["espeak-ng", "-v", language, "--stdin", "--stdout"], text)
    found = transcribe_sound(sound_of(voices._wave(data)), settings=settings)
    assert any("does not sound like" in w for w in found.sound.warnings)
    assert transcribe(talk[0], settings=settings).sound.warnings == ()


@pytest.mark.parametrize("kind", ["fan", "bark", "clatter", "white", "silence"])
def test_no_words_are_made_up_from_noise(settings, kind):
    """Half a minute of noise or silence gives no words, and what was passed over is listed."""
    length = 30 * RATE
    if kind == "silence":
        samples = np.zeros(length, dtype=np.float32)
    elif kind == "white":
        samples = (0.1 * np.random.default_rng(1).standard_normal(length)).astype(np.float32)
    else:
        noise = voices.noise_of(kind, length, 3)
        samples = 0.3 * noise / np.abs(noise).max()
    found = transcribe_sound(sound_of(samples), settings=settings)
    assert found.words == ()
    assert sum(u.end - u.start for u in found.unheard) > 20


@pytest.mark.parametrize(
    ("bad", "says"),
    [({"language": "xx"}, "language"), ({"device": "abacus"}, "device"), ({"precision": "int3"}, "cannot be loaded")],
)
def test_settings_that_cannot_be_followed(settings, bad, says):
    """An unknown language, device or precision gives one clear line."""
    from dataclasses import replace

    with pytest.raises(InputError, match=says) as error:
        transcribe_sound(sound_of(np.zeros(RATE, dtype=np.float32)), settings=replace(settings, **bad))
    assert "\n" not in str(error.value)


def test_files_that_are_no_sound(tmp_path, settings):
    """Empty, missing and wrong files give one line, and nothing is kept of them."""
    for name, content in (("empty.wav", b""), ("text.mp3", b"left ear clean " * 99)):
        path = tmp_path / name
        path.write_bytes(content)
        with pytest.raises(InputError) as error:
            transcribe(path, settings=settings)
        assert name in str(error.value)
    with pytest.raises(InputError, match="gone"):
        transcribe(tmp_path / "gone.wav", settings=settings)
