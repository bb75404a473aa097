"""What a stretch of talk is for."""

from __future__ import annotations

import pytest
from language_cases import brief, told_roles


@pytest.mark.parametrize(
    ("text", "role"),
    [
        ("The left ear is red.", "observation"),
        ("Owner says he has been coughing.", "history"),
        ("Cats often get gingivitis.", "teaching"),
        ("Next I'll feel the left stifle.", "intention"),
        ("We'll recheck the ear next week.", "plan"),
        ("Good girl.", "address"),
    ],
)
def test_one_sentence_has_one_role(text: str, role: str) -> None:
    """Cue phrases tell talk that makes no observation from talk that does."""
    assert [r.name for r in told_roles(text)] == [role]


def test_wide_cue_speaks_for_its_sentence_only() -> None:
    """A cue of the whole sentence covers every stretch of it and none of the next."""
    names = [r.name for r in told_roles("Owner says he coughs, vomits, and limps. Heart regular.")]
    assert names == ["history"] * (len(names) - 1) + ["observation"]
    assert len(names) > 2


def test_role_names_its_cue() -> None:
    """A role that is no observation points at the words that told it; an observation points at none."""
    history, fact = told_roles("Owner says he coughs. Heart regular.")
    assert history.cue is not None and history.cue.last > history.cue.first
    assert fact.cue is None and fact.is_fact


@pytest.mark.parametrize(
    "text", ["Owner says he has a murmur.", "Cats often get gingivitis.", "Next I'll look for a murmur."]
)
def test_talk_that_is_no_observation_makes_no_statement(text: str) -> None:
    """History, teaching and intentions state nothing by the rules."""
    assert brief(text) == []


def test_intention_still_turns_the_talk_to_its_place() -> None:
    """What is found after an announced place is said of that place."""
    assert brief("Next I'll feel the left stifle. Swollen.") == ["stifle left: swelling"]


@pytest.mark.parametrize("text", ["ASA two.", "I'd really want to put her down today as an ASA class three."])
def test_cue_of_its_stretch_tells_it_wherever_it_stands(text: str) -> None:
    """A cue of reach "stretch" tells what its stretch is for, early or late in it, and leaves no doubt."""
    last = told_roles(text)[-1]
    assert (last.name, last.certain) == ("assessment", True)
    assert not any(role.certain for role in told_roles("Owner says he coughs. Heart regular."))
