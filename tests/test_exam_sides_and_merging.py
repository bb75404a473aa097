"""Sides and repeated statements."""

from __future__ import annotations

from exam_cases import kinds, said, settled
from hypothesis import given
from hypothesis import strategies as st

from dictate.exam.statements import Doubt, Evidence, Measure, Statement


def test_both_sides_become_two() -> None:
    """A statement about both sides of a paired site becomes one observation a side."""
    assert [(s.site, s.side) for s in settled(Statement("eye", "both"))] == [("eye", "left"), ("eye", "right")]


def test_side_of_an_unpaired_site_is_kept_as_a_qualifier() -> None:
    """A side on a site that has none is not lost: it stands among the qualifiers."""
    (lump,) = settled(Statement("skin", "left", "abnormal", "mass", qualifiers={"location": "flank"}))
    assert lump.side is None
    assert lump.qualifiers == {"location": "flank", "side": "left"}


def test_both_sides_of_an_unpaired_site_that_is_normal_say_nothing_more() -> None:
    """ "Both" on an unpaired site is kept with a finding and dropped with a plain normal."""
    assert dict(settled(Statement("gait", "both"))[0].qualifiers) == {}
    assert dict(settled(Statement("lips", "both", "abnormal", "mass"))[0].qualifiers) == {"side": "both"}


def test_the_number_of_a_tooth_is_its_side() -> None:
    """A side that was only carried to a numbered tooth is dropped; one that was said and differs is doubted."""
    carried = said("Calculus on 208", "Calculus on 208", "teeth", "right", qualifiers={"tooth": "208"})
    spoken = said("Right 208 worn", "Right 208 worn", "teeth", "right", qualifiers={"tooth": "208"})
    assert (dict(settled(carried)[0].qualifiers), kinds(settled(carried)[0])) == ({"tooth": "208"}, [])
    assert kinds(settled(spoken)[0]) == ["side"]


def test_open_side_of_a_paired_site_is_doubted_once() -> None:
    """A side that the talk leaves open is null with one doubt that offers the sides."""
    (open_side,) = settled(Statement("elbow", None, "abnormal", "thickening"))
    assert open_side.side is None
    assert [d.choices for d in open_side.doubts if d.kind == "side"] == [("left", "right", "both")]
    (asked,) = settled(Statement("elbow", doubts=(Doubt("side", "Which?", ("left", "right")),)))
    assert kinds(asked) == ["side"]


def test_site_that_may_stay_without_a_side_is_not_doubted() -> None:
    """A site of which the lexicon says that one may be meant without a side raises no doubt."""
    assert settled(Statement("femoral pulse"))[0].doubts == ()


def test_repeated_statement_is_merged_with_both_evidences() -> None:
    """What is said twice is one observation whose evidence is in the order of the talk."""
    text = "Left elbow thick. Belly soft. Yes, that elbow is thick, firm."
    merged = settled(
        said(text, "elbow is thick, firm", "elbow", "left", status="abnormal", finding="thickening"),
        said(text, "Left elbow thick", "elbow", "left", status="abnormal", finding="thickening"),
        text=text,
    )
    assert [[e.text for e in s.evidence] for s in merged] == [["Left elbow thick", "elbow is thick, firm"]]


def test_two_masses_at_two_places_stay_two() -> None:
    """Two masses whose location or size differ are two observations."""
    a = Statement("skin", None, "abnormal", "mass", qualifiers={"location": "flank"})
    b = Statement("skin", None, "abnormal", "mass", qualifiers={"location": "chin"})
    assert len(settled(a, b)) == 2


def test_two_teeth_stay_two_even_where_one_is_unnamed() -> None:
    """A finding of a named tooth does not swallow the same finding of the teeth as a whole."""
    whole = Statement("teeth", None, "abnormal", "mass")
    one = Statement("teeth", None, "abnormal", "mass", qualifiers={"tooth": "104"})
    assert len(settled(whole, one)) == 2


def test_details_told_later_are_added() -> None:
    """A second statement of the same finding adds the qualifiers that the first lacks."""
    first = Statement("elbow", "left", "abnormal", "thickening", evidence=(Evidence("a", 0, 1),))
    second = Statement(
        "elbow", "left", "abnormal", "thickening", qualifiers={"severity": "mild"}, evidence=(Evidence("b", 5, 6),)
    )
    (merged,) = settled(first, second)
    assert merged.qualifiers == {"severity": "mild"}


def test_two_values_are_two_observations() -> None:
    """Two different values of one measure are both kept; the same value told twice is one."""
    fast, slower = (
        Statement("heart rate", value=Measure(210, "/min")),
        Statement("heart rate", value=Measure(168, "/min")),
    )
    assert [s.value.number for s in settled(fast, slower, fast) if s.value] == [210, 168]


def test_sure_statement_settles_the_doubt_of_its_repetition() -> None:
    """A doubt about the word is dropped when the same was also said without doubt; a doubt about the side is not."""
    sure = Statement("elbow", "left", "abnormal", "thickening")
    repaired = Statement("elbow", "left", "abnormal", "thickening", doubts=(Doubt("mis-hearing", "Repaired."),))
    inferred = Statement("elbow", "left", "abnormal", "thickening", doubts=(Doubt("side", "Inferred."),))
    assert kinds(settled(sure, repaired)[0]) == []
    assert kinds(settled(sure, inferred)[0]) == ["side"]
    assert kinds(settled(repaired, repaired)[0]) == ["mis-hearing"]


statements = st.builds(
    Statement,
    site=st.sampled_from(["eye", "elbow", "skin", "femoral pulse"]),
    side=st.sampled_from(["left", "right", "both", None]),
    status=st.sampled_from(["normal", "abnormal", "not_examined"]),
    finding=st.sampled_from([None, "mass", "thickening"]),
    evidence=st.builds(
        lambda start, length: (Evidence("x" * length, start, start + length),), st.integers(0, 50), st.integers(1, 9)
    ),
)


@given(st.lists(statements, max_size=12).map(tuple))
def test_nothing_is_lost_and_a_second_pass_changes_nothing(many: tuple[Statement, ...]) -> None:
    """Every piece of evidence of every statement is still there after all steps, and settling again changes nothing."""
    once = settled(*many)
    assert {e for s in many for e in s.evidence} == {e for s in once for e in s.evidence}
    assert {(s.site, s.finding) for s in many} == {(s.site, s.finding) for s in once}
    assert all(s.side != "both" for s in once)
    assert settled(*once) == once
