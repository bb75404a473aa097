"""Which files are of one exam, by their names or their times."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bulk_cases import BELLA, REX, converted, folder_of, table

from dictate.bulk.joining import Part, groups, part_of, time_in
from dictate.bulk.values import Found

WORDS = ("part", "pt")


def found(name: str, changed: float | None = None) -> Found:
    return Found(name, name, 1, "1", changed)


def joined(*files: tuple[Found, float | None]) -> list[list[str]]:
    return [[f.name for f in group] for group in groups(files, WORDS)]


@pytest.mark.parametrize(
    ("name", "part"),
    [
        ("rex part 1.m4a", Part("rex", 1)),
        ("Rex (pt 2).ogg", Part("rex", 2)),
        ("rex_part_03.wav", Part("rex", 3)),
        ("rex 2 of 3.mp3", Part("rex", 2)),
        ("rex part 2 of 3.mp3", Part("rex", 2)),
        ("rex 2.mp3", None),
        ("exam_001.wav", None),
        ("sparta 1.wav", None),
    ],
)
def test_names_that_say_which_part_they_are(name: str, part: Part | None) -> None:
    """A bare number says nothing: most recorders count their recordings so."""
    assert part_of(name, WORDS) == part


def test_parts_are_joined_in_their_order() -> None:
    """Ten comes after two, and a name without a part is the first of the others."""
    files = [(found(f"{n}.ogg"), None) for n in ("bo", "rex", "rex part 10", "rex part 2")]
    assert joined(*files) == [["bo.ogg"], ["rex.ogg", "rex part 2.ogg", "rex part 10.ogg"]]


def test_two_recordings_of_one_number_are_not_joined() -> None:
    """Where names contradict each other, every file stays by itself."""
    files = [(found(n), None) for n in ("rex part 1.ogg", "rex part 1.wav")]
    assert joined(*files) == [["rex part 1.ogg"], ["rex part 1.wav"]]


def test_recordings_that_follow_at_once_are_joined() -> None:
    """The times stand in the names: the second begins where the first one ends, the third a minute later."""
    names = ("20260504_103000.wav", "20260504_104000.wav", "20260504_105100.wav")
    assert joined(*[(found(n), 600.0) for n in names]) == [[names[0], names[1]], [names[2]]]


def test_times_of_the_files_tell_where_names_do_not() -> None:
    """A file was last written when its recording ended; copies all written at once are not joined."""
    first, second = found("R001.wav", 1000.0), found("R002.wav", 1601.0)
    assert joined((first, 600.0), (second, 600.0)) == [["R001.wav", "R002.wav"]]
    assert joined((first, 600.0), (found("R002.wav", 1000.5), 600.0)) == [["R001.wav"], ["R002.wav"]]
    assert joined((first, 600.0), (found("Anna.wav", 1601.0), 600.0)) == [["R001.wav"], ["Anna.wav"]]
    assert joined((first, None), (second, None)) == [["R001.wav"], ["R002.wav"]]


def test_a_time_that_is_none_is_no_time() -> None:
    """Digits that make no date are left alone."""
    assert time_in("20269904_103000.wav") is None
    assert time_in("2026-05-04 10.30.12.m4a") == pytest.approx(time_in("20260504_103011.wav") or 0, abs=1.01)


def test_joined_files_give_one_draft_that_names_them_all(tmp_path: Path) -> None:
    """The table has one line for them; the record says where each begins."""
    folder = folder_of(tmp_path / "in", {"rex part 1.ogg": BELLA, "rex part 2.ogg": "Coat is fine."})
    converted(folder, tmp_path / "out", parts=WORDS)
    (row,) = table(tmp_path / "out")
    assert row["file"] == "rex part 1.ogg + rex part 2.ogg"
    record = json.loads((tmp_path / "out" / "rex.record.json").read_text(encoding="utf-8"))
    assert record["source"]["name"] == "rex part 1.ogg + rex part 2.ogg"
    assert [n.partition(" begins")[0] for n in record["source"]["notes"]] == ["rex part 1.ogg", "rex part 2.ogg"]


def test_a_part_that_comes_later_is_joined_then(tmp_path: Path) -> None:
    """The draft of the first part alone gives way to that of both; nothing else is done again."""
    folder = folder_of(tmp_path / "in", {"rex part 1.ogg": BELLA, "bo.ogg": REX})
    out = tmp_path / "out"
    converted(folder, out, parts=WORDS)
    folder_of(folder, {"rex part 2.ogg": "Coat is fine."})
    _, engine = converted(folder, out, parts=WORDS)
    assert engine.worked == ["rex"]
    assert sorted(p.name for p in out.glob("*.record.json")) == ["bo.record.json", "rex.record.json"]
    assert converted(folder, out, parts=WORDS)[1].worked == []
