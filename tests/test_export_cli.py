"""`dictate export`: files in, files out; what cannot be used is one clear line, and the others go on."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from export_cases import DRAFTED, record, signed

from dictate import store
from dictate.cli import main
from dictate.exam.record import Source, to_json
from dictate.export import KINDS
from dictate.review import Remove, add_decisions, load_review


def written(folder: Path, name: str, text: str) -> str:
    file = folder / f"{name}.record.json"
    file.write_text(text, encoding="utf-8")
    return str(file)


@pytest.mark.parametrize("kind", list(KINDS))
def test_each_form_is_written(kind: str, tmp_path: Path) -> None:
    """Every form is written into the folder, the same bytes at a second run."""
    file = written(tmp_path, "bramble", to_json(record()))
    out = tmp_path / "out"
    assert main(["export", file, "--as", kind, "--out", str(out), "--practice", "Saltmarsh"]) == 0
    (made,) = out.iterdir()
    first = made.read_bytes()
    assert first
    assert made.name.endswith(KINDS[kind].ending)
    assert main(["export", file, "--as", kind, "--out", str(out), "--practice", "Saltmarsh"]) == 0
    assert made.read_bytes() == first


def test_many_records_make_one_table(tmp_path: Path) -> None:
    """Tables take all records into one file; other forms give one file each."""
    files = [written(tmp_path, f"r{n}", to_json(record(id=f"{n}" * 16))) for n in range(3)]
    assert main(["export", *files, "--as", "csv", "--out", str(tmp_path / "csv")]) == 0
    assert [f.name for f in (tmp_path / "csv").iterdir()] == ["records.csv"]
    assert main(["export", *files, "--as", "text", "--out", str(tmp_path / "text")]) == 0
    assert len(list((tmp_path / "text").iterdir())) == 3


def test_a_bad_file_is_told_and_the_others_go_on(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that is no record gives one line and status 1; the good one is written."""
    good, bad = written(tmp_path, "good", to_json(record())), written(tmp_path, "bad", "{}")
    assert main(["export", bad, good, "--as", "text", "--out", str(tmp_path / "out")]) == 1
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 1
    assert "bad.record.json" in lines[0]
    assert len(list((tmp_path / "out").iterdir())) == 1


def test_a_signed_file_is_handed_on_only_as_it_was_signed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that says that it is final is refused without its signature, and after any change to its content."""
    out = str(tmp_path / "out")
    assert main(["export", written(tmp_path, "a", to_json(signed())), "--as", "text", "--out", out]) == 0
    unsigned = signed().model_copy(update={"signature": None})
    assert main(["export", written(tmp_path, "b", to_json(unsigned)), "--as", "text", "--out", out]) == 1
    assert "carries no signature" in capsys.readouterr().err
    changed = json.loads(to_json(signed()))
    changed["observations"][0]["value"]["number"] = 9.6
    assert main(["export", written(tmp_path, "c", json.dumps(changed)), "--as", "text", "--out", out]) == 1
    assert "is not what was signed" in capsys.readouterr().err
    assert len(list((tmp_path / "out").iterdir())) == 1


def test_two_records_of_one_name_are_not_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where two given records would have one file's name, the second is told and not written over the first."""
    files = [written(tmp_path, name, to_json(record())) for name in ("one", "two")]
    assert main(["export", *files, "--as", "text", "--out", str(tmp_path / "out")]) == 1
    assert "only the first is written" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["x.record.json", "--as", "fax"], "there is no such form; the forms are text, html"),
        (["--as", "pdf"], "name record files, or a store"),
        (["x.record.json", "--store", "y", "--as", "pdf"], "name record files, or a store"),
        (["x.record.json", "--as", "pdf", "--visit", "3"], "choose from a store"),
        (["--store", "nowhere", "--as", "pdf"], "nowhere"),
    ],
)
def test_wrong_usage_is_one_clear_line(
    options: list[str], told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What cannot be done is said in one line, with the way out, and nothing is written."""
    assert main(["export", *options, "--out", str(tmp_path / "out")]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert told in line


def test_visits_of_a_store_are_handed_on(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Visits are chosen by number or by day; one that is not there is told, and the others go on."""
    place, out = tmp_path / "store", tmp_path / "out"
    with store.make_store(place) as kept:
        numbers = [store.add_draft(kept, record(id=f"{n}" * 16, source=source(n))).visit.id for n in range(2)]
    given = ["export", "--store", str(place), "--out", str(out)]
    assert main([*given, "--as", "csv"]) == 0
    rows = list(csv.DictReader(io.StringIO((out / "records.csv").read_text(encoding="utf-8-sig"), newline="")))
    assert {row["record"] for row in rows} == {"0" * 16, "1" * 16}
    assert main([*given, "--as", "text", "--visit", "999", "--visit", str(numbers[0])]) == 1
    assert "999" in capsys.readouterr().err
    assert [f.name for f in out.glob("*.txt")] == ["Bramble-2026-05-04-00000000-draft.record.txt"]
    assert main([*given, "--as", "pdf", "--since", "2026-05-05"]) == 0
    assert not list(out.glob("*.pdf"))


def test_a_review_beside_the_file_is_part_of_the_record(tmp_path: Path) -> None:
    """Decisions of a review that lies beside a draft are applied before it is handed on."""
    file = Path(written(tmp_path, "bramble", to_json(record())))
    add_decisions(load_review(file), [Remove(by="Ben Aro", time=DRAFTED, observations=("heart-0",))])
    assert main(["export", str(file), "--as", "text", "--out", str(tmp_path / "out")]) == 0
    (made,) = (tmp_path / "out").iterdir()
    assert "murmur" not in made.read_text(encoding="utf-8")


def source(number: int) -> Source:
    return Source(name=f"exam{number}.ogg", kind="sound", sha256=f"{number}" * 64)
