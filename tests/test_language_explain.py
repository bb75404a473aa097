"""The trace of a reading: every stretch, its role, its terms, and what it became."""

from __future__ import annotations

import pytest

from dictate.language import explain, read
from dictate.language.step import read_through
from dictate.speech.words import Transcript

TEXT = (
    "Bella, seven year old spayed Labrador. Heart regular, no murmur. Left ear canal is red, right ear canal is clean. "
    "Owner says he has been coughing. We'll take blood next week."
)
TALK = Transcript((), TEXT, "0" * 64)


@pytest.fixture(scope="module")
def trace() -> str:
    return explain(TALK)


def test_every_stretch_is_there_in_order(trace: str) -> None:
    """The words of each stretch stand in the trace, in the order of the talk."""
    marked = read_through(TEXT).marked
    lines = [f"{s.start:>6}  {marked.words(s.first, s.last)}" for s in marked.stretches]
    shown = [line for line in trace.splitlines() if line in lines]
    assert shown == lines


def test_every_stretch_has_a_role(trace: str) -> None:
    """There is one line of a role for each stretch, with the words that told it where it is no observation."""
    roles = [line for line in trace.splitlines() if line.strip().startswith("role: ")]
    assert len(roles) == len(read_through(TEXT).marked.stretches)
    assert any("history" in line and "Owner says" in line for line in roles)


def test_terms_are_named(trace: str) -> None:
    """What the lexicon knew in a stretch stands under it with its table."""
    assert "site_words: “ear canal”" in trace
    assert "finding_words: “murmur”" in trace


def test_every_statement_that_is_kept_is_told(trace: str) -> None:
    """Each site of the reading stands in the trace as what a stretch became."""
    became = [line for line in trace.splitlines() if line.strip().startswith("-> ")]
    for s in read(TALK).statements:
        assert any(line.strip().startswith(f"-> {s.site}") and s.status in line for line in became)


def test_nothing_kept_is_said(trace: str) -> None:
    """A stretch that became nothing says so."""
    after = trace[trace.index("We'll take blood") :]
    assert "nothing kept" in after


def test_empty_text_has_an_empty_trace() -> None:
    """There is nothing to explain in a text without words."""
    assert explain(Transcript((), "", "0" * 64)) == ""
