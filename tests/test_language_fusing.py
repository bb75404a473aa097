"""Two readings of one stretch made one."""

from __future__ import annotations

import pytest
from language_cases import KNOW, marked, said

from dictate.language.doubting import Thresholds, doubted
from dictate.language.fusing import FROM_SECOND, fuse, sided, with_signals
from dictate.language.outcome import unplaced
from dictate.language.says import Scene
from dictate.language.second_reader import Outcome, SiteReading, StretchReading
from dictate.language.step import read_through
from dictate.language.values import State


def reading(text: str, *sites: SiteReading, fact: float = 0.9) -> StretchReading:
    """A reading of the whole text, as the second reader might give it."""
    return StretchReading(
        text=text, char_start=0, char_end=len(text), roles={"fact": fact}, sites=sites, taken_back=0.0
    )


def outcome(finding: str | None, probability: float, *, present: bool = True) -> Outcome:
    status = "abnormal" if finding and present else "normal"
    return Outcome(status=status, finding=finding, present=present, measured=False, probability=probability)


def site(name: str, *outcomes: Outcome, side: str = "left", p: float = 0.9) -> SiteReading:
    return SiteReading(site=name, probability=0.9, sides={side: p}, hedged=0.0, outcomes=outcomes)


def scene(text: str, read: StretchReading | None) -> Scene:
    talk = marked(text)
    return Scene(talk, KNOW, 0, talk.stretches[0], (), read)


TEXT = "left stifle swollen"


def test_rules_alone_stay_as_they_are() -> None:
    """Without a second reading the rules' statements are unchanged."""
    assert fuse(scene(TEXT, None), said(TEXT), State()) == said(TEXT)


def test_agreement_makes_one_statement() -> None:
    """What both readers say is one statement, with the second reader's probability as a signal."""
    both = fuse(scene(TEXT, reading(TEXT, site("stifle", outcome("swelling", 0.8)))), said(TEXT), State())
    assert [(s.site, s.finding) for s in both] == [("stifle", "swelling")]
    assert both[0].signals["outcome"] == pytest.approx(0.8)
    assert both[0].signals["fact"] == pytest.approx(0.9)


def test_second_reader_alone_is_a_statement_of_its_own() -> None:
    """What only the second reader says becomes a statement that names it as its source."""
    both = fuse(scene(TEXT, reading(TEXT, site("stifle", outcome("pain", 0.7)))), said(TEXT), State())
    (alone,) = [s for s in both if s.rule == FROM_SECOND]
    assert (alone.site, alone.side, alone.finding, alone.sure) == ("stifle", "left", "pain", pytest.approx(0.7))


def test_unlikely_reading_is_not_proposed() -> None:
    """A reading of the second reader with a low probability is no statement."""
    both = fuse(scene(TEXT, reading(TEXT, site("stifle", outcome("pain", 0.05)))), said(TEXT), State())
    assert [s.rule for s in both if s.rule == FROM_SECOND] == []


def test_side_that_was_said_is_kept() -> None:
    """A side told by the words is never changed by the second reader, however sure it is."""
    (told,) = said(TEXT)
    assert sided(told, site("stifle", side="right", p=0.99), told_near=True).side == "left"


def test_open_side_is_filled_by_a_sure_reading_only() -> None:
    """A side that the words leave open is filled where the second reader is sure; else its doubt stays."""
    (open_side,) = said("stifle swollen")
    assert sided(open_side, site("stifle", side="right", p=0.99), told_near=True).side == "right"
    unsure = sided(open_side, site("stifle", side="right", p=0.05), told_near=True)
    assert (unsure.side, [d.kind for d in unsure.doubts]) == (None, ["side"])


def test_contrary_outcome_is_a_signal() -> None:
    """Where the second reader hears the opposite, the statement carries how sure it is of that."""
    read = reading(TEXT, site("stifle", outcome("swelling", 0.6, present=False)))
    (one,) = said(TEXT)
    signals = with_signals(one, read).signals
    assert signals["other"] == pytest.approx(0.6)
    assert signals["outcome"] == 0.0


def test_of_an_unknown_site_the_rules_stand_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """A statement about a site that the second reader was never trained on is neither weighed by it nor moved."""
    monkeypatch.setattr("dictate.language.fusing.known_sites", lambda: frozenset(["hip"]))
    both = fuse(scene(TEXT, reading(TEXT, site("hip", outcome("swelling", 0.8)))), said(TEXT), State())
    assert [(s.site, s.finding, s.signals.get("outcome")) for s in both] == [("stifle", "swelling", None)]


SELDOM = "the skull is swollen"


def test_site_that_records_seldom_use_gives_way_to_the_one_the_second_reader_tells() -> None:
    """What is said of a part such as the skull stands at the site where the second reader places the same finding."""
    skin = reading(SELDOM, site("skin", outcome("swelling", 0.5)))
    assert [(s.site, s.finding) for s in fuse(scene(SELDOM, skin), said(SELDOM), State())] == [("skin", "swelling")]


def test_site_that_records_seldom_use_is_asked_about_where_nobody_tells_another() -> None:
    """Where the second reader tells no other site, the part that was named stays, and it is doubted."""
    (one,) = doubted(fuse(scene(SELDOM, reading(SELDOM)), said(SELDOM), State()), Thresholds())
    assert (one.site, one.finding, len(one.doubts)) == ("skull", "swelling", 1)


def test_site_that_records_seldom_use_is_left_out_where_no_finding_is_heard_or_another_site_is_sure() -> None:
    """Talk that is no finding, or that is surely of another site, puts nothing at a part such as the skull."""
    chat = reading(SELDOM, fact=0.1)
    assert fuse(scene(SELDOM, chat), said(SELDOM), State()) == ()
    other = reading(SELDOM, site("eye", outcome("discharge", 0.9)))
    assert {s.site for s in fuse(scene(SELDOM, other), said(SELDOM), State())} == {"eye"}


def test_finding_that_the_second_reader_was_not_taught_is_judged_by_its_kind() -> None:
    """Of a finding whose name it never met, what it thinks of the site's other findings speaks."""
    text = "skin has an abscess"
    (one,) = said(text)
    signals = with_signals(one, reading(text, site("skin", outcome("swelling", 0.7)))).signals
    assert (one.finding, signals["outcome"], signals["untaught"]) == ("abscess", pytest.approx(0.7), 1.0)
    swollen = with_signals(said(TEXT)[0], reading(TEXT, site("stifle", outcome("pain", 0.7)))).signals
    assert (swollen["outcome"], swollen["untaught"]) == (0.0, 0.0)


@pytest.mark.parametrize(("text", "shown"), [("systolic", 0), ("rather soft there", 1)])
def test_single_word_left_over_is_not_shown_as_unplaced(text: str, shown: int) -> None:
    """A phrase that sounds like a finding is shown where nothing was kept of it; a lone word such as a unit is not."""
    r = read_through(text)
    heard = [reading(text, site("stifle", outcome(None, 0.9)))]
    assert len(unplaced(r.heard, r.marked, r.roles, heard, (), Thresholds())) == shown
