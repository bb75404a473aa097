"""Mark in a talk everything that the lexicon knows: the first step of reading."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from operator import attrgetter

from dictate.language.clauses import Stretch, cut
from dictate.language.knowledge import Knowledge, knowledge
from dictate.language.patient import Sex, patient_tree
from dictate.language.quantities import Quantity, quantities
from dictate.language.syntax import Syntax
from dictate.language.tables_in_use import use_tables
from dictate.language.teeth import ToothMention, teeth
from dictate.language.tokens import Token, tokenize
from dictate.language.vocabulary import PhraseTree, Term, starting_in
from dictate.lexicon import Lexicon

CONTENT_TABLES = ("site_words", "finding_words", "normal_words", "not_examined", "sides")
CUE_TABLES = ("negation", "hedges", "cues", "edits", "carry", "severity", "limb_words")


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The lexicon with its phrase trees: `content` what is named and found, `context` the words around it."""

    lexicon: Lexicon
    content: PhraseTree
    context: PhraseTree
    spelling: dict[str, str]
    know: Knowledge
    patients: PhraseTree
    known: frozenset[str]

    def sex_of_parts(self, tokens: Sequence[Token]) -> Sex | None:
        """The sex that the parts of the body named in a talk tell; None where they tell none, or both."""
        told: set[Sex] = set()
        for term in self.content.find(tokens):
            sites = {row.site for row in term.rows} if term.kind == "site_words" else set()
            told |= {"male" if self.know.sex_of[s] == "male" else "female" for s in sites if s in self.know.sex_of}
        return told.pop() if len(told) == 1 else None


@dataclass(frozen=True, slots=True)
class Marked:
    """A talk with its tokens, terms and stretches. `cues` are the context terms, `terms` all others."""

    text: str
    tokens: tuple[Token, ...]
    terms: tuple[Term, ...]
    cues: tuple[Term, ...]
    stretches: tuple[Stretch, ...]
    syntax: Syntax = field(default_factory=Syntax)

    def cues_in(self, stretch: Stretch, *kinds: str) -> tuple[Term, ...]:
        here = starting_in(self.cues, stretch.first, stretch.last)
        return tuple(c for c in here if c.kind in kinds and c.last <= stretch.last)

    def words(self, first: int, last: int) -> str:
        """The talk's own words from token `first` to `last` (half-open)."""
        return self.text[self.tokens[first].start : self.tokens[last - 1].end] if last > first else ""


_BUILT: dict[str, Vocabulary] = {}


def vocabulary(lexicon: Lexicon) -> Vocabulary:
    """The lexicon made ready for reading; built once for each content."""
    use_tables(lexicon)
    if lexicon.rule_set not in _BUILT:
        _BUILT[lexicon.rule_set] = _build(lexicon)
    return _BUILT[lexicon.rule_set]


def _build(lexicon: Lexicon) -> Vocabulary:
    spelling = {row.british: row.american for row in lexicon.spelling}
    content, context = PhraseTree(), PhraseTree()
    # "left ear" is read as a side and a place, so that "left ear flap" can be read too.
    bare_sides = {row.words for row in lexicon.sides if row.side in ("left", "right", "both")}
    unsided = {row.words for row in lexicon.site_words if not row.side}
    for tables, tree in ((CONTENT_TABLES, content), (CUE_TABLES, context)):
        for table in tables:
            for row in getattr(lexicon, table):
                words = [t.text for t in tokenize(row.words, spelling) if t.text not in "-–"]
                parted = table == "site_words" and row.side and words[0] in bare_sides
                if words and not (parted and len(words) == 2 and words[1] in unsided):
                    tree.add(words, table, row)
    known = frozenset(
        t.text
        for table in ("site_words", "finding_words", "not_examined")
        for row in getattr(lexicon, table)
        for t in tokenize(row.words)
    ) | {row.word for row in lexicon.number_words}
    return Vocabulary(lexicon, content, context, spelling, knowledge(lexicon), patient_tree(lexicon, spelling), known)


def mark(
    text: str,
    words: Vocabulary,
    *,
    species: str | None = None,
    syntax: Syntax | None = None,
    begins: frozenset[int] = frozenset(),
) -> Marked:
    """Tokens, terms, quantities, teeth and stretches of `text`."""
    tokens = tokenize(text, words.spelling)
    named = words.content.find(tokens)
    context = words.context.find(tokens)
    toothed = [_term("tooth", m, tokens) for m in teeth(text, species=species)]
    measured = [_term("quantity", q, tokens) for q in quantities(text)]
    terms = _settle(tokens, named, toothed, measured, context)
    return Marked(
        text,
        tokens,
        terms,
        context,
        cut(text, tokens, terms, paired=words.know.paired, begins=begins),
        syntax or Syntax(),
    )


def _term(kind: str, found: Quantity | ToothMention, tokens: tuple[Token, ...]) -> Term:
    first = bisect_right(tokens, found.char_start, key=attrgetter("end"))
    last = bisect_left(tokens, found.char_end, lo=first, key=attrgetter("start"))
    return Term(kind, (found,), first, last, found.char_start, found.char_end)


def _settle(
    tokens: tuple[Token, ...],
    named: tuple[Term, ...],
    toothed: list[Term],
    measured: list[Term],
    context: tuple[Term, ...],
) -> tuple[Term, ...]:
    """One set of terms from the sources: teeth before numbers, numbers before words; what only looks like one out."""
    out: list[Term] = list(toothed)
    covered = {i for t in toothed for i in range(t.first, t.last)}
    for term in measured:
        if not covered & set(range(term.first, term.last)):
            out.append(term)
            covered |= set(range(term.first, term.last))
    longer_denial = {(c.first): c.last for c in context if c.kind == "negation"}
    for term in named:
        if covered & set(range(term.first, term.last)):
            continue
        if term.kind == "not_examined" and longer_denial.get(term.first, 0) > term.last:
            continue
        if term.kind == "sides" and (not _is_side(tokens, term) or _denies_findings(tokens, term, named, context)):
            continue
        out.append(term)
    return tuple(sorted(out, key=lambda t: (t.first, t.last, t.kind)))


def _is_side(tokens: tuple[Token, ...], term: Term) -> bool:
    """Whether a side word tells a side here: "Right, next" and "all right" do not, nor does a row without a side."""
    if not any(row.side for row in term.rows):
        return False
    if len(term) > 1:
        return True
    before = tokens[term.first - 1].text if term.first else "."
    after = tokens[term.last].text if term.last < len(tokens) else "."
    opens = before in ".?!\n…" or term.first == 0
    return not (opens and after in ",.!" and _is_discourse(tokens, term))


def _denies_findings(tokens: tuple[Token, ...], term: Term, named: tuple[Term, ...], context: tuple[Term, ...]) -> bool:
    """Whether a side word that also denies stands before findings ("neither pain nor swelling") and tells no side."""
    denies = any(c.kind == "negation" and c.first == term.first and c.last == term.last for c in context)
    return denies and any(t.first == term.last and t.kind in ("finding_words", "normal_words") for t in named)


def _is_discourse(tokens: tuple[Token, ...], term: Term) -> bool:
    """An opening word with a mark behind it tells a side only where its opposite was told shortly before."""
    word = tokens[term.first].text
    opposite = {"left": "right", "right": "left"}.get(word)
    return opposite is None or not any(t.text == opposite for t in tokens[max(0, term.first - 25) : term.first])
