"""Which words of the opening are the patient's name: a small logistic choice among them.

Weights and the list of common words lie in `naming.json`, made by `scripts/fit_naming.py` from narrations with truth.
"""

from __future__ import annotations

import calendar
import json
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from dictate.language.tokens import Token
from dictate.language.vocabulary import Term

OPENING = 60  # tokens among which a name is looked for
LEAST = 0.08  # probability below which no name is told
LEAST_COMMON = 0.3  # the same for a word that talks use otherwise, where nothing else of a patient is told
TITLES = frozenset([
    "mr", "mrs", "ms", "miss", "mister", "dr", "doctor", "sir", "lady", "madam", "lord", "king", "queen", "prince",
    "princess", "old", "auntie", "uncle", "saint", "captain", "grandma", "grandpa", "canon", "mama",
])  # fmt: skip
PEOPLE = frozenset(["mr", "mrs", "ms", "miss", "dr", "doctor", "nurse", "mister", "officer"])
GREETINGS = frozenset([
    "hello", "hi", "hey", "well", "now", "righto", "right", "ok", "okay", "so", "oh", "come", "morning", "evening",
    "on", "for", "is", "and", "called", "named", "meet", "here", "aw", "ah",
])  # fmt: skip
DATES = frozenset(word.lower() for word in (*calendar.day_name, *calendar.month_name) if word not in ("May", "June"))
CAPITALISED = re.compile(r"[A-Z][\w'’-]*")


@dataclass(frozen=True, slots=True)
class Naming:
    cased: tuple[float, ...]
    uncased: tuple[float, ...]
    common: frozenset[str]


@lru_cache(maxsize=1)
def shipped() -> Naming:
    raw = json.loads((Path(__file__).parent / "naming.json").read_text(encoding="utf-8"))
    return Naming(tuple(raw["cased"]), tuple(raw["uncased"]), frozenset(raw["common"]))


def candidates(text: str, tokens: Sequence[Token], terms: Sequence[Term]) -> tuple[list[int], bool]:
    """Tokens of the opening that may be a name, and whether the text has capitals to go by."""
    cased = sum(c.isupper() for c in text) * 40 > len(text.split())
    breeds = {i for t in terms if t.kind == "breeds" for i in range(t.first, t.last)}
    out = []
    for i, token in enumerate(tokens[:OPENING]):
        if (
            token.text in GREETINGS
            or token.text in DATES
            or token.is_mark
            or not token.text.isalpha()
            or not token.starts_piece
            or len(token.text) < 2
        ):
            continue
        if cased and (not CAPITALISED.fullmatch(text[token.start : token.end]) or (i in breeds and i + 1 in breeds)):
            continue
        out.append(i)
    return out, cased


def features(
    text: str, tokens: Sequence[Token], terms: Sequence[Term], i: int, known: frozenset[str], common: frozenset[str]
) -> list[float]:
    """What speaks for token `i` being the name."""
    word = tokens[i].text
    before = tokens[i - 1].text if i else "."
    after = tokens[i + 1].text if i + 1 < len(tokens) else "."
    opens = before in ".?!\n…"
    near = [t.first - i for t in terms if t.first > i]
    gap = min(near, default=99)
    behind = min((i - t.last for t in terms if t.last <= i), default=99)
    again = sum(1 for t in tokens if t.text == word and text[t.start].isupper()) - 1
    small = sum(1 for t in tokens if t.text == word and text[t.start].islower())
    written = text[tokens[i].start : tokens[i].end]
    return [
        math.log1p(i),
        1.0 if i == 0 else 0.0,
        1.0 if opens else 0.0,
        1.0 if after == "," else 0.0,
        1.0 if after in ".!" else 0.0,
        1.0 if before == "," else 0.0,
        1.0 if before == "," and after == "," else 0.0,
        1.0 if before in GREETINGS else 0.0,
        1.0
        if i > 1 and before in (",", "wee", "little", "old", "sweet", "my") and tokens[i - 2].text in GREETINGS
        else 0.0,
        1.0 if before in PEOPLE else 0.0,
        1.0 if gap <= 3 else 0.0,
        1.0 if gap <= 8 else 0.0,
        1.0 if behind <= 3 else 0.0,
        min(again, 4.0),
        min(small, 3.0),
        1.0 if word in known else 0.0,
        1.0 if word in common else 0.0,
        1.0 if written.endswith(("'s", "’s")) else 0.0,
        1.0 if written.isupper() and len(written) < 5 else 0.0,
        1.0 if any(t.first <= i < t.last for t in terms) else 0.0,
        1.0 if after in ("is", "has", "the", "was") else 0.0,
    ]


def name(text: str, tokens: Sequence[Token], terms: Sequence[Term], known: frozenset[str]) -> str | None:
    """The likeliest name in the opening, as written there; None where no word is likely enough.

    Args:
        terms: terms of breeds and of sex, neutering and age.
        known: folded words of the lexicon, which are seldom a name.
    """
    found, cased = candidates(text, tokens, terms)
    model = shipped()
    weights = model.cased if cased else model.uncased
    best, chosen = LEAST, None
    for i in found:
        z = weights[-1] + sum(
            a * b for a, b in zip(weights, features(text, tokens, terms, i, known, model.common), strict=False)
        )
        p = 1 / (1 + math.exp(-z))
        if p > max(best, LEAST_COMMON if tokens[i].text in model.common and not terms else 0.0):
            best, chosen = p, i
    if chosen is None:
        return None
    first, last = chosen, chosen
    while (
        first
        and cased
        and (first - 1 in found)
        and text[tokens[first - 1].end : tokens[first].start] == " "
        and tokens[first - 1].text in TITLES
    ):
        first -= 1
    while (
        cased
        and last + 1 in found
        and text[tokens[last].end : tokens[last + 1].start] == " "
        and (tokens[last].text in TITLES or tokens[last + 1].text not in known | model.common)
    ):
        if any(t.first <= last + 1 < t.last for t in terms):
            break
        last += 1
    return re.sub(r"['’]s$", "", text[tokens[first].start : tokens[last].end])
