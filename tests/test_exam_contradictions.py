"""Statements that contradict each other, and those that only seem to."""

from __future__ import annotations

from exam_cases import kinds, said, settled

from dictate.exam.statements import Measure, Statement


def test_present_and_absent_are_both_doubted() -> None:
    """A finding told as present and as absent at one place is doubted on both, with a choice."""
    yes = Statement("eye", "left", "abnormal", "discharge")
    no = Statement("eye", "left", "normal", "discharge", present=False)
    assert [kinds(s) for s in settled(yes, no)] == [["contradiction"], ["contradiction"]]
    assert settled(yes, no)[0].doubts[0].choices == ("present", "absent")


def test_present_and_absent_on_two_sides_or_places_is_no_contradiction() -> None:
    """The other side, another tooth or another location does not contradict."""
    left = Statement("eye", "left", "abnormal", "discharge")
    right = Statement("eye", "right", "normal", "discharge", present=False)
    lump = Statement("skin", None, "abnormal", "mass", qualifiers={"location": "flank"})
    none_else = Statement("skin", None, "normal", "mass", present=False)
    assert all(s.doubts == () for s in settled(left, right, lump, none_else))


def test_praise_beside_a_finding_is_usual_talk() -> None:
    """ "Eyes are clear, a bit of discharge on the left" is not doubted."""
    text = "Eyes are clear, a bit of discharge on the left."
    both = settled(
        said(text, "Eyes are clear", "eye", "both"),
        said(text, "a bit of discharge on the left", "eye", "left", status="abnormal", finding="discharge"),
        text=text,
    )
    assert all(s.doubts == () for s in both)


def test_normal_and_abnormal_after_coming_back_is_doubted() -> None:
    """Lungs called clear, and crackles told after other regions: both statements are doubted."""
    text = "Lungs clear. Belly soft. Skin fine. Oh, and crackles in the right lung."
    lungs = settled(
        said(text, "Lungs clear", "lung", "both"),
        said(text, "Belly soft", "abdomen"),
        said(text, "Skin fine", "skin"),
        said(text, "crackles in the right lung", "lung", "right", status="abnormal", finding="crackles"),
        text=text,
    )
    doubted = {(s.site, s.side, s.finding) for s in lungs if "contradiction" in kinds(s)}
    assert doubted == {("lung", "right", None), ("lung", "right", "crackles")}


def test_two_values_close_together_are_doubted_unless_told_as_later() -> None:
    """ "200 ... 160" is doubted, "210, now 168" is two readings in time."""
    text = "Heart rate 200. I get 160."
    first = said(text, "Heart rate 200", "heart rate", value=Measure(200, "/min"))
    second = said(text, "I get 160", "heart rate", value=Measure(160, "/min"))
    assert [kinds(s) for s in settled(first, second, text=text)] == [["contradiction"]] * 2
    text = "Heart rate 210, now 168."
    first = said(text, "Heart rate 210", "heart rate", value=Measure(210, "/min"))
    second = said(text, "168", "heart rate", value=Measure(168, "/min"))
    assert all(s.doubts == () for s in settled(first, second, text=text))


def test_a_series_of_values_is_no_contradiction() -> None:
    """Three readings of one measure are a series."""
    text = "Pressure 171, 158, 165."
    series = [said(text, str(n), "heart rate", value=Measure(n, "/min")) for n in (171, 158, 165)]
    assert all(s.doubts == () for s in settled(*series, text=text))


def test_praise_of_the_rest_is_no_contradiction() -> None:
    """ "Skin otherwise fine" does not contradict a lump that was told before, however far back."""
    text = "A lump in the skin. Lungs clear. Belly soft. Skin otherwise fine."
    told = settled(
        said(text, "A lump in the skin", "skin", status="abnormal", finding="mass"),
        said(text, "Lungs clear", "lung", "both"),
        said(text, "Belly soft", "abdomen"),
        said(text, "Skin otherwise fine", "skin"),
        text=text,
    )
    assert all(s.doubts == () for s in told)
