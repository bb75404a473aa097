"""Cut a talk into stretches: the smallest parts that can say one thing of one place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictate.language.tokens import Token
from dictate.language.vocabulary import Term, starting_in

SENTENCE_ENDS = frozenset(".?!\n…")
PART_ENDS = frozenset(",;:()—–")
TURNS = frozenset(["but", "however", "though", "although", "while", "whereas", "except", "because", "so", "unless"])
JOINS = frozenset(["and", "or", "nor", "plus", "with"])
PLACES = frozenset([
    "in", "on", "of", "over", "at", "under", "behind", "along", "from", "around", "into", "inside", "near", "by",
    "between", "above", "below", "across", "to", "down", "up", "beside", "for", "off", "within", "toward",
    "towards", "round", "through", "onto",
])  # fmt: skip
SUBJECTS = frozenset(["he", "she", "it", "they", "there", "that", "this", "i", "we", "you"])
CONTENT = frozenset({"finding_words", "normal_words", "not_examined", "quantity"})
FINDINGS = frozenset({"finding_words"})
DENIES = frozenset(["no", "without", "neither"])
DENIED_JOINS = frozenset(["or", "nor", "and"])


@dataclass(frozen=True, slots=True)
class Stretch:
    """Tokens `first` to `last` (half-open), characters `start` to `end`; `sentence` counts sentences from 0.

    `mark` is the mark or joining word that opens the stretch ("" at the beginning of a sentence).
    """

    first: int
    last: int
    start: int
    end: int
    sentence: int
    mark: str
    terms: tuple[Term, ...] = ()

    def of(self, *kinds: str) -> tuple[Term, ...]:
        return tuple(t for t in self.terms if t.kind in kinds)


def sentence_breaks(text: str, tokens: Sequence[Token]) -> set[int]:
    """Positions of tokens that begin a sentence: after an end mark, or after an empty line."""
    breaks = {0}
    for i, token in enumerate(tokens[:-1]):
        following = tokens[i + 1]
        between = text[token.end : following.start]
        if token.text in SENTENCE_ENDS or "\n" in between:
            breaks.add(i + 1)
    return breaks


def cut(
    text: str,
    tokens: Sequence[Token],
    terms: Sequence[Term],
    *,
    paired: frozenset[str] = frozenset(),
    begins: frozenset[int] = frozenset(),
) -> tuple[Stretch, ...]:
    """The stretches of `text`, in order, each with the terms that lie in it.

    A stretch ends at a mark, before a turn ("but", "although"), before "and" where a whole statement stands on both
    sides of it, and before a new place once a place has been named and something has been said of it.

    Args:
        paired: names of the sites that have sides: a side word behind a statement of one goes with that statement.
        begins: characters at which a stretch begins whatever the words, for a text without marks.
    """
    inside = {i for t in terms for i in range(t.first + 1, t.last)}
    sentences = sentence_breaks(text, tokens)
    out: list[Stretch] = []
    first, mark, sentence = 0, "", -1
    by_start: dict[int, list[Term]] = {}
    for term in terms:
        by_start.setdefault(term.first, []).append(term)

    def close(last: int) -> None:
        nonlocal first
        body = [i for i in range(first, last) if not tokens[i].is_mark]
        if body:
            low, high = body[0], body[-1] + 1
            held = tuple(t for i in range(low, high) for t in by_start.get(i, ()) if t.last <= high)
            out.append(Stretch(low, high, tokens[low].start, tokens[high - 1].end, max(sentence, 0), mark, held))
        first = last

    for i, token in enumerate(tokens):
        if i in sentences:
            close(i)
            sentence, mark = sentence + 1, ""
            continue
        if i in inside:
            continue
        if (
            (token.text in PART_ENDS and not _list_goes_on(tokens, terms, first, i))
            or token.text in SENTENCE_ENDS
            or token.text in TURNS
            or (token.text == "-" and _is_dash(text, token))
            or (token.text in JOINS and _says(terms, first, i) and _starts_anew(tokens, terms, i + 1))
        ):
            close(i)
            mark = token.text
        elif token.start in begins:
            close(i)
            sentence, mark = sentence + _opens_sentence(tokens, terms, i, begins), ""
        elif _new_place(tokens, terms, first, i, paired):
            close(i)
            mark = ""
    close(len(tokens))
    return tuple(out)


def _list_goes_on(tokens: Sequence[Token], terms: Sequence[Term], first: int, comma: int) -> bool:
    """Whether a comma stands in a denied list whose place comes last ("no heat, pain or swelling in the carpus")."""
    if tokens[comma].text != "," or not FINDINGS.issuperset(t.kind for t in _within(terms, first, comma)):
        return False
    if not _within(terms, first, comma) or not any(tokens[i].text in DENIES for i in range(first, comma)):
        return False
    part, joined = comma + 1, False
    for i in range(comma + 1, len(tokens)):
        if tokens[i].text == ",":
            if not _within(terms, part, i) or not FINDINGS.issuperset(t.kind for t in _within(terms, part, i)):
                return False
            part, joined = i + 1, False
        elif tokens[i].text in PART_ENDS | SENTENCE_ENDS | TURNS:
            return False
        elif tokens[i].text in PLACES:
            before = _within(terms, part, i)
            places = [t for t in _within(terms, i + 1, min(i + 6, len(tokens))) if t.kind in ("site_words", "sides")]
            return joined and bool(before) and FINDINGS.issuperset(t.kind for t in before) and bool(places)
        joined = joined or tokens[i].text in DENIED_JOINS
    return False


def _is_dash(text: str, token: Token) -> bool:
    return text[token.start - 1 : token.start].isspace() and text[token.end : token.end + 1].isspace()


def _within(terms: Sequence[Term], first: int, last: int) -> list[Term]:
    return [t for t in starting_in(terms, first, last) if t.last <= last]


def _says(terms: Sequence[Term], first: int, last: int) -> bool:
    return any(t.kind in CONTENT for t in _within(terms, first, last))


def _starts_anew(tokens: Sequence[Token], terms: Sequence[Term], first: int) -> bool:
    """Whether the words from token `first` to the next mark or joining word are a statement with a place of its own."""
    last = first
    while last < len(tokens) and not tokens[last].is_mark and tokens[last].text not in TURNS:
        last += 1
    ahead = _within(terms, first, last)
    content = [t for t in ahead if t.kind in CONTENT]
    if not content:
        return False
    if first < len(tokens) and tokens[first].text in SUBJECTS | {"no", "not"}:
        return True
    places = [t for t in ahead if t.kind in ("site_words", "sides")]
    return bool(places) and places[0].first <= content[0].first


def _new_place(tokens: Sequence[Token], terms: Sequence[Term], first: int, at: int, paired: frozenset[str]) -> bool:
    """Whether token `at` opens a new place after a place and a statement, without a word of place before it."""
    here = [t for t in starting_in(terms, at, at + 1) if t.kind in ("site_words", "sides")]
    if not here or at == first:
        return False
    before = _within(terms, first, at)
    if any(t.kind == "sides" and t.last == at for t in before):
        return False
    sites = [t for t in before if t.kind == "site_words"]
    said = [t for t in before if t.kind in CONTENT]
    if not sites or not said or (here[0].kind == "sides" and not _site_follows(terms, at)):
        return False
    if here[0].kind == "sides" and _lacks_side(before, sites, paired):
        return False
    back = at - 1
    while back > first and (tokens[back].text in {"the", "his", "her", "a", "both", "that", "this", "its"}):
        back -= 1
    return tokens[back].text not in PLACES | JOINS | {"no", "not", "any"}


def _opens_sentence(tokens: Sequence[Token], terms: Sequence[Term], first: int, begins: frozenset[int]) -> bool:
    """In a text without marks: whether the stretch that begins here opens a sentence, by its place or subject."""
    last = next((i for i in range(first + 1, len(tokens)) if tokens[i].start in begins), len(tokens))
    return tokens[first].text in SUBJECTS or any(t.kind == "site_words" for t in _within(terms, first, last))


def _lacks_side(before: Sequence[Term], sites: Sequence[Term], paired: frozenset[str]) -> bool:
    """Whether the place spoken of has sides and none was told yet ("PLR intact OU menace reduced OD")."""
    site = sites[-1]
    if (
        any(t.kind == "sides" for t in before)
        or site.plural
        or any(row.side or row.number == "plural" for row in site.rows)
    ):
        return False
    return any(row.site in paired for row in site.rows)


def _site_follows(terms: Sequence[Term], at: int) -> bool:
    side = next(t for t in starting_in(terms, at, at + 1) if t.kind == "sides")
    return any(t.kind == "site_words" for t in starting_in(terms, side.last, side.last + 2))
