"""Words of a talk, folded so that spelling, capitals, possessives and short forms do not matter."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

PIECE = re.compile(r"\d+(?:[.,:/]\d+)*(?:st|nd|rd|th)?|[^\W\d_]+(?:['’][^\W\d_]+)*|[^\w\s]", re.UNICODE)
SHORT_FORMS = {
    "can't": ("can", "not"),
    "cannot": ("can", "not"),
    "won't": ("will", "not"),
    "shan't": ("shall", "not"),
    "ain't": ("is", "not"),
    "let's": ("let", "us"),
    "it's": ("it", "is"),
    "he's": ("he", "is"),
    "she's": ("she", "is"),
    "that's": ("that", "is"),
    "there's": ("there", "is"),
    "here's": ("here", "is"),
    "what's": ("what", "is"),
    "i'm": ("i", "am"),
    "gonna": ("going", "to"),
}
BARE_SHORT_FORMS = {  # as recognisers write them that give no apostrophes
    w.replace("'", ""): parts
    for w, parts in SHORT_FORMS.items()
    if w not in ("he's", "she's", "it's", "i'm", "ain't", "won't")
} | {"im": ("i", "am"), "wont": ("will", "not"), "aint": ("is", "not"), "hes": ("he", "is"), "shes": ("she", "is")}
NEGATED_VERBS = [
    "do", "does", "did", "is", "are", "was", "were", "has", "have", "had", "would", "could", "should", "must",
    "need",
]  # fmt: skip
BARE_SHORT_FORMS |= {f"{verb}nt": (verb, "not") for verb in NEGATED_VERBS}
ENDINGS = {"n't": "not", "'ll": "will", "'re": "are", "'ve": "have", "'m": "am", "'d": "would"}
# Passed over inside a phrase, so that "flip the ear" and "flip his ear" are the same words.
DETERMINERS = frozenset(
    ["the", "a", "an", "his", "her", "its", "this", "that", "these", "those", "their", "your", "my", "our"]
)


@dataclass(frozen=True, slots=True)
class Token:
    """One folded word or mark; two tokens of one short form share their characters. `start` and `end` are half-open."""

    text: str
    start: int
    end: int
    starts_piece: bool = True

    @property
    def is_mark(self) -> bool:
        return not self.text[0].isalnum()


def tokenize(text: str, spelling: Mapping[str, str] | None = None) -> tuple[Token, ...]:
    """Fold `text` into tokens. `spelling` maps one way of spelling a word to the one that the lexicon's phrases use."""
    spelling = spelling or {}
    out: list[Token] = []
    for match in PIECE.finditer(text):
        start, end = match.span()
        for position, part in enumerate(fold(match.group())):
            out.append(Token(spelling.get(part, part), start, end, position == 0))
    return tuple(out)


def fold(piece: str) -> tuple[str, ...]:
    """One written word as its folded parts: "Doesn't" is "does", "not"; "heart's" is "heart"."""
    word = piece.lower().replace("’", "'")
    if word in SHORT_FORMS:
        return SHORT_FORMS[word]
    if word in BARE_SHORT_FORMS:
        return BARE_SHORT_FORMS[word]
    for ending, stands_for in ENDINGS.items():
        if word.endswith(ending) and len(word) > len(ending):
            return word.removesuffix(ending), stands_for
    if word.endswith(("'s", "s'")):
        return (word[:-2] if word.endswith("'s") else word[:-1],)
    return (word,)


def singular(word: str) -> str | None:
    """The regular singular of a plural, or None where the word does not look like one."""
    if len(word) < 4 or not word.endswith("s") or word.endswith(("ss", "us", "is")):
        return None
    if word.endswith("ies") and len(word) > 4:
        return word[:-3] + "y"
    if word.endswith(("ches", "shes", "sses", "xes", "zes")):
        return word[:-2]
    return word[:-1]
