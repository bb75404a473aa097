"""One probability for each statement, from all that speaks for it: a logistic model over its signals.

The weights lie in `weighing.json`, fitted by `scripts/fit_weighing.py` on narrations that neither the rules nor the second
reader were made with.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from dictate.exam.statements import Doubt
from dictate.language.fusing import FROM_SECOND
from dictate.language.knowledge import Knowledge
from dictate.language.values import Said

DROP = 0.25
ASK = 0.7
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


@dataclass(frozen=True, slots=True)
class Weights:
    weights: tuple[float, ...]
    bias: float


@lru_cache(maxsize=1)
def shipped() -> Weights:
    raw = json.loads((Path(__file__).parent / "weighing.json").read_text())
    return Weights(tuple(raw["weights"]), raw["bias"])


def logit(p: float) -> float:
    p = min(max(p, 0.003), 0.997)
    return math.log(p / (1 - p))


def group(said: Said) -> int:
    rule = said.rule.removesuffix(", side corrected")
    for i, name in enumerate(GROUPS):
        if rule == name:
            return i
    return next((i for i, name in enumerate(GROUPS) if rule.startswith(name)), 4)


def features(said: Said) -> list[float]:
    """What speaks for a statement, as numbers; see `GROUPS` for the first of them."""
    g = said.signals
    one_hot = [0.0] * len(GROUPS)
    one_hot[group(said)] = 1.0
    out = logit(g.get("outcome", 0.0))
    fact = logit(g.get("fact", 0.0))
    named = 1.0 if "named" in said.rule or said.rule == "value" else 0.0
    second = one_hot[GROUPS.index(FROM_SECOND)]
    return [
        *one_hot,
        out,
        logit(g.get("site", 0.0)),
        fact,
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
        g.get("denied", 0.0) if said.finding and not said.present else 0.0,
        g.get("denied", 0.0) if said.present else 0.0,
        g.get("usual", 1.0),
        math.log1p(g.get("tokens", 3.0)),
        logit(g.get("best", 0.0)) - out,
        math.log1p(g.get("many", 1.0)),
        g.get("told", 0.0),
        (1.0 - g.get("finding_word", 0.0)) * second if said.finding else 0.0,
        second * g.get("site_word", 0.0),
    ]


def probability(said: Said) -> float:
    if not said.signals:
        return said.sure
    w = shipped()
    z = w.bias + sum(a * b for a, b in zip(w.weights, features(said), strict=True))
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, z))))


def weigh(said: Sequence[Said], know: Knowledge) -> tuple[Said, ...]:
    out = []
    for s in said:
        p = probability(s)
        if p < DROP:
            continue
        s = s.but(sure=p)
        if p < ASK and not s.doubts:
            s = s.doubted(Doubt("reading", "may not be what was meant", ()))
        out.append(s)
    return tuple(out)
