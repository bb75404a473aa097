"""`dictate store` and `dictate verify` as a user meets them."""

from __future__ import annotations

import io
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest
from store_cases import PASSWORD, draft, sound_file

from dictate.cli import main
from dictate.cli.store import PARTS
from dictate.cli.store_arguments import PLACE
from dictate.exam.record import to_json


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(PLACE, str(tmp_path / "store"))
    monkeypatch.setenv("DICTATE_CACHE", str(tmp_path / "cache"))
    return tmp_path


def typed(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def written(folder: Path, sound: bytes = b"sound one") -> Path:
    file = folder / "bramble.record.json"
    file.write_text(to_json(draft(sound)))
    (folder / "bramble.ogg").write_bytes(sound)
    return file


def test_a_practice_sets_itself_up_and_finds_its_drafts(
    place: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Store, people, day list, drafts with sound, patient, consent, search, backup, restore and verify, in turn."""

    def run(*arguments: object, say: tuple[str, ...] = ()) -> str:
        typed(monkeypatch, *say)
        assert main([str(a) for a in arguments]) == 0
        return capsys.readouterr().out

    run("store", "make")
    assert "administrator" in run(
        "store", "add-person", "Dr Reed", "--roles", "signer", "--title", "DVM", say=(PASSWORD,)
    )
    run("store", "add-person", "Tern", "--roles", "reviewer", "--as", "Dr Reed", say=(PASSWORD, PASSWORD))
    run("store", "set-pin", "--as", "Dr Reed", say=(PASSWORD, "274951"))
    assert "Tern: reviewer" in run("store", "people")
    (place / "day.csv").write_text(
        "date,time,patient,number\n2026-05-04,9:00,Bramble,1042\n2026-05-04,9:30,Sorrel,1043\n"
    )
    assert "2 visits new" in run("store", "import-day-list", place / "day.csv")
    run("store", "import", written(place))
    assert "2 doubts" not in (waiting := run("store", "waiting")) and "1 doubts" in waiting
    assert "Bramble (1042)" in run("store", "join-planned", 3, 1, "--as", "Tern", say=(PASSWORD,))
    moved = run("store", "move-visit", 3, "1043", "--why", "mixed up", "--as", "Dr Reed", say=(PASSWORD, "274951"))
    assert "Sorrel (1043)" in moved
    assert "visit moved (mixed up)" in run("store", "visit", 3)
    assert run("store", "search", "--patient", "sorr").count("\n") == 2
    assert "all as it was written" in run("verify", "--sound", "--head", run("store", "head").strip())
    run("store", "backup", place / "backups")
    (manifest,) = (place / "backups").glob("*.json")
    assert "can be restored" in run("store", "drill", manifest)
    assert "restored" in run("store", "restore", manifest, "--store", place / "again")
    run("store", "consent", 3, "refused", "--as", "Tern", say=(PASSWORD,))
    assert "erased" in run("store", "visit", 3)
    assert "0 recordings" in run("verify", "--sound")
    run("store", "retention", "--days", 30, "--as", "Dr Reed", say=(PASSWORD,))
    assert "30 days" in run("store", "retention", "--apply")


def test_a_changed_row_is_named_and_tells_by_the_exit_status(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`dictate verify` prints the row that was changed and ends with status 1."""
    main(["store", "make"])
    main(["store", "add-patient", "Bramble", "--number", "1042", "--species", "dog", "--born", "2019-03-01"])
    with closing(sqlite3.connect(place / "store" / "store.db")) as connection:
        connection.execute("DROP TRIGGER patient_states_no_update")
        connection.execute("UPDATE patient_states SET owner = 'somebody else'")
        connection.commit()
    capsys.readouterr()
    assert main(["verify"]) == 1
    told = capsys.readouterr().out
    assert "patient_states row 1 (patient 1): changed after it was written" in told
    assert "trigger patient_states_no_update: missing" in told


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["verify", "--head", "12:nothing"], "no head of a chain"),
        (["store", "visit", "99"], "99: there is no visit of this number"),
        (["store", "visits", "nobody"], "nobody: there is no such patient"),
        (["store", "day", "tomorrow"], "no date"),
        (["store", "import", "nowhere.record.json"], "nowhere.record.json: cannot be read"),
        (["store", "import-day-list", "nowhere.csv"], "nowhere.csv: there is no such file"),
        (["store", "set-pin"], "say whose PIN it is"),
        (["store", "retention", "--days", "3"], "say who does this: --as NAME"),
        (["store", "restore", "nowhere.json", "--store", "again"], "nowhere.json: the backup cannot be read"),
        (["store", "backup", "backups", "--keep", "0"], "--keep: must be 1 or more"),
        (["store", "make"], "there is a store already"),
        (["store", "head", "--store", "elsewhere"], "elsewhere: there is no store here"),
        (["store", "change-person", "Knot", "--as", "Knot"], "Knot: there is no account of this name"),
        (["store", "add-patient", "Bramble", "--neutered", "maybe"], "--neutered: 'maybe' is neither yes nor no"),
    ],
)
def test_what_cannot_be_done_is_one_clear_line(
    place: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    message: str,
) -> None:
    """Each mistake gives one line that says what and where, status 1, and no traceback."""
    monkeypatch.chdir(place)
    main(["store", "make"])
    capsys.readouterr()
    typed(monkeypatch)
    assert main(arguments) == 1
    told = capsys.readouterr().err.strip()
    assert message in told and told.startswith("dictate: ") and "\n" not in told


def test_without_a_store_named_it_says_how_to_name_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Neither --store nor the environment: the line says both ways."""
    monkeypatch.delenv(PLACE, raising=False)
    assert main(["verify"]) == 1
    assert f"--store, or set {PLACE}" in capsys.readouterr().err


def test_drafts_come_in_again_after_an_interruption(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Importing the same files again brings nothing in twice, and a bad file does not stop the others."""
    main(["store", "make"])
    (place / "bad.record.json").write_text("{}")
    files = [str(place / "bad.record.json"), str(written(place))]
    assert main(["store", "import", *files]) == 1
    assert main(["store", "import", *files]) == 1
    told = capsys.readouterr().err
    assert told.count("is no drafted record") == 2 and told.count("visit 1") == 2 and "was there already" in told
    assert sound_file(place).read_bytes() == next((place / "store" / "sound").glob("??/*")).read_bytes()


def test_every_part_has_a_function(capsys: pytest.CaptureFixture[str]) -> None:
    """Each part that `dictate store --help` names can be run, and no other can."""
    with pytest.raises(SystemExit):
        main(["store", "--help"])
    told = capsys.readouterr().out
    named = {line.split()[0] for line in told.splitlines() if line.startswith("    ") and line.split()[0].islower()}
    assert named >= set(PARTS)
    for part in PARTS:
        with pytest.raises(SystemExit) as ended:
            main(["store", part, "--help"])
        assert ended.value.code == 0
