"""The second reader: what a caller may rely on, and a few plain readings by the model that comes with the package."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from dictate.errors import InputError
from dictate.language.second_reader import FLOOR, SecondReader, SiteReading, StretchReading, load
from dictate.language.second_reader.model_files import FOLDER, LABELS

PLAIN = (
    "Bella, seven year old spayed Labrador. Weight twenty-eight point four kilos. Left ear canal is red with a bit of "
    "brown wax, right ear is clean. Heart regular, no murmur. I couldn't get a look at the tonsils. We'll take blood "
    "next week."
)
BARE = "".join(c for c in PLAIN.lower() if c not in ".,")


@pytest.fixture(scope="module")
def reader() -> SecondReader:
    """The reader with the model of the package."""
    return load()


def sites_of(readings: tuple[StretchReading, ...]) -> dict[str, SiteReading]:
    """The likeliest reading of every site in a talk."""
    best: dict[str, SiteReading] = {}
    for r in readings:
        for s in r.sites:
            if s.site not in best or s.probability > best[s.site].probability:
                best[s.site] = s
    return best


@pytest.mark.parametrize("text", [PLAIN, BARE, "ok", "  two   words  ", "...", "ça va? \u2014 \u65e5\u672c"])
def test_stretches_hold_every_word_once(reader: SecondReader, text: str) -> None:
    """The stretches stand in order, do not overlap, quote the text and leave out only white space."""
    at = 0
    for r in reader.read(text):
        assert r.char_start >= at
        assert not text[at : r.char_start].strip()
        assert r.text == text[r.char_start : r.char_end]
        at = r.char_end
    assert not text[at:].strip()


@pytest.mark.parametrize("text", ["", "   ", "\n\t"])
def test_nothing_to_read_gives_nothing(reader: SecondReader, text: str) -> None:
    """A text without words has no stretches."""
    assert reader.read(text) == ()


def test_given_cuts_are_kept(reader: SecondReader) -> None:
    """Stretches begin at the first word and at the start of the word each given position lies in or before."""
    cuts = [PLAIN.index("Weight"), PLAIN.index("right ear") + 2, PLAIN.index(" I couldn't"), len(PLAIN)]
    starts = [r.char_start for r in reader.read(PLAIN, cuts=cuts)]
    assert starts == [0, PLAIN.index("Weight"), PLAIN.index("right ear"), PLAIN.index("I couldn't")]


def test_values_are_probabilities_above_the_floor(reader: SecondReader) -> None:
    """Roles, sites, sides, hedges and outcomes are probabilities; sites and outcomes below the floor are left out."""
    for r in reader.read(PLAIN):
        assert all(0 <= p <= 1 for p in [*r.roles.values(), r.taken_back])
        for s in r.sites:
            assert FLOOR <= s.probability <= 1
            assert 0 <= s.hedged <= 1
            assert set(s.sides) == {"left", "right", "both", "none"}
            assert sum(s.sides.values()) == pytest.approx(1, abs=1e-4)
            assert all(FLOOR <= o.probability <= 1 for o in s.outcomes)
            assert [o.probability for o in s.outcomes] == sorted((o.probability for o in s.outcomes), reverse=True)


@pytest.mark.parametrize("text", [PLAIN, BARE])
def test_plain_talk_is_read(reader: SecondReader, text: str) -> None:
    """Sites, a measured value, a side, an absence and what could not be examined are read, with stops and without."""
    best = sites_of(reader.read(text))
    assert best["weight"].outcomes[0].measured
    assert max(best["ear canal"].sides, key=best["ear canal"].sides.__getitem__) in ("left", "right")
    absent = [o for r in reader.read(text) for s in r.sites if s.site == "heart" for o in s.outcomes if not o.present]
    assert any(o.finding == "murmur" and o.status == "normal" and o.probability > 0.5 for o in absent)
    assert best["tonsil"].outcomes[0].status == "not_examined"


def test_plans_are_no_facts(reader: SecondReader) -> None:
    """What is to be done later reads as plan rather than as a fact."""
    last = next(r for r in reader.read(PLAIN) if "blood next week" in r.text)
    assert last.roles["plan"] > 0.5 > last.roles["fact"]


def test_the_same_text_reads_the_same(reader: SecondReader) -> None:
    """Reading is repeatable to the last digit."""
    assert reader.read(PLAIN) == reader.read(PLAIN)


def test_a_talk_longer_than_a_window_is_read_to_its_end(reader: SecondReader) -> None:
    """Hours of talk are read in windows; a statement far behind the first window is found where it stands."""
    text = "He is such a good boy, and we all know it. " * 150 + "The liver is enlarged."
    last = reader.read(text)[-1]
    assert last.text.endswith("The liver is enlarged.")
    assert last.sites[0].site == "liver"
    assert any(o.finding == "enlarged" and o.present for o in last.sites[0].outcomes)


def test_a_run_of_signs_is_no_trouble(reader: SecondReader) -> None:
    """One word of thousands of signs is read, shortened inside."""
    text = "heart " + "!" * 5000 + " fine"
    assert reader.read(text)[-1].char_end == len(text)


def test_missing_files_are_named(tmp_path: Path) -> None:
    """A folder without the model's files gives one line that names the folder and what is missing."""
    with pytest.raises(InputError, match=r"encoder\.onnx") as e:
        load(tmp_path)
    assert str(tmp_path) in str(e.value)
    assert "\n" not in str(e.value)


def test_a_broken_label_file_is_named(tmp_path: Path) -> None:
    """A label file that is not what it should be gives one line that names the file."""
    for path in FOLDER.iterdir():
        shutil.copy(path, tmp_path / path.name)
    (tmp_path / LABELS).write_text("{}")
    with pytest.raises(InputError, match=LABELS):
        load(tmp_path)
