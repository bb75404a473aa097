"""What a group of words says of its place."""

from __future__ import annotations

import pytest
from language_cases import brief, said


def rules(text: str) -> list[str]:
    return [s.rule for s in said(text)]


@pytest.mark.parametrize(
    ("text", "statements", "rule"),
    [
        ("Left stifle swollen.", ["stifle left: swelling"], "finding: named"),
        ("Left ear. It is swollen.", ["ear canal left: swelling"], "finding: in force"),
        ("Murmur.", ["heart: murmur"], "finding: home"),
        ("Gums are inflamed, gingivitis.", ["gingiva: gingivitis"], "finding: in force"),
        ("Left ear is clean.", ["ear canal left: normal"], "normal: named"),
        ("Left ear. Gorgeous.", ["ear canal left: normal"], "normal: in force"),
    ],
)
def test_where_a_statement_stands(text: str, statements: list[str], rule: str) -> None:
    """A statement stands at the site named with it, else at the one spoken of, else at the finding's home."""
    assert brief(text)[-1:] == statements
    assert rules(text)[-1] == rule


def test_weak_words_alone_say_nothing() -> None:
    """Words that often mean something else place no finding without a site that can have it."""
    assert brief("He is dull.") == []


def test_words_of_several_meanings_take_the_site_named() -> None:
    """The same word is another finding at another site, where the tables say so."""
    assert brief("Abdomen has a lump.") == ["abdomen: mass"]


def test_several_findings_of_one_place() -> None:
    """Two findings of one place in one stretch are two statements."""
    assert brief("Left elbow is thick and painful.") == ["elbow left: thickening", "elbow left: pain"]


def test_list_of_places_shares_its_normal() -> None:
    """Places named in a row share what is said at its end."""
    assert [s.partition(":")[0].split()[0] for s in brief("Liver, spleen and kidneys are normal.")] == [
        "liver",
        "spleen",
        "kidney",
    ]


def test_not_examined_keeps_its_reason() -> None:
    """A site that could not be seen is not examined, with the words that say so as reason."""
    (one,) = said("I couldn't see the right eardrum.")
    assert (one.site, one.side, one.status) == ("tympanic membrane", "right", "not_examined")
    assert one.qualifiers["reason"] == "I couldn't see the right eardrum"


def test_severity_belongs_to_the_finding() -> None:
    """A word of severity is kept with the finding of its stretch; a word that is the finding itself is none."""
    (mild,) = said("Mild swelling of the left stifle.")
    assert mild.qualifiers["severity"] == "mild"
    (thick,) = said("Left elbow is thick.")
    assert "severity" not in thick.qualifiers


def test_absence_has_no_severity_or_place() -> None:
    """What is absent has no severity and no location."""
    (one,) = said("No severe pain in the left stifle.")
    assert (one.present, dict(one.qualifiers)) == (False, {})


def test_location_is_kept_as_said() -> None:
    """The words of place behind a finding are kept letter for letter."""
    (one,) = said("There is a lump on the Left flank.")
    assert one.qualifiers["location"] == "the Left flank"


@pytest.mark.parametrize("text", ["", "...", "Good morning.", "Now let me see."])
def test_talk_without_content_says_nothing(text: str) -> None:
    """Where nothing is named nothing is stated."""
    assert brief(text) == []


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Left elbow is warm.", ["elbow left: heat"]),
        ("Paws warm.", ["front paw both: normal", "hind paw both: normal"]),
    ],
)
def test_normal_of_other_sites_is_no_normal_here(text: str, says: list[str]) -> None:
    """Words that are normal for some sites only say nothing normal of a site that is not among them."""
    assert brief(text) == says


def test_side_of_one_site_is_not_the_side_of_the_next() -> None:
    """A site without sides gets a side only from words that tell it in the same breath."""
    ear, heart = said("Left ear is red. There is a murmur.")
    assert (ear.side, dict(heart.qualifiers)) == ("left", {})
    assert dict(said("Left ear clean. Temperature 38.6.")[1].qualifiers) == {}
