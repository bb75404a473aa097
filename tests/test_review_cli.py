"""`dictate review --terminal` and `dictate compare` as commands."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from review_cases import READING, by_key, drafted, seen

from dictate.cli import main
from dictate.cli.draft import write_draft
from dictate.exam.record import Encounter, Measured, Patient, Record, to_json
from dictate.lexicon import load
from dictate.review import load_review
from dictate.review.files import add_decisions


def put(folder: Path, name: str, record: Record) -> Path:
    file = folder / f"{name}.record.json"
    file.write_text(to_json(record), encoding="utf-8")
    return file


def visit(year: int, weight: float, **parts: Any) -> Record:
    return drafted(
        seen(f"w{year}", "weight", value=Measured(number=weight, unit="kg")),
        seen(f"s{year}", "skin", "no pain", status="abnormal", finding="mass", doubts=(READING,)),
        encounter=Encounter(time=datetime(year, 5, 4, tzinfo=UTC)),
        **parts,
    )


def test_compare_shows_what_changed_after_the_decisions(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Records are compared as they stand with the decisions beside them, oldest first whatever their order."""
    old, new = put(tmp_path, "b", visit(2025, 24)), put(tmp_path, "a", visit(2026, 26))
    review = load_review(new)
    add_decisions(review, [by_key(review.draft, "n")])
    assert main(["compare", str(new), str(old)]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("VISIT OF 2026-05-04 BESIDE 1 EARLIER")
    assert "NOT TOLD (1)" in printed and "2025-05-04 24 kg, 2026-05-04 26 kg" in printed


@pytest.mark.parametrize(
    ("command", "told"),
    [
        (["compare", "Moss"], "name the store (--store)"),
        (["review", "--terminal"], "name the drafted records"),
        (["review", "--terminal", "exam.record.json"], "needs a terminal"),
    ],
)
def test_what_cannot_be_done_is_one_line(command: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A command that lacks something says in one line what, and ends with status 1."""
    assert main(command) == 1
    error = capsys.readouterr().err
    assert told in error and error.count("\n") == 1


def test_different_patients_are_not_compared(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Records that tell different names are no visits of one patient."""
    files = [put(tmp_path, n, visit(2026, 26, patient=Patient(name=n))) for n in ("Moss", "Fern")]
    assert main(["compare", *map(str, files)]) == 1
    assert "different patients (fern, moss)" in capsys.readouterr().err


def test_draft_under_review_is_not_drafted_over(tmp_path: Path) -> None:
    """Drafting the same source again keeps a draft beside which decisions lie."""
    lexicon = load()
    draft = drafted(seen("a", "skin", doubts=(READING,)))
    assert write_draft(draft, lexicon, folder=tmp_path, stem="exam") == ""
    file = tmp_path / "exam.record.json"
    stood = file.read_text()
    add_decisions(load_review(file), [by_key(draft, "1")])
    assert "kept as it is" in write_draft(drafted(), lexicon, folder=tmp_path, stem="exam")
    assert file.read_text() == stood and load_review(file).decisions
