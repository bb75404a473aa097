"""Numbers as people say them and as recognisers write them: "one oh two point five", "38 point 9", "2 0 4".

A small grammar of our own, because general libraries read "one oh two" as three numbers. The words are rows of
`lexicon/number_words.csv`. A run of number words is cut into numbers by the cheapest way of reading it, so that
"thirty eight four one twenty twenty four" without commas is 38.4, 120 and 24.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from dictate.language.tables_in_use import from_tables, number_words

_TOKEN = re.compile(
    r"(?P<ordinal>\d+(?:st|nd|rd|th)\b)"
    r"|(?P<num>\d+(?:[.,]\d+)*|\.\d+)"
    r"|(?P<by>(?<=\d)[x×](?=\d))"
    r"|(?P<code>[^\W\d_]+\d[^\W_]*)"
    r"|(?P<word>o['’]clock\b|[^\W\d_]+)"
    r"|(?P<tail>['’][^\W\d_]+)"
    r"|(?P<punct><=|>=|\S)"
)

CONCAT_LONG = 10
"""A run of at least so many single digits is one long code (a chip number), not a row of values."""

PAIR_WITH_POINT = 200
"""From here on a number said in pairs ("two twenty") has hardly ever a decimal."""


class Token(NamedTuple):
    """One word, numeral or sign of a text; `kind` is ordinal, num, by, code, word, tail or punct."""

    text: str
    low: str
    kind: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Number:
    """One number of a text.

    `value` is the likeliest reading and `readings` are others. `first` and `last` are token places (half-open).
    `form` is `plain`, `point`, `digits` (one oh four), `pair` (one twenty), `joined` (thirty-eight nine: no point
    was said) or `ordinal`. `pieces` are the numbers when a joined one is read as several.
    """

    value: float
    first: int
    last: int
    form: str = "plain"
    readings: tuple[float, ...] = ()
    pieces: tuple[Number, ...] = ()
    numeral: bool = False


class _Atom(NamedTuple):
    kind: str  # D digit, Z zero, T teen, Y ten, H hundred, K thousand, P point, A article, & and, N numeral
    value: float
    first: int
    last: int
    numeral: bool


class _Piece(NamedTuple):
    stop: int
    cost: float
    value: float
    form: str
    readings: tuple[float, ...]


_KINDS = {
    "digit": "D", "zero": "Z", "oh": "O", "teen": "T", "ten": "Y", "hundred": "H", "thousand": "K", "point": "P",
    "repeat": "R",
}  # fmt: skip


@from_tables
def _atoms() -> dict[str, tuple[str, float]]:
    return {
        word: (letter, float(value or 0))
        for kind, letter in _KINDS.items()
        for word, value in number_words()[kind].items()
    }


def tokens(text: str) -> list[Token]:
    """The words, numerals and signs of a text with their places, half-open."""
    return [
        Token(found := match.group(), found.lower(), match.lastgroup or "punct", match.start(), match.end())
        for match in _TOKEN.finditer(text)
    ]


def numeral(text: str) -> tuple[float, tuple[float, ...]]:
    """Value and other readings of a numeral: "38,5" is 38.5, "2,208" is 2208 or perhaps 208."""
    if "," not in text:
        return (float(text), ()) if text.count(".") < 2 else (float(text.replace(".", "")), ())
    head, *tail = text.split(",")
    if all(len(part.split(".")[0]) == 3 for part in tail) and len(head) <= 3:
        whole = float(text.replace(",", ""))
        # A recogniser that hears "two, two oh eight" writes "2,208".
        return (whole, (float(tail[-1]), float(f"{head}.{tail[0]}"))) if len(tail) == 1 else (whole, ())
    if len(tail) == 1 and "." not in text:
        return float(f"{head}.{tail[0]}"), (float(head), float(tail[0]))
    return float(text.replace(",", "")), ()


def _hyphen_joins(words: Sequence[Token], at: int) -> bool:
    """Whether a hyphen joins parts of one number ("thirty-eight", "2-0-4", "38-9") and is no dash of a range."""
    before, following = words[at - 1], words[at + 1] if at + 1 < len(words) else None
    if following is None or before.end != words[at].start or following.start != words[at].end:
        return False
    if following.low in _atoms():
        return before.kind != "num"
    if following.kind == "num" and len(following.text) == 2 and following.text[0] == "0":
        return before.kind == "num" and len(before.text) == 1  # "1-07"
    if following.kind != "num" or len(following.text) > 1:
        return False
    return len(before.text) == 1 or (before.text.isdigit() and _temperature_like(float(before.text)))


def _run(words: Sequence[Token], at: int) -> list[_Atom]:
    """The number words that follow one another from `at`, joined by spaces or hyphens."""
    known, place = _atoms(), at
    atoms: list[_Atom] = []
    while place < len(words):
        word = words[place]
        if word.text == "-" and atoms:
            if not _hyphen_joins(words, place):
                break
            place += 1
            continue
        if word.kind == "num":
            value, _ = numeral(word.text)
            if len(word.text) == 2 and word.text[0] == "0" and atoms and atoms[-1].kind == "D" and value:
                zero = _Atom("Z", 0, place, place + 1, True)  # "1-07" is one zero seven
                atoms += [zero, _Atom("D", value, place, place + 1, True)]
                place += 1
                continue
            single = len(word.text) == 1
            atoms.append(_Atom(("D" if value else "Z") if single else "N", value, place, place + 1, True))
        elif word.kind == "word" and word.low in known:
            kind, value = known[word.low]
            if kind == "R":
                repeated = known.get(words[place + 1].low) if place + 1 < len(words) else None
                if repeated is None or repeated[0] not in "DZO" or not (atoms or repeated[0] != "D"):
                    break
                atoms += [_Atom(repeated[0], repeated[1], place, place + 2, False)] * int(value)
                place += 2
                continue
            atoms.append(_Atom(kind, value, place, place + 1, False))
        elif word.low == "and" and atoms and atoms[-1].kind in "HK":
            atoms.append(_Atom("&", 0, place, place + 1, False))
        elif word.low in number_words()["article"]:
            if atoms or place + 1 >= len(words) or known.get(words[place + 1].low, ("", 0))[0] not in ("H", "K"):
                break
            atoms.append(_Atom("A", 1, place, place + 1, False))
        else:
            break
        place += 1
    return atoms


def _below_hundred(atoms: Sequence[_Atom], i: int) -> list[tuple[int, float]]:
    """Readings of 0 to 99 from atom `i`: (stop, value), the longest first."""
    if i >= len(atoms):
        return []
    kind, value = atoms[i].kind, atoms[i].value
    if kind == "Y":
        if i + 1 < len(atoms) and atoms[i + 1].kind == "D" and not atoms[i + 1].numeral:
            return [(i + 2, value + atoms[i + 1].value), (i + 1, value)]
        return [(i + 1, value)]
    if kind in "DTZ":
        return [(i + 1, value)]
    return []


def _wholes(atoms: Sequence[_Atom], i: int) -> list[_Piece]:
    """Every whole number that can be read from atom `i`."""
    kind = atoms[i].kind
    found = [_Piece(stop, 1.0, value, "plain", ()) for stop, value in _below_hundred(atoms, i)]
    if kind == "N":
        found.append(_Piece(i + 1, 1.0, atoms[i].value, "plain", ()))
    starts = [(i, 1.0)] if kind in "HK" else []
    starts += [(i + 1, atoms[i].value)] if kind in "AN" else []
    starts += _below_hundred(atoms, i)
    for stop, head in starts:
        found += [_Piece(end, 1.0, value, "plain", ()) for end, value in _with_scales(atoms, stop, head)]
    if kind == "D":
        found += _digit_forms(atoms, i)
    return found


def _with_scales(atoms: Sequence[_Atom], i: int, head: float) -> list[tuple[int, float]]:
    """Readings of "... hundred [and] ..." and "... thousand [and] ..." whose head has been read up to atom `i`."""
    if i >= len(atoms) or atoms[i].kind not in "HK":
        return []
    size = atoms[i].value
    total = head * size
    found = [(i + 1, total)]
    rest = i + 2 if i + 1 < len(atoms) and atoms[i + 1].kind == "&" else i + 1
    if rest < len(atoms):
        tails = _below_hundred(atoms, rest)
        if atoms[rest].kind == "N" and atoms[rest].value < size:
            tails = [(rest + 1, atoms[rest].value)]
        for stop, value in tails:
            if value:
                found.append((stop, total + value))
            if size == 1000 and value:
                found += [(end, total + more) for end, more in _with_scales(atoms, stop, value) if more < 1000]
    return found


def _digit_forms(atoms: Sequence[_Atom], i: int) -> list[_Piece]:
    """ "one oh four", "two zero four", "one twenty-eight", "nine eight one ..." from atom `i`."""
    found = []
    first = atoms[i]
    for stop, value in _below_hundred(atoms, i + 1):
        if value >= 10 and not first.numeral and not atoms[i + 1].numeral:
            found.append(_Piece(stop, 1.1, first.value * 100 + value, "pair", ()))
    stop, value = i, 0.0
    while stop < len(atoms) and atoms[stop].kind in "DZO":
        value = value * 10 + atoms[stop].value
        stop += 1
        length = stop - i
        zeros = any(atom.kind in "ZO" for atom in atoms[i:stop])
        counting = all(atoms[k + 1].value == atoms[k].value + 1 for k in range(i, stop - 1))
        if length == 3 and zeros:
            found.append(_Piece(stop, 1.0 if atoms[i + 1].kind in "ZO" else 1.2, value, "digits", ()))
        elif (length == 3 and not counting) or (length == 4 and zeros):
            found.append(_Piece(stop, 2.3, value, "digits", ()))
    if stop - i >= CONCAT_LONG:
        found.append(_Piece(stop, 3.0, value, "digits", ()))
    if (
        i + 2 < len(atoms) and atoms[i + 1].kind in "ZO" and atoms[i + 2].kind == "N" and atoms[i + 2].value < 10
    ):  # "1 oh 2.5"
        found.append(_Piece(i + 3, 1.0, first.value * 100 + atoms[i + 2].value, "digits", ()))
    return found


def _decimals(atoms: Sequence[_Atom], i: int) -> list[tuple[int, str]]:
    """Readings of what follows a spoken point: (stop, digits)."""
    found, stop, digits = [], i, ""
    while stop < len(atoms) and atoms[stop].kind in "DZO" and len(digits) < 4:
        digits += str(int(atoms[stop].value))
        stop += 1
        found.append((stop, digits))
    if i < len(atoms) and atoms[i].kind in "TY":
        found += [(stop, str(int(value))) for stop, value in _below_hundred(atoms, i)]
    if i < len(atoms) and atoms[i].kind == "N" and atoms[i].value == int(atoms[i].value):
        found.append((i + 1, str(int(atoms[i].value))))
    return found


def _temperature_like(value: float) -> bool:
    """Whole degrees after which people leave out the word "point"; limits are those of a thermometer, either unit."""
    return 34 <= value <= 42 or 94 <= value <= 107


def _pieces(atoms: Sequence[_Atom], i: int, unit_after: bool) -> list[_Piece]:
    """Every number that can be read from atom `i`, with what the reading costs."""
    found = []
    wholes = _wholes(atoms, i) if atoms[i].kind not in "O&P" else []
    if atoms[i].kind == "P":
        for stop, digits in _decimals(atoms, i + 1):
            found.append(_Piece(stop, 1 + 0.15 * len(digits), float(f"0.{digits}"), "point", ()))
    for whole in wholes:
        found.append(whole)
        if whole.stop >= len(atoms) or whole.value != int(whole.value):
            continue
        following = atoms[whole.stop]
        if following.kind == "P":
            for stop, digits in _decimals(atoms, whole.stop + 1):
                value = float(f"{int(whole.value)}.{digits}")
                # "five twenty-six point two" is more likely five and 26.2 than 526.2.
                apart = 1.0 if whole.form == "pair" and whole.value >= PAIR_WITH_POINT else 0.0
                found.append(_Piece(stop, whole.cost + apart + 0.15 * (len(digits) - 1), value, "point", ()))
        elif following.kind in "DZO":
            like = _temperature_like(whole.value)
            value = float(f"{int(whole.value)}.{int(following.value)}")
            ends = whole.stop + 1 == len(atoms) and unit_after
            spoken = not atoms[i].numeral and not following.numeral
            hyphen = following.first > atoms[whole.stop - 1].last and spoken  # "three-six" is 3.6
            if like or (spoken and 10 <= whole.value < 100 and following.kind == "D"):
                cost = whole.cost + (0.3 if like else 0.6)
                found.append(_Piece(whole.stop + 1, cost, value, "joined", (whole.value, following.value)))
            elif (ends or hyphen) and 0 < whole.value < 10 and following.kind == "D":
                found.append(_Piece(whole.stop + 1, 1.7, value, "joined", (whole.value, following.value)))
    return found


def _segment(atoms: Sequence[_Atom], unit_after: bool) -> list[tuple[int, _Piece]]:
    """The cheapest way of cutting a run into numbers: (first atom, piece) in order."""
    if len(atoms) == 1 and atoms[0].kind in "DTYZN":
        return [(0, _Piece(1, 1.0, atoms[0].value, "plain", ()))]
    size = len(atoms)
    best: list[tuple[float, _Piece | None]] = [(0.0, None)] * (size + 1)
    for i in range(size - 1, -1, -1):
        best[i] = (best[i + 1][0] + 3.0, None)  # a word left out: "oh dear" after "one"
        for piece in _pieces(atoms, i, unit_after):
            cost = piece.cost + best[piece.stop][0]
            if cost < best[i][0] - 1e-9:
                best[i] = (cost, piece)
    cut, i = [], 0
    while i < size:
        chosen = best[i][1]
        if chosen is not None:
            cut.append((i, chosen))
        i = chosen.stop if chosen is not None else i + 1
    return cut


def _as_number(atoms: Sequence[_Atom], i: int, piece: _Piece, words: Sequence[Token]) -> Number:
    readings = piece.readings
    pieces: tuple[Number, ...] = ()
    first, last = atoms[i].first, atoms[piece.stop - 1].last
    written = all(atom.numeral for atom in atoms[i : piece.stop])
    if piece.form == "plain" and last == first + 1 and words[first].kind == "num":
        readings = numeral(words[first].text)[1]
    elif piece.form == "joined":
        middle = atoms[piece.stop - 1].first
        head = Number(piece.readings[0], first, middle, numeral=atoms[i].numeral)
        pieces = (head, Number(piece.readings[1], middle, last, numeral=atoms[piece.stop - 1].numeral))
        readings = (float(f"{int(head.value)}{int(piece.readings[1])}"),) if head.value < 100 else ()
    elif piece.form == "pair":
        middle = atoms[i + 1].first
        pieces = (Number(atoms[i].value, first, middle), Number(piece.value % 100, middle, last))
    elif piece.form == "digits" and piece.stop - i <= 4:
        pieces = tuple(Number(atoms[k].value, atoms[k].first, atoms[k].last) for k in range(i, piece.stop))
    return Number(piece.value, first, last, piece.form, readings, pieces, written)


def numbers(words: Sequence[Token], *, unit_words: frozenset[str] = frozenset()) -> list[Number]:
    """The numbers of a tokenised text, in order, without judging which of them are quantities.

    Args:
        words: tokens of one text.
        unit_words: lower-case words of mass and temperature; before one of them "four two" is read as 4.2.
    """
    known, articles, ordinals = _atoms(), number_words()["article"], number_words()["ordinal"]
    nouns_follow = number_words()["noun phrase before"]
    found: list[Number] = []
    place = 0
    while place < len(words):
        word = words[place]
        if word.kind == "ordinal":
            found.append(Number(float(word.text[:-2]), place, place + 1, "ordinal", numeral=True))
            place += 1
            continue
        starts = word.kind == "num" or (word.kind == "word" and (word.low in known or word.low in articles))
        if starts and known.get(word.low, ("",))[0] == "P" and place and words[place - 1].low in nouns_follow:
            starts = False  # "at this point two of them"
        atoms = _run(words, place) if starts else []
        if not atoms:
            if word.low in ordinals:
                found.append(Number(float(ordinals[word.low]), place, place + 1, "ordinal"))
            place += 1
            continue
        last = atoms[-1].last
        unit_after = last < len(words) and words[last].low in unit_words
        cut = _segment(atoms, unit_after)
        found += [_as_number(atoms, i, piece, words) for i, piece in cut]
        place = last
    return _compound_ordinals(found, words)


def _compound_ordinals(found: list[Number], words: Sequence[Token]) -> list[Number]:
    """ "twenty-third", "one hundred and fifth": a number and the ordinal that completes it are one ordinal."""
    joined: list[Number] = []
    for number in found:
        before = joined[-1] if joined else None
        if number.form == "ordinal" and not number.numeral and before is not None and before.form == "plain":
            between = [word.low for word in words[before.last : number.first]]
            room = before.value % 100 == 0 or (before.value % 10 == 0 and number.value < 10) or number.value >= 100
            enough = before.value >= 20 or number.value >= 100
            if between in (["-"], [], ["and"]) and room and enough and not before.numeral:
                size = number.value if number.value < 100 else 0
                value = before.value + size if size else before.value * number.value
                joined[-1] = Number(value, before.first, number.last, "ordinal")
                continue
        joined.append(number)
    return joined
