"""Who the patient is, as far as the talk tells: name, species, breed, sex, neutered, age."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from dictate.exam.statements import EncounterTold, Measure, PatientTold
from dictate.language.quantities import Quantity, quantities
from dictate.language.tokens import Token, tokenize
from dictate.language.vocabulary import PhraseTree, Term
from dictate.lexicon import Lexicon

OPENING = 70  # tokens in which a patient is usually introduced
AGE_UNITS = ("a", "mo", "wk", "d")
MALE, FEMALE = frozenset("he him his himself".split()), frozenset("she her hers herself".split())
CAPITALISED = re.compile(r"[A-Z][\w'’-]*")
NOT_A_NAME_AFTER = frozenset("mr mrs ms miss dr doctor nurse mister".split())
INTRODUCERS = (
    ("this", "is"), ("here", "is"), ("meet",), ("it", "is"), ("dictating", "on"), ("recording", "for"), ("chart", "for"),
    ("exam", "for"), ("patient",), ("named",), ("called",), ("hello",), ("hi",), ("hey",), ("well",), ("day",), ("come", "here"),
    ("morning",), ("evening",), ("on", "you", "come"), ("for",), ("on",),
)


def patient_tree(lexicon: Lexicon, spelling: dict[str, str]) -> PhraseTree:
    """The phrases of the tables `breeds` and `patient_words`."""
    tree = PhraseTree()
    for table in ("breeds", "patient_words"):
        for row in getattr(lexicon, table):
            words = [t.text for t in tokenize(row.words, spelling) if t.text != "-"]
            if words:
                tree.add(words, table, row)
    return tree


def patient_told(text: str, tree: PhraseTree, spelling: dict[str, str], known: frozenset[str]) -> tuple[PatientTold, EncounterTold]:
    """The patient and the visit.

    Args:
        known: folded words of the lexicon, which are hardly ever a name.
    """
    tokens = tokenize(text, spelling)
    terms = tree.find(tokens)
    early = [t for t in terms if t.first < OPENING * 2]
    breed = next((row for t in _breeds_first(early) for row in t.rows), None)
    traits = [row for t in early if t.kind == "patient_words" for row in t.rows]
    sex = next((r.sex for r in traits if r.sex), None) or sex_of_pronouns(tokens)
    neutered = next((r.neutered for r in traits if r.neutered is not None), None)
    species = breed.species if breed else next((r.species for r in traits if r.species), None)
    if species is None:
        species = next((r.species for t in terms if t.kind == "patient_words" for r in t.rows if r.species), None)
    told = PatientTold(
        name=name(text, tokens, early, known),
        species=species,
        breed=breed.breed if breed else None,
        sex=sex,
        neutered=neutered,
        age=age(text, tokens, early),
    )
    return told, EncounterTold()


def _breeds_first(terms: Sequence[Term]) -> list[Term]:
    return sorted((t for t in terms if t.kind == "breeds" and t.first < OPENING * 2), key=lambda t: (t.first > OPENING, t.first))


def sex_of_pronouns(tokens: Sequence[Token]) -> str | None:
    """The sex that most pronouns tell, where three in four agree."""
    count = Counter("male" if t.text in MALE else "female" for t in tokens if t.text in MALE | FEMALE)
    if not count:
        return None
    sex, most = count.most_common(1)[0]
    return sex if most >= 2 and most >= 0.7 * count.total() else None


def age(text: str, tokens: Sequence[Token], terms: Sequence[Term]) -> Measure | None:
    """The patient's age: a time in years, months or weeks near the introduction, or a bare number in its list of traits."""
    limit = tokens[min(OPENING, len(tokens)) - 1].end if tokens else 0
    found = [q for q in quantities(text[: limit + 40]) if q.char_start < limit]
    for q in found:
        if q.unit in AGE_UNITS and _tells_age(text, q, terms):
            return Measure(q.number, q.unit)
    for q in found:
        if q.unit is None and q.kind == "number" and 0 < q.number <= 25 and q.number == int(q.number) and _alone(text, q) and _near(q, terms, text):
            return Measure(q.number, "a")
    return None


def _tells_age(text: str, q: Quantity, terms: Sequence[Term]) -> bool:
    after = text[q.char_end : q.char_end + 14].lower()
    before = text[max(0, q.char_start - 12) : q.char_start].lower()
    if re.match(r"[\s-]*old\b", after) or re.search(r"\b(aged?|est\.?|about)\s$", before):
        return True
    if re.match(r"\s*(ago|later|since|back)\b", after) or re.search(r"\b(for|in|every|past|last|next)\s(about\s)?$", before):
        return False
    return _near(q, terms, text) or q.char_start < 60


def _alone(text: str, q: Quantity) -> bool:
    """Whether a number is a part of a list by itself (", nine, spayed")."""
    return bool(re.match(r"\s*(?:[,.;?]|or so|or thereabouts|,? (?:and|is)\b|$)", text[q.char_end :])) and bool(
        re.search(r"(?:[,.:;]|\bis|\bof|'s|\band)\s*$", text[: q.char_start])
    )


def _near(q: Quantity, terms: Sequence[Term], text: str) -> bool:
    """Whether words of breed, sex or neutering stand in the same sentence, close by."""
    low, high = max(text.rfind(".", 0, q.char_start), text.rfind("\n", 0, q.char_start)), text.find(".", q.char_end)
    high = high if high >= 0 else len(text)
    return any(low <= t.start <= high and abs(t.start - q.char_start) < 90 for t in terms)


def name(text: str, tokens: Sequence[Token], terms: Sequence[Term], known: frozenset[str]) -> str | None:
    """The likeliest name: a capitalised word of the opening that is no other known word, best where it is introduced,
    stands beside words of breed, age or sex, or comes again."""
    covered = {i for t in terms if t.kind == "breeds" for i in range(t.first, t.last)}
    capital = [
        i for i, t in enumerate(tokens[:OPENING]) if CAPITALISED.fullmatch(text[t.start : t.end]) and i not in covered and t.starts_piece
    ]
    scores: dict[int, float] = {}
    for i in capital:
        word = tokens[i].text
        if len(word) < 2 or (word in known and i not in _introduced(tokens, i)) or word in NOT_NAMES:
            continue
        opens = i == 0 or tokens[i - 1].text in ".?!\n…"
        score = 1.0 - 0.012 * i
        score += -0.6 if opens and _following(tokens, i) != "," else 0.3
        if _introduced(tokens, i):
            score += 1.0
        if any(t.first - i in range(1, 8) for t in terms):
            score += 0.7
        if i and tokens[i - 1].text in NOT_A_NAME_AFTER:
            score -= 1.5
        score += 0.15 * min(4, sum(t.text == word and text[t.start].isupper() for t in tokens) - 1)
        scores[i] = score
    if not scores:
        return _first_word(text, tokens, terms, known)
    best = max(scores, key=scores.__getitem__)
    last = best
    while last + 1 in scores and text[tokens[last].end : tokens[last + 1].start] == " ":
        last += 1
    return text[tokens[best].start : tokens[last].end].removesuffix("'s").removesuffix("’s")


NOT_NAMES = frozenset("i okay ok right so well and the this no yes monday tuesday wednesday thursday friday saturday sunday january february march april may june july august september october november december christmas easter".split())


def _following(tokens: Sequence[Token], i: int) -> str:
    return tokens[i + 1].text if i + 1 < len(tokens) else ""


def _introduced(tokens: Sequence[Token], i: int) -> tuple[int, ...]:
    back = i
    while back and tokens[back - 1].text in (",", "wee", "old", "little", "dear", "our", "lovely", "poor"):
        back -= 1
    for words in INTRODUCERS:
        if tuple(t.text for t in tokens[max(0, back - len(words)) : back]) == words:
            return (i,)
    return ()


def _first_word(text: str, tokens: Sequence[Token], terms: Sequence[Term], known: frozenset[str]) -> str | None:
    """The name in a text without capitals: the word introduced, or the first word before the patient's traits."""
    if any(c.isupper() for c in text):
        return None
    for i in range(min(OPENING, len(tokens))):
        if i and _introduced(tokens, i) and tokens[i].text not in known and any(t.first - i in range(1, 8) for t in terms):
            return tokens[i].text
    if tokens and any(t.first in range(1, 6) for t in terms) and tokens[0].text not in NOT_NAMES:
        return tokens[0].text
    return None
