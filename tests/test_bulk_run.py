"""A conversion as a whole, with cheap steps: what is done once, what is done again, what is set aside."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from bulk_cases import BELLA, ORDERS, REX, Inline, content, converted, folder_of, table

from dictate.bulk.journal import Journal
from dictate.bulk.places import walk
from dictate.bulk.run import check_places
from dictate.errors import InputError


def test_every_recording_gives_one_draft_whatever_it_is_called(tmp_path: Path) -> None:
    """Files of the same bytes are drafted once, the table names the others; what is no sound file is passed over."""
    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA, "sub/b.wav": BELLA, "c.mp4": REX, "notes.doc": "x"})
    run, _ = converted(folder, tmp_path / "out")
    rows = {row["file"]: row["status"] for row in table(tmp_path / "out")}
    assert rows == {"a.ogg": "drafted", "c.mp4": "drafted", "sub/b.wav": "same as a.ogg"}
    assert sorted(p.name for p in (tmp_path / "out").rglob("*.record.json")) == ["a.record.json", "c.record.json"]
    assert (run.progress.files, run.progress.files_done, run.progress.drafts) == (3, 3, 2)


def test_the_table_says_what_is_in_a_draft(tmp_path: Path) -> None:
    """Patient, minutes, sites, doubts, quality and the draft's place stand in its line."""
    folder = folder_of(tmp_path / "in", {"sub/a.ogg": BELLA})
    converted(folder, tmp_path / "out")
    (row,) = table(tmp_path / "out")
    record = json.loads((tmp_path / "out" / row["draft"]).read_text(encoding="utf-8"))
    assert row["draft"] == "sub/a.record.json"
    assert (row["patient"], row["sites recorded"], row["doubts"]) == ("Bella", "1", "0")
    assert float(row["minutes"]) == pytest.approx(record["sound"]["seconds"] / 60, abs=0.01)
    assert row["sound quality"] == "good"


def test_a_second_run_does_only_what_is_new(tmp_path: Path) -> None:
    """What was drafted or set aside is left; a new file, a changed one, and one whose draft is gone are done."""
    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA, "b.ogg": "bad", "c.ogg": REX, "d.ogg": "Milo. " + BELLA})
    out = tmp_path / "out"
    converted(folder, out)
    assert converted(folder, out)[1].worked == []
    folder_of(folder, {"e.ogg": "Tess. " + BELLA, "c.ogg": "Otto. " + REX})
    (out / "d.record.json").unlink()
    run, engine = converted(folder, out)
    assert sorted(s.partition("-")[0] for s in engine.worked) == ["c", "d", "e"]
    assert run.done_before == 2


def test_a_renamed_recording_is_not_drafted_again(tmp_path: Path) -> None:
    """A file is known by its bytes, not by its name."""
    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA})
    converted(folder, tmp_path / "out")
    (folder / "a.ogg").rename(folder / "z.ogg")
    assert converted(folder, tmp_path / "out")[1].worked == []


def test_a_bad_file_is_set_aside_with_its_reason_and_the_run_goes_on(tmp_path: Path) -> None:
    """One that cannot be heard, and one without a word, stand in the table with the reason."""
    folder = folder_of(tmp_path / "in", {"a.ogg": "bad", "b.ogg": "", "c.ogg": BELLA})
    run, _ = converted(folder, tmp_path / "out")
    rows = {row["file"]: (row["status"], row["reason"]) for row in table(tmp_path / "out")}
    assert rows["a.ogg"] == ("set aside", "no sound")
    assert rows["b.ogg"] == ("set aside", "no speech was heard in it")
    assert rows["c.ogg"][0] == "drafted"
    assert run.progress.set_aside == 2


def test_a_fault_of_the_program_costs_one_file(tmp_path: Path) -> None:
    """Where a step fails in a way that nobody foresaw, that file alone is set aside."""
    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA})
    engine = Inline(replace(ORDERS, reading="bulk_cases:folder_of"))
    converted(folder, tmp_path / "out", engine)
    assert "a fault of the program" in table(tmp_path / "out")[0]["reason"]


def test_a_reviewed_draft_is_kept(tmp_path: Path) -> None:
    """A draft that a person has changed is not written over, even when its journal is lost."""
    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA})
    out = tmp_path / "out"
    converted(folder, out)
    file = out / "a.record.json"
    file.write_text(json.dumps({**json.loads(file.read_text()), "status": "final"}))
    kept = file.read_text()
    (out / ".conversion.sqlite").unlink()
    converted(folder, out)
    assert file.read_text() == kept
    assert "kept as it is" in table(out)[0]["reason"]


def test_two_names_that_collide_do_not_depend_on_the_order_of_work(tmp_path: Path) -> None:
    """x.ogg and x.wav get names of their own, the same in every run."""
    folder = folder_of(tmp_path / "in", {"x.ogg": BELLA, "x.wav": REX})
    converted(folder, tmp_path / "one")
    converted(folder, tmp_path / "two")
    assert content(tmp_path / "one") == content(tmp_path / "two")
    assert {row["draft"][:1] for row in table(tmp_path / "one")} == {"x"}
    assert len({row["draft"] for row in table(tmp_path / "one")}) == 2


def test_a_file_that_changes_while_it_is_heard_is_not_drafted_under_the_old_hash(tmp_path: Path) -> None:
    """A recording that grows between the look and the hearing is set aside now, and drafted by the next run."""
    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA})

    class Growing(Inline):
        def finished(self, seconds: float):  # type: ignore[no-untyped-def]
            (folder / "a.ogg").write_text(BELLA + REX)
            return super().finished(seconds)

    converted(folder, tmp_path / "out", Growing())
    assert "changed while it was read" in table(tmp_path / "out")[0]["reason"]
    converted(folder, tmp_path / "out")
    assert table(tmp_path / "out")[0]["status"] == "drafted"


def test_two_conversions_into_one_folder_are_refused(tmp_path: Path) -> None:
    """The second one is told in one line, and the first goes on."""
    tmp_path.joinpath("out").mkdir()
    first = Journal(tmp_path / "out")
    with pytest.raises(InputError, match="another conversion"):
        Journal(tmp_path / "out")
    first.close()
    Journal(tmp_path / "out").close()


def test_a_damaged_journal_is_told_in_one_line(tmp_path: Path) -> None:
    """The message names the file and the way out."""
    (tmp_path / ".conversion.sqlite").write_bytes(b"no database at all, nothing of the kind" * 40)
    with pytest.raises(InputError, match="move it away"):
        Journal(tmp_path)


def test_the_folder_of_drafts_is_not_searched(tmp_path: Path) -> None:
    """Drafts may lie inside the folder of recordings, and must not be that folder itself."""
    folder = folder_of(tmp_path, {"a.ogg": BELLA, "out/b.ogg": REX, ".hidden/c.ogg": REX})
    assert [f.name for f in walk(str(folder), leave_out=tmp_path / "out")] == ["a.ogg"]
    with pytest.raises(InputError, match="folder of their own"):
        check_places(str(folder), folder)
    with pytest.raises(InputError, match="no such folder"):
        list(walk(str(tmp_path / "nowhere")))


def test_results_that_are_gone_are_made_again_the_same(tmp_path: Path) -> None:
    """After the folder of drafts is lost, a run gives the same drafts."""
    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA, "b.ogg": BELLA + REX})
    converted(folder, tmp_path / "out")
    before = content(tmp_path / "out")
    shutil.rmtree(tmp_path / "out")
    converted(folder, tmp_path / "out")
    assert content(tmp_path / "out") == before


def test_a_draft_with_decisions_beside_it_is_kept(tmp_path: Path) -> None:
    """A review that was begun in the terminal is about this very draft."""
    folder = folder_of(tmp_path / "in", {"a.ogg": BELLA})
    out = tmp_path / "out"
    converted(folder, out)
    before = (out / "a.record.json").read_text()
    (out / "a.review.json").write_text("{}")
    (out / ".conversion.sqlite").unlink()
    converted(folder, out)
    assert (out / "a.record.json").read_text() == before
    assert "kept as it is" in table(out)[0]["reason"]
