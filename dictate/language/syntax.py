"""What general English grammar tells of a stretch of talk: who speaks of whom, in which tense and mood."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from dictate.language.tokens import Token

if TYPE_CHECKING:
    from spacy.tokens import Doc

LISTENER = frozenset(["you", "your", "yourself"])
SPEAKER = frozenset(["i", "we", "us", "me", "my", "our"])
FINITE = ("VBZ", "VBP", "VBD", "MD")


@dataclass(frozen=True, slots=True)
class Syntax:
    """`tags` are Penn Treebank tags by character position of a word's first letter; empty where no tagger was run."""

    tags: Mapping[int, str] = field(default_factory=dict)


def syntax(doc: Doc) -> Syntax:
    """The tagger's results, taken out of the document so that later steps depend on no library's type."""
    return Syntax({token.idx: token.tag_ for token in doc})


def mood(tokens: Sequence[Token], known: Syntax) -> dict[str, float]:
    """Signals of a stretch's grammar, 0 or 1: an order, the past, a modal verb, the listener, the speaker, no verb."""
    tags = [known.tags.get(t.start, "") for t in tokens if t.starts_piece and not t.is_mark]
    words = [t.text for t in tokens]
    return {
        "order": float(bool(tags) and tags[0] == "VB"),
        "past": float("VBD" in tags),
        "modal": float("MD" in tags),
        "listener": float(any(w in LISTENER for w in words)),
        "speaker": float(any(w in SPEAKER for w in words)),
        "verbless": float(not any(t in FINITE for t in tags)),
    }
