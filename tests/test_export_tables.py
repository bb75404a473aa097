"""Tables of many records: CSV and Parquet hold the same rows, one an observation."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime

import pyarrow.parquet as pq
from export_cases import DRAFTED, OBSERVATIONS, SIGNED, STANDING, lexicon, record, signed

from dictate.export import Standing, make_table
from dictate.export.table import COLUMNS

MANY = [(record(), STANDING), (signed(id="feed" * 4), STANDING), (record((), id="dead" * 4), Standing())]


def csv_rows() -> list[dict[str, str]]:
    text = make_table("csv", MANY, lexicon()).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def parquet_rows() -> list[dict[str, object]]:
    return pq.read_table(io.BytesIO(make_table("parquet", MANY, lexicon()))).to_pylist()


def test_one_row_an_observation() -> None:
    """Each observation is a row; a record without any is one row, so that it is not lost."""
    assert len(csv_rows()) == len(parquet_rows()) == 2 * len(OBSERVATIONS) + 1
    assert [row["record"] for row in csv_rows()][-1] == "dead" * 4


def test_both_tables_hold_the_same() -> None:
    """Every cell of the CSV is the cell of the Parquet file, written down."""
    for written, typed in zip(csv_rows(), parquet_rows(), strict=True):
        assert list(written) == list(typed) == list(COLUMNS)
        for name, cell in written.items():
            value = typed[name]
            if value is None:
                assert cell == ""
            elif isinstance(value, bool):
                assert cell == str(value).lower()
            elif isinstance(value, float):
                assert float(cell) == value
            elif isinstance(value, datetime):
                assert datetime.fromisoformat(cell) == value.replace(tzinfo=UTC)
            elif isinstance(value, date):
                assert date.fromisoformat(cell) == value
            else:
                assert cell == value


def test_columns_are_typed() -> None:
    """Values are numbers with their unit, presence is yes or no, times are times in UTC."""
    rows = parquet_rows()
    assert (rows[0]["value"], rows[0]["unit"], rows[0]["finding"]) == (8.6, "kg", None)
    absent = next(row for row in rows if row["finding"] == "arrhythmia")
    assert absent["present"] is False
    assert rows[0]["drafted"] == DRAFTED
    assert rows[0]["day"] == date(2026, 5, 4)


def test_status_doubts_and_signature_stand_in_every_row() -> None:
    """A draft's rows say preliminary and carry their open doubts and no signer; a signed record's name the signer."""
    rows = csv_rows()
    draft, final = rows[: len(OBSERVATIONS)], rows[len(OBSERVATIONS) : -1]
    assert {row["status"] for row in draft} == {"preliminary"}
    assert {row["signed_by"] for row in draft} == {""}
    assert [row["site"] for row in draft if row["open_doubts"]] == ["elbow"]
    assert {(row["signed_by"], row["signed"]) for row in final} == {("Dr Mira Holt", SIGNED.isoformat())}


def test_unstated_is_empty() -> None:
    """What is unknown is an empty cell: no side, no finding, no judgement is filled in."""
    weight = csv_rows()[0]
    assert (weight["side"], weight["finding"], weight["present"], weight["qualifiers"]) == ("", "", "", "")
