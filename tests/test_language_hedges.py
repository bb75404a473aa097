"""Words that make a statement a possible one."""

from __future__ import annotations

import pytest
from language_cases import said


@pytest.mark.parametrize(
    "text",
    [
        "Maybe a soft murmur.",
        "I think there is a murmur.",
        "There might be a murmur.",
        "Can't rule out a murmur.",
        "Possible murmur.",
        "Murmur, I wouldn't swear to it. Possibly a murmur.",
    ],
)
def test_hedged_finding_is_possible_and_present(text: str) -> None:
    """A hedge leaves the finding present and marks it as possible."""
    one = said(text)[-1]
    assert (one.finding, one.present, one.hedged) == ("murmur", True, True)


@pytest.mark.parametrize("text", ["There is a murmur.", "No murmur.", "Heart regular. Maybe later. Murmur."])
def test_without_a_hedge_nearby_it_is_certain(text: str) -> None:
    """A plain statement is certain, and a hedge in another sentence does not reach it."""
    assert not said(text)[-1].hedged


def test_hedged_absence_stays_an_absence() -> None:
    """A hedge does not turn an absence round."""
    (one,) = said("Probably no murmur.")
    assert (one.present, one.hedged) == (False, True)
