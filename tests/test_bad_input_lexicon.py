"""Lexicon tables: faults are named by file and row, and a practice's own tables are laid over the shipped ones."""

from __future__ import annotations

from pathlib import Path

import pytest

from dictate.cli import main
from dictate.errors import InputError
from dictate.lexicon import load
from dictate.lexicon.loader import SHIPPED, table_classes

SITE_WORDS = "words,site,side,number,note\n"
FINDING_WORDS = "words,finding,site,present,qualifiers,note\n"
FINDINGS = "finding,where,home,note,source\n"
SHIPPED_TABLES = {
    "sites.csv": "site,region,paired,applies_to,note,source\n"
    "elbow,forelimbs,yes,,,invented\nheart,chest,no,,,invented\n",
    "findings.csv": "finding,where,home,note,source\nthickening,any,,,invented\nmurmur,chest,heart,,invented\n",
    "site_words.csv": SITE_WORDS + "elbow,elbow,,,\nticker,heart,,,\n",
    "finding_words.csv": FINDING_WORDS + "thick,thickening,,,,\nbig murmur,murmur,heart,,severity=severe,\n",
}


def shipped(folder: Path, **changed: str) -> Path:
    folder.mkdir(exist_ok=True)
    for name, text in {**SHIPPED_TABLES, **{f"{key}.csv": value for key, value in changed.items()}}.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def fault(folder: Path, **changed: str) -> str:
    with pytest.raises(InputError) as raised:
        load(shipped=shipped(folder, **changed))
    return str(raised.value)


def test_every_shipped_table_is_declared_and_there() -> None:
    """Each table of the lexicon has its file, and each file its table; all load without a fault."""
    assert {p.stem for p in SHIPPED.glob("*.csv")} == set(table_classes())
    lexicon = load()
    assert [name for name in table_classes() if not getattr(lexicon, name)] == []


def test_cells_become_values(tmp_path: Path) -> None:
    """yes/no, lists and key=value cells are read as such; a blank optional cell is None."""
    lexicon = load(shipped=shipped(tmp_path))
    assert [s.paired for s in lexicon.sites] == [True, False]
    assert [f.home for f in lexicon.findings] == [None, "heart"]
    assert dict(lexicon.finding_words[1].qualifiers) == {"severity": "severe"}


@pytest.mark.parametrize(
    ("table", "text", "told"),
    [
        ("site_words", "words,site,side,number\nelbow,elbow,,\n", ["column note is missing"]),
        ("site_words", "words,site,side,number,note,colour\nelbow,elbow,,,,\n", ["unknown column colour"]),
        ("site_words", SITE_WORDS + "elbow,elbow,,,\nknee,knee,,,\n", ["row 3", "unknown site 'knee'"]),
        ("site_words", SITE_WORDS + "elbow,elbow,,,\nElbow,elbow,,,\n", ["row 3", "stands already in row 2"]),
        ("site_words", SITE_WORDS + "elbow,elbow,up,,\n", ["row 2", "'up' is none of left, right, both"]),
        ("site_words", SITE_WORDS + "elbow,elbow\n", ["row 2", "2 cells where the header has 5"]),
        ("site_words", SITE_WORDS + ",elbow,,,\n", ["row 2", "must not be empty"]),
        ("site_words", "", ["the table is empty"]),
        ("finding_words", FINDING_WORDS + "sore,soreness,,,,\n", ["unknown finding 'soreness'"]),
        ("finding_words", FINDING_WORDS + "x,murmur,,maybe,,\n", ["row 2", "'maybe'"]),
        ("finding_words", FINDING_WORDS + "x,murmur,,,loud,\n", ["row 2", "key=value"]),
        ("findings", FINDINGS + "murmur,chest,heart,,\n", ["row 2", "column source", "'from memory'"]),
        ("findings", FINDINGS + "murmur,chest,hart,,invented\n", ["findings.csv", "unknown site 'hart'"]),
    ],
)  # fmt: skip
def test_faults_name_file_and_row(tmp_path: Path, table: str, text: str, told: list[str]) -> None:
    """Every fault of a table is one line that names the file, the row where there is one, and what is wrong."""
    line = fault(tmp_path, **{table: text})
    assert f"{table}.csv" in line
    assert "\n" not in line
    for part in told:
        assert part in line


def test_table_that_is_not_utf8_is_told(tmp_path: Path) -> None:
    """A table saved in an old encoding is refused with what to do."""
    folder = shipped(tmp_path / "shipped")
    (folder / "site_words.csv").write_bytes((SITE_WORDS + "élbow,elbow,,,\n").encode("latin-1"))
    with pytest.raises(InputError, match="save it as UTF-8"):
        load(shipped=folder)


def test_own_tables_are_laid_over(tmp_path: Path) -> None:
    """A practice's own rows are added; one with the key of a shipped row takes its place; other tables stay."""
    own = tmp_path / "own"
    own.mkdir()
    (own / "site_words.csv").write_text(SITE_WORDS + "Ticker,elbow,,,\nlubdub,heart,,,\n")
    base = load(shipped=shipped(tmp_path / "shipped"))
    lexicon = load(own, shipped=tmp_path / "shipped")
    assert [(r.words, r.site) for r in lexicon.site_words] == [
        ("elbow", "elbow"),
        ("Ticker", "elbow"),
        ("lubdub", "heart"),
    ]
    assert lexicon.findings == base.findings
    assert lexicon.rule_set != base.rule_set


def test_own_site_may_be_used_by_own_words(tmp_path: Path) -> None:
    """A site added by a practice can be named in its other tables."""
    own = tmp_path / "own"
    own.mkdir()
    (own / "sites.csv").write_text("site,region,paired,applies_to,note,source\nwing,forelimbs,yes,,,our practice\n")
    (own / "site_words.csv").write_text(SITE_WORDS + "wing,wing,,,\n")
    assert "wing" in {r.site for r in load(own, shipped=shipped(tmp_path / "shipped")).site_words}


def test_wrong_folder_of_own_tables_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that is not there, holds no table, or a table of an unknown name is told in one line, status 1."""
    (tmp_path / "empty").mkdir()
    (tmp_path / "odd").mkdir()
    (tmp_path / "odd" / "sitewords.csv").write_text("words\n")
    for folder, told in (("gone", "no such folder"), ("empty", "no lexicon table"), ("odd", "no table has this name")):
        assert main(["lexicon", "--lexicon", str(tmp_path / folder)]) == 1
        (line,) = capsys.readouterr().err.splitlines()
        assert told in line
