"""Where drafts are written, and that nothing is ever written over another's draft or a reviewed one."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from exam_cases import LEXICON, recorded, said, written

from dictate.cli.draft import source_hash, write_draft
from dictate.errors import InputError
from dictate.exam.record import Record, from_json, is_untouched
from dictate.exam.statements import Reading
from dictate.files import find_place, write
from dictate.speech.words import Transcript

TEXT = "Both eyes clear."


def record_of(source: str = "0" * 64) -> Record:
    transcript = Transcript((), TEXT, source)
    return recorded(Reading(statements=(said(TEXT, TEXT, "eye", "both"),)), transcript)


def test_a_draft_is_a_record_and_a_page(tmp_path: Path) -> None:
    """NAME.record.json reads back as the record, NAME.record.txt is its page, and no other file is left."""
    assert write_draft(record_of(), LEXICON, folder=tmp_path, stem="rex") == ""
    assert sorted(p.name for p in tmp_path.iterdir()) == ["rex.record.json", "rex.record.txt"]
    assert from_json((tmp_path / "rex.record.json").read_text()) == record_of()
    assert "eye, both" in (tmp_path / "rex.record.txt").read_text()


def test_the_same_source_is_drafted_anew(tmp_path: Path) -> None:
    """Drafting the same source again replaces its own untouched draft and adds no file."""
    for _ in range(2):
        assert write_draft(record_of(), LEXICON, folder=tmp_path, stem="rex") == ""
    assert len(list(tmp_path.iterdir())) == 2


def test_another_source_of_the_same_name_gets_a_suffix(tmp_path: Path) -> None:
    """Two sources of one name have two drafts, in whatever order they come back."""
    write_draft(record_of("a" * 64), LEXICON, folder=tmp_path, stem="rex")
    note = write_draft(record_of("b" * 64), LEXICON, folder=tmp_path, stem="rex")
    assert "rex-bbbbbbbb.record.json" in note
    write_draft(record_of("b" * 64), LEXICON, folder=tmp_path, stem="rex")
    write_draft(record_of("a" * 64), LEXICON, folder=tmp_path, stem="rex")
    sources = {p.name: source_hash(json.loads(p.read_text())) for p in tmp_path.glob("*.json")}
    assert sources == {"rex.record.json": "a" * 64, "rex-bbbbbbbb.record.json": "b" * 64}


@pytest.mark.parametrize(
    "change",
    [{"status": "final"}, {"review": [{"by": "A", "time": "2026-05-04T10:30:00Z", "what": "x"}]}, {"form": "x"}],
)
def test_a_reviewed_draft_is_kept(tmp_path: Path, change: dict[str, object]) -> None:
    """A record that a person has made final, marked, or edited is never written over, nor is its page."""
    write_draft(record_of(), LEXICON, folder=tmp_path, stem="rex")
    file = tmp_path / "rex.record.json"
    reviewed = json.dumps({**json.loads(file.read_text()), **change})
    file.write_text(reviewed)
    (tmp_path / "rex.record.txt").write_text("my own words")
    assert "is kept" in write_draft(record_of(), LEXICON, folder=tmp_path, stem="rex")
    assert file.read_text() == reviewed
    assert (tmp_path / "rex.record.txt").read_text() == "my own words"


def test_a_file_that_is_no_draft_of_ours_is_left_alone(tmp_path: Path) -> None:
    """A file of that name that is no record at all is not written over."""
    (tmp_path / "rex.record.json").write_text("notes, not JSON")
    assert "rex-00000000" in write_draft(record_of(), LEXICON, folder=tmp_path, stem="rex")
    assert (tmp_path / "rex.record.json").read_text() == "notes, not JSON"


def test_when_both_names_are_taken_nothing_is_written(tmp_path: Path) -> None:
    """Where the name and the name with the hash are both taken, one clear line says so."""
    for name in ("rex", "rex-00000000"):
        (tmp_path / f"{name}.record.json").write_text("mine")
    with pytest.raises(InputError, match="taken by other files"):
        write_draft(record_of(), LEXICON, folder=tmp_path, stem="rex")
    assert {p.read_text() for p in tmp_path.iterdir()} == {"mine"}


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_failed_write_leaves_the_old_file_whole(tmp_path: Path, call: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk fails at any point, the old content stands, no half file is left, and one line says so."""
    file = tmp_path / "rex.record.json"
    write(file, "old")

    def fail(*args: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, call, fail)
    with pytest.raises(InputError, match="No space left"):
        write(file, "new")
    assert [p.name for p in tmp_path.iterdir()] == ["rex.record.json"]
    assert file.read_text() == "old"


def test_place_tells_kept_from_free(tmp_path: Path) -> None:
    """An untouched draft of the same source may be replaced, and the place says nothing then."""
    write_draft(record_of(), LEXICON, folder=tmp_path, stem="rex")
    place = find_place(tmp_path, "rex", "0" * 64, ending=".record.json", hash_of=source_hash, may_replace=is_untouched)
    assert (place.name, place.kept, place.note) == ("rex", False, "")


def test_a_page_is_drafted_from_written_words() -> None:
    """The record of a text names the text as its source and has no sound."""
    assert record_of().sound is None
    assert recorded(Reading(), written(TEXT)).source.kind == "text"
