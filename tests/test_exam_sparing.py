"""An observation is asked about once where one question will do."""

from __future__ import annotations

from exam_cases import kinds, settled

from dictate.exam.statements import Doubt, Measure, Statement

GENERAL = Doubt("reading", "may not be what was meant", ("as drafted", "not meant"))


def test_named_doubt_takes_the_place_of_the_general_one() -> None:
    """What contradicts another statement, or lacks its side, is asked about by that, and not in general too."""
    yes = Statement("eye", "left", "abnormal", "discharge", doubts=(GENERAL,))
    no = Statement("eye", "left", "normal", "discharge", present=False, doubts=(GENERAL,))
    assert [kinds(s) for s in settled(yes, no)] == [["contradiction"], ["contradiction"]]
    assert [kinds(s) for s in settled(Statement("elbow", None, "normal", doubts=(GENERAL,)))] == [["side"]]


def test_doubts_that_name_different_things_all_stand() -> None:
    """Two doubts of different kinds are two questions, and a general doubt alone stays."""
    cold = Statement("temperature", value=Measure(3.8, "Cel"), doubts=(Doubt("unit", "no unit was said", ("a", "b")),))
    assert kinds(settled(cold)[0]) == ["unit", "value"]
    assert kinds(settled(Statement("elbow", "left", "normal", doubts=(GENERAL,)))[0]) == ["reading"]
