"""What general English grammar tells of a talk: the part of speech of each word, and where sentences begin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from spacy.tokens import Doc


@dataclass(frozen=True, slots=True)
class Syntax:
    """`tags` are Penn Treebank tags by character position of a word's first letter; `sentences` are such positions."""

    tags: Mapping[int, str] = field(default_factory=dict)
    sentences: frozenset[int] = frozenset()


def syntax(doc: Doc) -> Syntax:
    """The tagger's and parser's results, taken out of the document so that later steps depend on no library's type."""
    return Syntax(
        tags={token.idx: token.tag_ for token in doc},
        sentences=frozenset(sent[0].idx for sent in doc.sents if len(sent)),
    )
