"""Grades, sizes and teeth that are told behind their finding."""

from __future__ import annotations

import pytest
from language_cases import brief, said


@pytest.mark.parametrize(
    ("text", "key", "value"),
    [
        ("Murmur, three out of six.", "grade", "3/6"),
        ("Grade three out of six murmur.", "grade", "3/6"),
        ("Lump on the skin, two centimetres.", "size", {"number": 2.0, "unit": "cm"}),
        ("Lump on the right flank. It's about two centimetres.", "size", {"number": 2.0, "unit": "cm"}),
        ("Gingivitis grade two at 204.", "tooth", "204"),
        ("Fractured upper left canine.", "tooth", "204"),
    ],
)
def test_detail_is_put_into_its_finding(text: str, key: str, value: object) -> None:
    """A grade, a size or a tooth is part of the one finding it is told of, whether it stands before or behind it."""
    (one,) = said(text)
    assert one.qualifiers[key] == value


@pytest.mark.parametrize(
    "text",
    [
        "Grade one calculus, one oh eight and two oh eight.",
        "Calculus on 108 and 208, grade one.",
        "108 and 208 have grade one calculus.",
    ],
)
def test_each_tooth_is_a_statement(text: str) -> None:
    """A finding of several teeth is one statement for each of them, with the grade in each."""
    assert [(s.finding, s.qualifiers["tooth"], s.qualifiers["grade"]) for s in said(text)] == [
        ("dental calculus", "108", "1"),
        ("dental calculus", "208", "1"),
    ]


@pytest.mark.parametrize(
    "text",
    [
        "Calculus: 108 grade 2, 208 grade 1, 309 grade 3.",
        "Tartar on 108 grade two, on 208 grade one, 309 grade three.",
    ],
)
def test_chart_of_one_finding_keeps_each_tooth_with_its_grade(text: str) -> None:
    """A tooth and a grade alone go on with the finding just told, and no grade moves to a neighbouring tooth."""
    assert [(s.finding, s.qualifiers["tooth"], s.qualifiers["grade"]) for s in said(text)] == [
        ("dental calculus", "108", "2"),
        ("dental calculus", "208", "1"),
        ("dental calculus", "309", "3"),
    ]


def test_detail_does_not_reach_far_back() -> None:
    """A size told long after a finding, behind other talk, is not put into it."""
    lump, *_ = said("Lump on the skin. Eyes clear. Nose dry. Heart regular. Lungs clear. Two centimetres.")
    assert (lump.finding, "size" in lump.qualifiers) == ("mass", False)


def test_detail_of_an_absence_is_not_taken() -> None:
    """What is absent has no size."""
    assert brief("No lump on the skin, two centimetres.") == ["skin: no mass"]
    (one,) = said("No lump on the skin, two centimetres.")
    assert "size" not in one.qualifiers
