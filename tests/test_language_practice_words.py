"""A practice's own rows for numbers, units and teeth are read like the shipped ones."""

from __future__ import annotations

from pathlib import Path

import pytest

from dictate.language.marking import mark, vocabulary
from dictate.lexicon import load

SOURCE = '"common practice, no source"'


@pytest.fixture
def practice(tmp_path: Path) -> Path:
    rows = {
        "units.csv": f"form,ucum,quantity,article,other,source\nclicks,kg,mass,,,{SOURCE}\n",
        "number_words.csv": f"word,kind,value,source\nwun,digit,1,{SOURCE}\n",
        "tooth_words.csv": f"word,part,value,source\nhoektand,kind,canine,{SOURCE}\n",
    }
    for name, text in rows.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def terms(text: str, folder: Path | None) -> list[tuple[str, str]]:
    words = vocabulary(load(folder))
    talk = mark(text, words, species="dog")
    return [(t.kind, talk.words(t.first, t.last)) for t in talk.terms if t.kind in ("quantity", "tooth")]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Weight 12 clicks.", ("quantity", "12 clicks")),
        ("Weight wun point five kilos.", ("quantity", "wun point five kilos")),
        ("Upper left hoektand broken.", ("tooth", "Upper left hoektand")),
    ],
)
def test_words_of_the_practice_reach_numbers_units_and_teeth(text: str, found: tuple[str, str], practice: Path) -> None:
    """A practice's words for a unit, a number or a tooth are understood with its tables, and only with them."""
    assert found in terms(text, practice)
    assert found not in terms(text, None)
