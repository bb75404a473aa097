"""One probability for each statement, from all that speaks for it: boosted trees over its signals.

The trees lie in `weighing.json`, fitted by `scripts/fit_weighing.py` on talks of authors that the second reader had
not seen.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from dictate.language.context_signals import BESIDE, FROM_OTHERS
from dictate.language.fusing import FROM_SECOND
from dictate.language.values import Said

GROUPS = (
    "finding: named",
    "finding: in force",
    "finding: told by the words",
    "finding: home",
    "finding: does not usually stand there",
    "normal: named",
    "normal: in force",
    "normal: told by the words",
    "not examined",
    "value",
    "carried over",
    FROM_SECOND,
    "value: second reader",
)
OTHER_GROUP = 4
BY_BOTH = frozenset({"fact", "tokens"})  # signals that only a statement read by both readers has
AROUND = (
    *FROM_OTHERS,
    "fixed_after",
    "fix_here",
    "asked",
    "list_item",
    *BESIDE,
    "of_site",
    "other_role",
    "where",
    "order",
    "past",
    "modal",
    "listener",
    "speaker",
    "verbless",
    "untaught",
)


@dataclass(frozen=True, slots=True)
class Trees:
    """Complete binary trees: `features` and `splits` [trees, nodes], `leaves` [trees, nodes + 1], added to `start`."""

    features: np.ndarray
    splits: np.ndarray
    leaves: np.ndarray
    start: float

    def probabilities(self, rows: np.ndarray) -> np.ndarray:
        """Rows [n, signals] to probabilities [n]."""
        trees = np.arange(len(self.features))
        total = np.full(len(rows), self.start)
        nodes = self.features.shape[1]
        for i, row in enumerate(rows):
            at = np.zeros(len(trees), int)
            while at[0] < nodes:
                at = 2 * at + 1 + (row[self.features[trees, at]] > self.splits[trees, at])
            total[i] += self.leaves[trees, at - nodes].sum()
        return 1 / (1 + np.exp(-np.clip(total, -30, 30)))


@lru_cache(maxsize=1)
def shipped() -> Trees:
    raw = json.loads((Path(__file__).parent / "weighing.json").read_text(encoding="utf-8"))
    return Trees(np.array(raw["features"]), np.array(raw["splits"]), np.array(raw["leaves"]), raw["start"])


def logit(p: float) -> float:
    p = min(max(p, 0.003), 0.997)
    return math.log(p / (1 - p))


def group(said: Said) -> int:
    rule = said.rule.removesuffix(", side corrected")
    if rule in GROUPS:
        return GROUPS.index(rule)
    return next((i for i, name in enumerate(GROUPS) if rule.startswith(name)), OTHER_GROUP)


def features(said: Said) -> list[float]:
    """What speaks for and against a statement, as numbers; first one of `GROUPS`."""
    g = said.signals
    one_hot = [0.0] * len(GROUPS)
    one_hot[group(said)] = 1.0
    out = logit(g.get("outcome", 0.0))
    named = 1.0 if "named" in said.rule or said.rule == "value" else 0.0
    second = one_hot[GROUPS.index(FROM_SECOND)]
    absent = bool(said.finding) and not said.present
    return [
        *one_hot,
        out,
        logit(g.get("site", 0.0)),
        logit(g.get("fact", 0.0)),
        logit(g.get("rival", 0.0)),
        logit(g.get("other", 0.0)),
        logit(g.get("side", 0.0)),
        logit(g.get("taken_back", 0.0)),
        g.get("cue", 0.0),
        said.sure if not second else 0.0,
        second * out,
        named * out,
        1.0 if said.hedged else 0.0,
        1.0 if said.doubts else 0.0,
        1.0 if said.side == "both" else 0.0,
        1.0 if not said.present else 0.0,
        1.0 if said.status == "abnormal" and not said.finding else 0.0,
        1.0 if said.status == "not_examined" else 0.0,
        g.get("finding_word", 0.0),
        g.get("site_word", 0.0),
        g.get("normal_word", 0.0) if said.finding is None else 0.0,
        g.get("normal_word", 0.0) if said.finding else 0.0,
        g.get("denied", 0.0) if absent else 0.0,
        g.get("denied", 0.0) if said.present else 0.0,
        g.get("usual", 1.0),
        math.log1p(g.get("tokens", 3.0)),
        logit(g.get("best", 0.0)) - out,
        math.log1p(g.get("many", 1.0)),
        g.get("told", 0.0),
        (1.0 - g.get("finding_word", 0.0)) * second if said.finding else 0.0,
        second * g.get("site_word", 0.0),
        *(g.get(name, 0.0) for name in AROUND),
    ]


def weigh(said: Sequence[Said]) -> tuple[Said, ...]:
    """The statements with their probability as `sure`; those that only the rules have read keep theirs."""
    judged = [s for s in said if s.signals.keys() & BY_BOTH]
    if not judged:
        return tuple(said)
    chances = iter(shipped().probabilities(np.array([features(s) for s in judged])))
    return tuple(s.but(sure=float(next(chances))) if s.signals.keys() & BY_BOTH else s for s in said)
