"""What the shipped model was taught: added to the packaged weights, nothing else touched, refused where it is unfit."""

import struct

import numpy as np
import pytest

from dictate.errors import InputError
from dictate.speech import SpeechSettings
from dictate.speech.adapter import ADAPTER, arrays, deltas, fingerprint, merge
from dictate.speech.listen import _with_hint
from dictate.speech.models import model_folder


def model_file(path, content):
    """A model file in CTranslate2's form with these float16 arrays."""
    text = lambda s: struct.pack("<H", len(s) + 1) + s.encode() + b"\0"  # noqa: E731
    out = [struct.pack("<I", 6), text("WhisperSpec"), struct.pack("<I", 3), struct.pack("<I", len(content))]
    for name, array in content.items():
        data = array.astype(np.float16).tobytes()
        out += [text(name), struct.pack("<B", array.ndim), struct.pack(f"<{array.ndim}I", *array.shape)]
        out += [struct.pack("<BI", 4, len(data)), data]
    path.write_bytes(b"".join([*out, struct.pack("<I", 0)]))


def adapter_file(path, name, b, a):
    """An adapter of one array: int8 matrices with a scale of one."""
    parts = {"a": a.astype(np.int8), "a_scale": np.ones(len(a)), "b": b.astype(np.int8), "b_scale": np.ones(len(b))}
    np.savez(path, **{f"{name}|{part}": value for part, value in parts.items()})


@pytest.fixture
def files(tmp_path):
    """A small model, and the folder it lies in."""
    content = {"one/weight": np.full((3, 2), 0.5), "one/bias": np.ones(3), "two/weight": np.zeros((2, 2))}
    model_file(tmp_path / "model.bin", content)
    return tmp_path


def test_product_is_added_and_the_rest_stays(files):
    """The named array grows by the product of its two matrices; every other byte of the file stays as it was."""
    b, a = np.array([[1], [2], [-3]]), np.array([[4, 5]])
    adapter_file(files / "taught.npz", "one", b, a)
    merge(files / "model.bin", files / "merged.bin", adapter=files / "taught.npz")
    before, after = arrays(files / "model.bin"), arrays(files / "merged.bin")
    assert np.array_equal(after["one/weight"], before["one/weight"] + b @ a)
    assert all(np.array_equal(after[n], before[n]) for n in ("one/bias", "two/weight"))
    assert (files / "merged.bin").stat().st_size == (files / "model.bin").stat().st_size


@pytest.mark.parametrize(("name", "rows"), [("three", 3), ("one", 4)])
def test_what_does_not_fit_is_refused(files, name, rows):
    """An array that the model lacks, or one of another shape, is an error that names the adapter."""
    adapter_file(files / "taught.npz", name, np.ones((rows, 1)), np.ones((1, 2)))
    with pytest.raises(InputError, match=r"does not fit the speech model") as error:
        merge(files / "model.bin", files / "merged.bin", adapter=files / "taught.npz")
    assert "taught.npz" in str(error.value)


def test_damaged_file_is_refused(tmp_path):
    """A file that is no archive of arrays is told in one line."""
    (tmp_path / "taught.npz").write_bytes(b"no archive")
    with pytest.raises(InputError, match="cannot be read"):
        deltas(tmp_path / "taught.npz")


def test_shipped_file_is_small():
    """The shipped adapter stays under 12 MB, and is there."""
    assert 1e6 < ADAPTER.stat().st_size < 12e6 and fingerprint()


def test_taught_model_has_weights_of_its_own():
    """The shipped model with and without what it was taught lie in two folders with two names of weights."""
    taught, plain = model_folder(SpeechSettings()), model_folder(SpeechSettings(plain=True))
    assert taught.folder != plain.folder and taught.weights != plain.weights
    sizes = {(m.folder / "model.bin").stat().st_size for m in (taught, plain)}
    assert len(sizes) == 1


def test_hint_is_for_models_that_were_not_taught():
    """The taught model gets no hint; the plain one and every other model get the lexicon's; a given one is kept."""
    assert _with_hint(SpeechSettings()).hotwords == ""
    assert _with_hint(SpeechSettings(plain=True)).hotwords == _with_hint(SpeechSettings(model="x")).hotwords != ""
    assert _with_hint(SpeechSettings(hotwords="cornea")).hotwords == "cornea"
