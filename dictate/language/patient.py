"""Who the patient is, as far as the talk tells: name, species, breed, sex, neutered, age."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Literal

from dictate.exam.statements import EncounterTold, Measure, PatientTold
from dictate.language.naming import name
from dictate.language.quantities import Quantity, quantities
from dictate.language.tokens import Token, tokenize
from dictate.language.vocabulary import PhraseTree, Term
from dictate.lexicon import Lexicon

NOT_NOW = frozenset(
    ["not", "no", "without", "will", "would", "if", "needs", "need", "until", "next", "unless", "when", "once"]
)
OPENING = 70  # tokens in which a patient is usually introduced
AGE_UNITS = ("a", "mo", "wk", "d")
MALE, FEMALE = frozenset(["he", "him", "his", "himself"]), frozenset(["she", "her", "hers", "herself"])


def patient_tree(lexicon: Lexicon, spelling: dict[str, str]) -> PhraseTree:
    """The phrases of the tables `breeds`, `patient_words` and `conditions`."""
    tree = PhraseTree()
    for table in ("breeds", "patient_words", "conditions"):
        for row in getattr(lexicon, table):
            words = [t.text for t in tokenize(row.words, spelling) if t.text != "-"]
            if words:
                tree.add(words, table, row)
    return tree


Sex = Literal["male", "female"]


def patient_told(
    text: str,
    tree: PhraseTree,
    spelling: dict[str, str],
    known: frozenset[str],
    sex_of_parts: Callable[[Sequence[Token]], Sex | None] | None = None,
) -> tuple[PatientTold, EncounterTold]:
    """The patient and the visit.

    Args:
        known: folded words of the lexicon, which are hardly ever a name.
        sex_of_parts: the sex that the parts of the body named in a talk tell; asked where nothing else tells it.
    """
    tokens = tokenize(text, spelling)
    found = tree.find(tokens)
    terms = tuple(t for t in found if t.kind != "conditions")
    early = [t for t in terms if t.first < OPENING * 2]
    breed = next((row for t in _breeds_first(early) for row in t.rows), None)
    traits = [row for t in early if t.kind == "patient_words" for row in t.rows]
    sex = next((r.sex for r in traits if r.sex), None) or sex_of_pronouns(tokens) or sex_of_few_pronouns(tokens)
    if sex is None and sex_of_parts is not None:
        sex = sex_of_parts(tokens)
    by_the_way = sorted(traits, key=lambda r: r.species is not None)  # a word for the animal tells it only by the way
    neutered = next((r.neutered for r in by_the_way if r.neutered is not None), None)
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
    return told, EncounterTold(conditions=conditions(tokens, found))


def conditions(tokens: Sequence[Token], found: Sequence[Term]) -> tuple[str, ...]:
    """The states that the exam was made under, each once, as far as they are not denied or only planned."""
    out: dict[str, None] = {}
    for term in found:
        if term.kind != "conditions":
            continue
        before = [t.text for t in tokens[max(0, term.first - 4) : term.first]]
        marks = [i for i, word in enumerate(before) if word in ".,;!?"]
        if not NOT_NOW & set(before[marks[-1] + 1 if marks else 0 :]):
            out.setdefault(term.rows[0].condition)
    return tuple(out)


def _breeds_first(terms: Sequence[Term]) -> list[Term]:
    return sorted(
        (t for t in terms if t.kind == "breeds" and t.first < OPENING * 2), key=lambda t: (t.first > OPENING, t.first)
    )


def sex_of_pronouns(tokens: Sequence[Token]) -> Sex | None:
    """The sex that most pronouns tell, where seven in ten agree."""
    male, female = sum(t.text in MALE for t in tokens), sum(t.text in FEMALE for t in tokens)
    most = max(male, female)
    if most < 2 or most < 0.7 * (male + female):
        return None
    return "male" if male == most else "female"


def sex_of_few_pronouns(tokens: Sequence[Token]) -> Sex | None:
    """The sex that a single pronoun tells, where no other one speaks against it."""
    male, female = any(t.text in MALE for t in tokens), any(t.text in FEMALE for t in tokens)
    if male == female:
        return None
    return "male" if male else "female"


def age(text: str, tokens: Sequence[Token], terms: Sequence[Term]) -> Measure | None:
    """The patient's age: the time or bare number of the opening that is likeliest one."""
    limit = tokens[min(OPENING, len(tokens)) - 1].end if tokens else 0
    one = re.search(r"\b(?:an?|one) (year|month|week)s?[\s-]old\b", text[:limit].lower())
    if one:
        return Measure(1, {"year": "a", "month": "mo", "week": "wk"}[one.group(1)])
    if half := re.search(r"\b(?:an?|one)?\s*year and a half\b(?! (?:ago|since|later))", text[:limit].lower()):
        before = text[max(0, half.start() - 8) : half.start()].lower().split()
        if not before or before[-1] not in ("for", "past", "last", "in", "every"):
            return Measure(18, "mo")
    best, told = 1.0, None
    for q in quantities(text[: limit + 40]):
        if q.char_start >= limit:
            break
        likely = _likely_age(text, q, terms)
        if likely > best:
            best, told = likely, Measure(q.number, q.unit or "a")
    return told


def _likely_age(text: str, q: Quantity, terms: Sequence[Term]) -> float:
    """How likely a quantity is the age; above 1 it is taken for one."""
    after = text[q.char_end : q.char_end + 16].lower()
    before = text[max(0, q.char_start - 14) : q.char_start].lower()
    near = 0.7 if _near(q, terms, text) else 0.0
    early = -0.004 * text.count(" ", 0, q.char_start)
    if q.unit in AGE_UNITS:
        likely = 0.9 + near + early - (0.5 if q.unit == "d" else 0.0)
        likely += 2.0 if re.match(r"[\s-]*(of age|old)\b", after) else 0.0
        likely += 0.5 if re.search(r"\b(aged?|est\.?|estimated|about)\s$", before) else 0.0
        elsewhere = re.match(r"[\s,]*(ago|later|since|back|now|post|after|before|off|on)\b", after)
        return likely - (
            1.5
            if elsewhere or re.search(r"\b(for|in|every|past|last|next|after|at|since)\s(about\s)?$", before)
            else 0.0
        )
    if q.unit is not None or q.kind != "number" or not 0 < q.number <= 25 or q.number * 2 % 1:
        return 0.0
    ends = re.match(
        r"\s*(?:[,.;?!]|ish\b|-ish\b|or so\b|or thereabouts|,? and\b|now\b|at a guess|by the|if\b|$)",
        text[q.char_end :],
    )
    begins = re.search(
        r"(?:[,.:;!?]\s*|\bis\s|\bof\s|['’]s\s|\band\s|\bonly\s|\babout\s|\best\.?\s|\bestimated\s|^)$",
        text[: q.char_start],
    )
    if not (ends and begins) and not _beside(q, terms, text):
        return 0.0
    told = 0.6 if re.search(r"(he|she|it|\bis|\bnow|est|estimated|about)(['’]s)?\s(only\s|about\s)?$", before) else 0.0
    return 0.55 + near + told + early


def _beside(q: Quantity, terms: Sequence[Term], text: str) -> bool:
    """In a text without marks: whether words of breed, sex or neutering stand on both sides, or on one side twice."""
    if "," in text[:400]:
        return False
    after = [t for t in terms if 0 <= t.start - q.char_end <= 2]
    before = [t for t in terms if 0 <= q.char_start - t.end <= 2]
    return bool(after or before)


def _near(q: Quantity, terms: Sequence[Term], text: str) -> bool:
    """Whether words of breed, sex or neutering stand in the same sentence, close by."""
    low, high = max(text.rfind(".", 0, q.char_start), text.rfind("\n", 0, q.char_start)), text.find(".", q.char_end)
    high = high if high >= 0 else len(text)
    return any(low <= t.start <= high and abs(t.start - q.char_start) < 90 for t in terms)
