"""Names to pick from by typing a few letters: sites and findings, with the other words that people use for them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from dictate.lexicon.tables import Lexicon

MOST_WORDS = 12


@dataclass(frozen=True, slots=True)
class Name:
    """One name that a record uses; `also` holds other words for it, so that their letters find it too."""

    name: str
    also: str = ""


class _ByIdentity:
    """A lexicon as a key: it is never changed, only replaced."""

    __slots__ = ("lexicon",)

    def __init__(self, lexicon: Lexicon) -> None:
        self.lexicon = lexicon

    def __hash__(self) -> int:
        return id(self.lexicon)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _ByIdentity) and other.lexicon is self.lexicon


def site_names(lexicon: Lexicon) -> tuple[Name, ...]:
    """All sites, in the order of the form."""
    return _sites(_ByIdentity(lexicon))


def finding_names(lexicon: Lexicon) -> tuple[Name, ...]:
    """All findings, in the order of the table."""
    return _findings(_ByIdentity(lexicon))


@lru_cache(maxsize=2)
def _sites(key: _ByIdentity) -> tuple[Name, ...]:
    words: dict[str, list[str]] = {}
    for row in key.lexicon.site_words:
        words.setdefault(row.site, []).append(row.words)
    return tuple(Name(row.site, " ".join(words.get(row.site, ())[:MOST_WORDS])) for row in key.lexicon.sites)


@lru_cache(maxsize=2)
def _findings(key: _ByIdentity) -> tuple[Name, ...]:
    words: dict[str, list[str]] = {}
    for row in key.lexicon.finding_words:
        words.setdefault(row.finding, []).append(row.words)
    return tuple(Name(row.finding, " ".join(words.get(row.finding, ())[:MOST_WORDS])) for row in key.lexicon.findings)
