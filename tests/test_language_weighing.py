"""One probability for each statement."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from language_cases import said

from dictate.language.values import Said
from dictate.language.weighing import GROUPS, Trees, features, group, logit, shipped, weigh

SIGNALS = [
    "fact",
    "tokens",
    "outcome",
    "site",
    "rival",
    "other",
    "side",
    "taken_back",
    "finding_word",
    "site_word",
    "best",
]


@st.composite
def statements(draw: st.DrawFn) -> Said:
    """A statement with any signals that both readers may give it."""
    signals = {name: draw(st.floats(0, 1)) for name in SIGNALS}
    return Said(
        site="stifle",
        side=draw(st.sampled_from([None, "left", "right", "both"])),
        status=draw(st.sampled_from(["normal", "abnormal", "not_examined"])),
        stretch=0,
        first=0,
        last=1,
        rule=draw(st.sampled_from(GROUPS)),
        finding=draw(st.sampled_from([None, "pain"])),
        present=draw(st.booleans()),
        hedged=draw(st.booleans()),
        signals=signals,
    )


@given(st.lists(statements(), max_size=5))
def test_probabilities_lie_between_nothing_and_certain(talk: list[Said]) -> None:
    """Weighing gives each statement a probability and changes nothing else of it, in the same order."""
    weighed = weigh(talk)
    assert all(0.0 <= s.sure <= 1.0 for s in weighed)
    assert [s.but(sure=0.0) for s in weighed] == [s.but(sure=0.0) for s in talk]


@given(statements(), statements())
def test_statements_are_weighed_each_for_itself(a: Said, b: Said) -> None:
    """A statement's probability does not depend on what else is weighed with it."""
    assert weigh([a, b]) == (*weigh([a]), *weigh([b]))


def test_rules_alone_keep_their_own() -> None:
    """Statements that the second reader has not read keep the probability that their rule gave them."""
    talk = said("Left stifle swollen. Heart regular, no murmur.")
    assert weigh(talk) == talk


def test_features_fit_the_trees() -> None:
    """Every statement has as many features as the shipped trees look at, or more."""
    (one,) = said("Heart regular.")
    assert shipped().features.max() < len(features(one))


def test_small_tree_by_hand() -> None:
    """A tree of one split adds its left leaf up to the split and its right leaf above it."""
    trees = Trees(np.array([[0]]), np.array([[0.5]]), np.array([[-1.0, 1.0]]), 0.0)
    low, high = trees.probabilities(np.array([[0.5], [0.6]]))
    assert low == pytest.approx(1 / (1 + np.e))
    assert high == pytest.approx(np.e / (1 + np.e))


@given(st.floats(0, 1), st.floats(0, 1))
def test_logit_keeps_order_and_is_finite(a: float, b: float) -> None:
    """The larger probability has the larger logit, and none is infinite."""
    assert (logit(a) <= logit(b)) == (max(0.003, min(a, 0.997)) <= max(0.003, min(b, 0.997)))
    assert abs(logit(a)) < 10


@pytest.mark.parametrize("rule", GROUPS)
def test_a_corrected_side_does_not_change_the_group(rule: str) -> None:
    """A statement whose side was corrected is weighed as one of its rule."""
    (one,) = said("Heart regular.")
    assert group(one.but(rule=f"{rule}, side corrected")) == group(one.but(rule=rule)) == GROUPS.index(rule)
