"""Which statements are kept, and which of them are asked about."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from language_cases import said

from dictate.exam.statements import Doubt
from dictate.language.doubting import Thresholds, doubted

PROBABILITY = st.floats(0, 1)
ONE = said("Heart regular.")[0]


def test_shipped_thresholds_are_in_order() -> None:
    """What is left out is less sure than what is asked about."""
    assert 0 < Thresholds().keep < Thresholds().ask < 1


@given(PROBABILITY, PROBABILITY, PROBABILITY)
def test_one_statement(sure: float, a: float, b: float) -> None:
    """Below `keep` a statement is gone, below `ask` it carries a doubt, above both it stands as it is."""
    keep, ask = sorted((a, b))
    kept = doubted([ONE.but(sure=sure)], Thresholds(keep=keep, ask=ask))
    if sure < keep:
        assert kept == ()
    elif sure < ask:
        assert [[d.kind for d in s.doubts] for s in kept] == [["reading"]]
    else:
        assert kept == (ONE.but(sure=sure),)


@given(st.lists(PROBABILITY, max_size=8), PROBABILITY, PROBABILITY)
def test_a_higher_threshold_keeps_no_more(sure: list[float], a: float, b: float) -> None:
    """Raising `keep` leaves out more or the same, and raising `ask` asks more or the same."""
    talk = [ONE.but(sure=p) for p in sure]
    low, high = sorted((a, b))
    assert len(doubted(talk, Thresholds(keep=high, ask=1.0))) <= len(doubted(talk, Thresholds(keep=low, ask=1.0)))
    asked = [sum(bool(s.doubts) for s in doubted(talk, Thresholds(keep=0.0, ask=t))) for t in (low, high)]
    assert asked[0] <= asked[1]


def test_a_doubt_that_is_there_is_enough() -> None:
    """A statement that already carries a doubt gets no second one for being unsure."""
    doubt = Doubt("side", "which side was meant?", ("left", "right"))
    (one,) = doubted([ONE.but(sure=0.5, doubts=(doubt,))], Thresholds(keep=0.1, ask=0.9))
    assert one.doubts == (doubt,)
