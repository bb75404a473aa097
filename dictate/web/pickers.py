"""Names to pick from by typing a few letters: sites and findings, with the other words that people use for them.

They are written once for each lexicon: a list of all names is by far the longest part of a page.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from markupsafe import Markup, escape

from dictate.lexicon.tables import Lexicon

MOST_WORDS = 12


class _ByIdentity:
    """A lexicon as a key: it is never changed, only replaced."""

    __slots__ = ("lexicon",)

    def __init__(self, lexicon: Lexicon) -> None:
        self.lexicon = lexicon

    def __hash__(self) -> int:
        return id(self.lexicon)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _ByIdentity) and other.lexicon is self.lexicon


def name_lists(lexicon: Lexicon) -> Markup:
    """The lists "sites" and "findings" as HTML; `data-also` holds other words, whose letters find a name too."""
    return _lists(_ByIdentity(lexicon))


@lru_cache(maxsize=2)
def _lists(key: _ByIdentity) -> Markup:
    lexicon = key.lexicon
    sites = _list("sites", (s.site for s in lexicon.sites), ((w.site, w.words) for w in lexicon.site_words))
    named = ((w.finding, w.words) for w in lexicon.finding_words)
    return sites + _list("findings", (f.finding for f in lexicon.findings), named)


def _list(name: str, names: Iterable[str], words: Iterable[tuple[str, str]]) -> Markup:
    also: dict[str, list[str]] = {}
    for of, word in words:
        also.setdefault(of, []).append(word)
    options = (
        f'<option value="{escape(one)}" data-also="{escape(" ".join(also.get(one, ())[:MOST_WORDS]))}"></option>'
        for one in names
    )
    return Markup(f'<datalist id="{escape(name)}">{"".join(options)}</datalist>')
