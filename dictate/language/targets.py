"""The lexicon made ready for repair: what may have been misheard, by its letters and its sounds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from pathlib import Path

from dictate.language.sounds import skeleton, sounds
from dictate.language.tokens import PIECE, fold, tokenize
from dictate.lexicon.tables import Lexicon

FIXED_TABLES = ("sides", "negation", "number_words", "not_examined", "edits")
NUMBER_KINDS = ("digit", "teen", "ten", "zero", "hundred", "thousand", "half", "quarter", "ordinal", "point")
CONTENT_TABLES = ("site_words", "finding_words", "normal_words", "severity", "patient_words")
WINDOW = 3  # words of a term, and words heard for one, at most
LEAST_LETTERS = 4  # shorter words of the lexicon are told from others by the table alone
SHORT, LONG = 7, 8  # letters
OFTEN = 3  # phrases of the lexicon that use a word
ORDINARY = Path(__file__).with_name("ordinary_words.txt")
ADJECTIVE = ("al", "ar", "ic", "ed", "ing", "ive", "ly", "ary", "id", "ile", "ior", "oid")  # their endings
TEXT_COLUMNS = ("words", "form", "word", "cue")
NAME_COLUMNS = ("british", "american", "site", "finding", "breed")

Known = Callable[[str], bool]
Words = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Target:
    """Words of the lexicon that something may have been misheard for. `bonus` is how much more readily than others."""

    text: str
    letters: str
    sounds: str
    words: int
    bonus: float


@dataclass(frozen=True, slots=True)
class Row:
    """A mishearing of the table: the words heard, as written pieces."""

    heard: Words
    meant: str
    note: str


@dataclass(frozen=True)
class Index:
    """The lexicon made ready. `skeletons` and `letters` are those of `targets`, in their order; `table` is by the first
    word heard, longest rows first; `words` are ordinary or known, `fixed` never put in or taken out by likeness,
    `clinical` the single words among the targets, `content` all words told of a patient, `numbers`
    number words, `points` those for a decimal point, `measures` the names of measured sites, `patient` what describes
    a patient."""

    targets: tuple[Target, ...]
    skeletons: tuple[str, ...]
    letters: tuple[str, ...]
    by_skeleton: dict[str, tuple[int, ...]]
    table: dict[str, tuple[Row, ...]]
    words: frozenset[str]
    fixed: frozenset[str]
    clinical: frozenset[str]
    content: frozenset[str]
    numbers: frozenset[str]
    points: frozenset[str]
    measures: frozenset[str]
    patient: frozenset[str]
    spelling: dict[str, str]


_INDEXES: dict[tuple[str, Known], Index] = {}


def index(lexicon: Lexicon, known: Known) -> Index:
    """The lexicon made ready; built once for each content and word list."""
    key = (lexicon.rule_set, known)
    if key not in _INDEXES:
        if len(_INDEXES) > 3:
            _INDEXES.clear()
        _INDEXES[key] = _build(lexicon, known)
    return _INDEXES[key]


@lru_cache(maxsize=1)
def more_english() -> frozenset[str]:
    """Common words that the language model's list lacks (the file tells where they are from)."""
    lines = ORDINARY.read_text(encoding="utf-8").splitlines()
    return frozenset(line for line in lines if line and not line.startswith("#"))


# What a word may have had in place of an ending: nothing, or one of the letters after the colon.
ENDINGS = """s es:e ies:y|ie ing:e|ion ed:e|ion er:e ers:e est:e ly:le y:e ier:y iest:y ness iness:y ish:e able:e ful
less like le in:ing ens:en ic:os|is|ia|us|um|a ous:a|us|um itic:itis"""
PREFIXES = """anti de dis endo epi extra hyper hypo in inter intra micro mis multi non over para peri poly post pre re
retro semi sub supra un under"""
_FORMS = tuple((e, ("", *i.split("|")) if i else ("",)) for e, _, i in (x.partition(":") for x in ENDINGS.split()))
_PREFIXES = tuple(PREFIXES.split())


def is_form(word: str, known: Known) -> bool:
    """Whether a word is a regular form of a known one ("wagging", "unpacked")."""
    for ending, instead in _FORMS:
        stem = word.removesuffix(ending)
        if stem == word or len(stem) < 3:
            continue
        stems = [stem + more for more in instead]
        if stem[-1] == stem[-2]:
            stems.append(stem[:-1])
        if any(map(known, stems)):
            return True
    return any(word.startswith(p) and len(word) > len(p) + 3 and known(word[len(p) :]) for p in _PREFIXES)


def written(text: str) -> Words:
    """The written words of a text, in lower case, as a talk is cut into them."""
    return tuple(m.group().lower().replace("’", "'") for m in PIECE.finditer(text) if m.group()[0].isalnum())


def _phrases(lexicon: Lexicon, *tables: str) -> Iterator[tuple[str, str, Words]]:
    """Table, note and folded words of every phrase in these tables; without any named, of all, and of all names."""
    spelling = {row.british: row.american for row in lexicon.spelling}
    columns = TEXT_COLUMNS if tables else (*TEXT_COLUMNS, *NAME_COLUMNS)
    for table in tables or [f.name for f in fields(lexicon) if f.name not in ("rule_set", "mishearings")]:
        for row in getattr(lexicon, table):
            for column in columns:
                if isinstance(value := getattr(row, column, None), str):
                    words = tuple(t.text for t in tokenize(value, spelling) if t.text.isalpha())
                    yield table, getattr(row, "note", ""), words


def _build(lexicon: Lexicon, known: Known) -> Index:
    as_heard = {fold(row.heard)[0] for row in lexicon.mishearings if row.heard == row.meant}
    everything = frozenset(w for _, _, words in _phrases(lexicon) for w in words) | as_heard | more_english()
    fixed = frozenset(words[0] for _, _, words in _phrases(lexicon, *FIXED_TABLES) if len(words) == 1)
    numbers = {kind: frozenset(r.word for r in lexicon.number_words if r.kind == kind) for kind in NUMBER_KINDS}
    targets = [
        Target(" ".join(words), "".join(words), "".join(map(sounds, words)), len(words), bonus)
        for words, bonus in _bonuses(lexicon, known, fixed).items()
        if sum(map(len, words)) >= LEAST_LETTERS
    ]
    targets += list(_said_otherwise(lexicon, targets))
    skeletons = tuple(skeleton(t.sounds) for t in targets)
    by_skeleton: dict[str, list[int]] = {}
    for i, bones in enumerate(skeletons):
        by_skeleton.setdefault(bones, []).append(i)
    table: dict[str, list[Row]] = {}
    for row in lexicon.mishearings:
        heard = written(row.heard)
        if heard and "".join(heard).replace("'", "") != row.meant:
            table.setdefault(heard[0], []).append(Row(heard, row.meant, row.note))
    return Index(
        targets=tuple(targets),
        skeletons=skeletons,
        letters=tuple(t.letters for t in targets),
        by_skeleton={k: tuple(v) for k, v in by_skeleton.items()},
        table={k: tuple(sorted(v, key=lambda r: -len(r.heard))) for k, v in table.items()},
        words=everything,
        fixed=fixed,
        clinical=frozenset(t.text for t in targets if t.words == 1),
        content=frozenset(w for _, _, words in _phrases(lexicon, *CONTENT_TABLES) for w in words),
        numbers=frozenset().union(*numbers.values()),
        points=numbers["point"],
        measures=frozenset(row.site for row in lexicon.measures),
        patient=frozenset(row.words for row in lexicon.patient_words),
        spelling={row.british: row.american for row in lexicon.spelling},
    )


def _said_otherwise(lexicon: Lexicon, targets: Sequence[Target]) -> Iterator[Target]:
    """Targets once more as some people say them."""
    others: dict[str, list[str]] = {}
    for row in lexicon.pronunciations:
        others.setdefault(row.word, []).append("".join(map(sounds, written(row.said))))
    for target in targets:
        words = target.text.split()
        for word in others.keys() & set(words):
            for said in others[word]:
                told = "".join(said if w == word else sounds(w) for w in words)
                if told != target.sounds:
                    yield replace(target, sounds=told)


def _bonuses(lexicon: Lexicon, known: Known, fixed: frozenset[str]) -> dict[Words, float]:
    """Every target, with what speaks for it: a name of a site or finding or a word of many phrases is likelier meant
    than one picturesque word; short ordinary ones are seldom heard as no word at all."""
    tables = ("site_words", "finding_words", "normal_words")
    phrases = [p for p in _phrases(lexicon, *tables) if p[2] and not fixed & set(p[2])]
    uses = Counter(w for table, _, words in phrases if table != "normal_words" for w in set(words))
    names = {w for s in lexicon.sites for w in s.site.split()} | {
        w for f in lexicon.findings for w in f.finding.split()
    }
    out: dict[Words, float] = {}

    def raise_to(words: Words, bonus: float) -> None:
        out[words] = max(out.get(words, -1.0), bonus)

    for table, note, words in phrases:
        strange = [w for w in words if not known(w)]
        if len(words) == 1:
            raise_to(words, _bonus(words[0], table, note, bool(strange), uses[words[0]], words[0] in names))
        elif table != "normal_words" and strange:
            if len(words) <= WINDOW:
                raise_to(words, 0.02)
            for word in strange:
                raise_to((word,), 0.04 if word in names else 0.02 if uses[word] >= OFTEN else -0.02)
    alone = {words for table, _, words in phrases if table == "site_words"}
    single = [w for w in out if len(w) == 1 and not w[0].endswith(("s", "i", "ae"))]
    for words in [w for w in single if w in alone or not w[0].endswith(ADJECTIVE)]:
        out.setdefault((_plural(words[0]),), out[words] - 0.01)
    return out


def _bonus(word: str, table: str, note: str, strange: bool, uses: int, is_name: bool) -> float:
    if is_name:
        bonus = 0.04
    elif strange and (uses >= OFTEN or len(word) >= LONG):
        bonus = 0.02
    else:
        bonus = -0.02 if uses >= OFTEN else -0.05
    if len(word) < SHORT and not strange and not is_name:
        bonus -= 0.05
    return bonus - (0.04 if note == "weak" else 0.0) - (0.04 if table == "normal_words" else 0.0)


def _plural(word: str) -> str:
    if word.endswith("y") and word[-2] not in "aeiou":
        return word[:-1] + "ies"
    return word + ("es" if word.endswith(("x", "ch", "sh", "z")) else "s")
