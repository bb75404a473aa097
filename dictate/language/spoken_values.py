"""One value with its unit at a place of a text: "two kilos two", "a second and a half", "half a centimetre"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from dictate.language.numbers import Number, Token, numbers, tokens
from dictate.language.phrases import Unit, point_is_silent_before, units, words_of
from dictate.language.tables_in_use import from_tables, number_words, rows
from dictate.language.tooth_tables import tooth_words

FRACTIONS = {"½": 0.5, "¼": 0.25, "¾": 0.75, "⅓": 1 / 3, "⅔": 2 / 3}
HEAVIEST = {"kg": 130, "[lb_av]": 290}
"""Beyond the heaviest dogs; "four sixty-eight kilos" is then a four and 68 kilos."""
NEXT_TOPIC = ("time", "rate")
"""A single word of these before another number opens the next topic: "38.5 HR 120", "one breaths thirty-six"."""
PAUSED = 3
"""So many digits said one by one, with pauses, are one number."""
OUNCES_IN_POUND = 16
GRAMS_IN_KILOGRAM = 1000


@dataclass(frozen=True, slots=True)
class Value:
    """A number with its unit; token places are half-open."""

    value: float
    first: int
    last: int
    unit: Unit | None = None
    readings: tuple[float, ...] = ()
    pieces: tuple[Number, ...] = ()
    form: str = "plain"
    comparator: str | None = None
    weak: bool = False
    numeral: bool = False


@dataclass(frozen=True, slots=True)
class Talk:
    """A tokenised text with its numbers by their first token."""

    text: str
    words: Sequence[Token]
    numbers: Mapping[int, Number]

    def low(self, at: int) -> str:
        """The lower-case token at a place, or the empty string outside the text."""
        return self.words[at].low if 0 <= at < len(self.words) else ""


def talk(text: str, words: Sequence[Token]) -> Talk:
    """The numbers of a tokenised text, laid out for reading values."""
    found = with_pauses(words, numbers(words, unit_words=point_is_silent_before()))
    by_place = {number.first: number for number in found}
    for number in found:
        for piece in number.pieces[1:]:
            by_place.setdefault(piece.first, piece)
    return Talk(text, words, by_place)


def with_pauses(words: Sequence[Token], found: Sequence[Number]) -> list[Number]:
    """The numbers, those told digit by digit with a pause after each ("heart rate, one, two, eight") made one.

    Only three single digits behind a word that such a number follows are; more, fewer or counted ones stay apart.
    """
    out: list[Number] = []
    at = 0
    while at < len(found):
        run = _paused(words, found, at)
        if len(run) == PAUSED and found[at].value and _digits_due(words, run[0].first):
            value = sum(digit.value * 10**place for place, digit in enumerate(reversed(run)))
            last = run[-1].last
            out.append(Number(value, run[0].first, last, "digits", (), tuple(run), all(d.numeral for d in run)))
        else:
            out += run
        at += len(run)
    return out


def _paused(words: Sequence[Token], found: Sequence[Number], at: int) -> list[Number]:
    """The single digits from number `at` on with at most a comma or full stop between them; at least that number."""
    run = [found[at]]
    marks = 0
    if not _single(words, run[0]):
        return run
    for number in found[at + 1 :]:
        between = [word.text for word in words[run[-1].last : number.first]]
        if between not in ([], [","], ["."]) or not _single(words, number):
            break
        marks += len(between)
        run.append(number)
    counted = all(b.value == a.value + 1 for a, b in pairwise(run))  # "teeth 1, 2, 3" are three
    return run[:1] if len(run) > 1 and counted and marks else run


def _single(words: Sequence[Token], number: Number) -> bool:
    return (
        number.form == "plain" and number.value < 10 and number.last == number.first + 1 and len(words) > number.first
    )


def _digits_due(words: Sequence[Token], at: int) -> bool:
    """Whether the word before token `at`, a comma or full stop aside, is one that a number said in digits follows."""
    back = at - 1
    if back >= 0 and words[back].text in (",", ".", ":"):
        back -= 1
    return back >= 0 and any(words[back].low in tooth_words(part) for part in ("number follows", "other number"))


@from_tables
def opening_words() -> frozenset[str]:
    """Words other than numbers with which a quantity can begin ("half", "a", "second and a half", "II")."""
    kinds = number_words()
    openers = ("half", "quarter", "couple", "dozen", "article", "roman", "zero before a scale")
    alone = {tokens(row["form"])[0].low for row in rows("units.csv") if row["article"]}
    return frozenset(FRACTIONS) | alone | {word for kind in openers for word in kinds[kind]}


def value_at(said: Talk, at: int) -> Value | None:
    """The value that starts at token `at`, or None."""
    number = said.numbers.get(at)
    if number is not None and number.form != "ordinal":
        return _counted(said, number)
    if number is not None and number.value == 3 and said.low(number.last) == "of":
        return _part(said, at, at, 0.33)  # "a third of a centimetre"
    word = said.words[at]
    kinds = number_words()
    if word.text in FRACTIONS:
        return _measured(said, Value(FRACTIONS[word.text], at, at + 1, form="fraction"))
    if word.low in kinds["half"] or word.low in kinds["quarter"]:
        return _part(said, at, at, float(kinds["half"].get(word.low) or kinds["quarter"][word.low]))
    if word.low in kinds["couple"]:
        return _couple(said, at, at)
    if word.low in kinds["dozen"]:
        return Value(12, at, at + 1, form="words", weak=True)
    if word.low in kinds["article"]:
        return _after_article(said, at)
    return _unit_and_a_half(said, at)


def fraction_tail(said: Talk, at: int) -> tuple[int, float] | None:
    """ "and a half", "and three quarters", "½", "1/2" from token `at`: (stop, part)."""
    place = at + 1 if said.low(at) == "-" else at
    if said.low(at) in FRACTIONS:
        return at + 1, FRACTIONS[said.low(at)]
    if part := _written_fraction(said, at):
        return part
    if said.low(place) != "and":
        return None
    kinds = number_words()
    place += 2 if said.low(place + 1) == "-" else 1
    if said.low(place) in kinds["article"]:
        place += 2 if said.low(place + 1) == "-" else 1
    elif (
        (number := said.numbers.get(place)) is not None
        and number.value == 3
        and said.low(after := number.last + (said.low(number.last) == "-")) in kinds["quarters"]
    ):
        return after + 1, 0.75
    for kind in ("half", "quarter"):
        if said.low(place) in kinds[kind]:
            return place + 1, float(kinds[kind][said.low(place)])
    return None


def _written_fraction(said: Talk, at: int) -> tuple[int, float] | None:
    if at + 2 >= len(said.words) or said.low(at + 1) != "/" or said.low(at + 3) == "/":
        return None
    over, under = said.low(at), said.low(at + 2)
    if over in ("1", "3") and under in ("2", "3", "4", "8"):
        return at + 3, int(over) / int(under)
    return None


def _counted(said: Talk, number: Number) -> Value | None:
    value = Value(
        number.value,
        number.first,
        number.last,
        None,
        number.readings,
        number.pieces,
        number.form,
        numeral=number.numeral,
    )
    after = number.last + (said.low(number.last) == "-")
    if said.low(after) in number_words()["quarters"]:
        return _part(said, number.first, after, number.value / 4)
    if (written := _written_fraction(said, number.first)) and _unit(said, written[0], written[1]):
        return _measured(said, Value(written[1], number.first, written[0], form="fraction"))
    tail = fraction_tail(said, number.last) if number.value == int(number.value) else None
    if tail:
        return _measured(
            said, replace(value, value=number.value + tail[1], last=tail[0], form="fraction", pieces=(), readings=())
        )
    joint = words_of("of scale").after(said.words, number.last) if number.form == "joined" else None
    if joint is not None and joint[0] in said.numbers:  # "twelve nine out of nine"
        head = number.pieces[0]
        return Value(head.value, head.first, head.last, numeral=head.numeral)
    measured = _measured(said, value)
    if number.form in ("joined", "pair") and measured.unit is not None:
        # Nobody says "two fifteen millimetres" for 215, nor leaves out the point of a length.
        if number.form == "joined":
            wrong = measured.unit.quantity not in ("mass", "temperature", "angle")
        else:
            most = HEAVIEST.get(measured.unit.ucum, number.value)
            wrong = measured.unit.quantity == "length" or number.value > most
        if wrong:
            head = number.pieces[0]
            return Value(head.value, head.first, head.last, numeral=head.numeral)
    return measured


def _unit(said: Talk, at: int, value: float) -> tuple[int, Unit] | None:
    """The unit that follows a number, also after a hyphen; the size of the value tells which "degrees" are meant."""
    place = at + 1 if said.low(at) == "-" and at + 1 < len(said.words) and said.words[at + 1].kind == "word" else at
    hit = units().after(said.words, place)
    if hit is None:
        return None
    stop, unit = hit
    if unit.quantity in NEXT_TOPIC and stop == place + 1 and stop in said.numbers:
        return None
    if unit.ucum == "deg" and unit.other:
        if said.low(stop) == "of":  # of an arc: "forty degrees of flexion"
            return stop, replace(unit, other=())
        if 30 <= value <= 45:
            return stop, replace(unit, ucum="Cel", quantity="temperature", other=("deg",))
        if 90 <= value <= 112:
            return stop, replace(unit, ucum="[degF]", quantity="temperature", other=("deg",))
        return stop, replace(unit, other=())
    return stop, unit


def _measured(said: Talk, value: Value) -> Value:
    """The value with the unit after it and whatever completes it ("two kilos two", "six pounds four ounces")."""
    hit = _unit(said, value.last, value.value)
    if hit is None:
        return value
    stop, unit = hit
    if said.low(stop - 1) in number_words()["perhaps no unit"] and (
        said.words[stop - 1].text.isupper()
        or (not value.numeral and not _ends(said, stop))
        or said.low(stop) in number_words()["after no unit"]
    ):
        return value  # "eight and a half MM pink": the next thing, not millimetres
    whole = replace(value, last=stop, unit=unit)
    if value.value != int(value.value):
        return whole
    if tail := fraction_tail(said, stop):
        return replace(whole, value=value.value + tail[1], last=tail[0], form="fraction", pieces=(), readings=())
    if unit.quantity == "mass":
        return _mass_remainder(said, whole)
    return whole


def _ends(said: Talk, at: int) -> bool:
    return at >= len(said.words) or said.words[at].kind == "punct"


def _mass_remainder(said: Talk, whole: Value) -> Value:
    place = whole.last
    while said.low(place) in ("and", ","):
        place += 1
    number = said.numbers.get(place)
    if number is None or number.form in ("ordinal", "joined") or whole.unit is None:
        return whole
    small = units().after(said.words, number.last)
    code = small[1].ucum if small else None
    base, rest = whole.value, number.value
    if whole.unit.ucum == "[lb_av]" and code == "[oz_av]" and small:
        return replace(whole, value=base + rest / OUNCES_IN_POUND, last=small[0])
    if whole.unit.ucum == "kg" and code == "g" and small and rest < GRAMS_IN_KILOGRAM:
        return replace(whole, value=round(base + rest / GRAMS_IN_KILOGRAM, 4), last=small[0])
    if place != whole.last or small is not None or rest != int(rest) or number.form == "digits":
        return whole  # a comma or a unit of its own makes it another value
    if any(words_of(kind).after(said.words, number.last) for kind in ("of scale", "range", "by")):
        return whole
    if whole.unit.ucum == "kg" and 1 <= rest <= 9:
        return replace(whole, value=round(base + rest / 10, 4), last=number.last, form="joined")
    if whole.unit.ucum == "kg" and 50 <= rest < GRAMS_IN_KILOGRAM and rest % 50 == 0:
        value = round(base + rest / GRAMS_IN_KILOGRAM, 4)
        others = (round(base + rest / 100, 4),) if rest < 100 else ()
        return replace(whole, value=value, last=number.last, readings=others, form="joined")
    if whole.unit.ucum == "[lb_av]" and 1 <= rest < OUNCES_IN_POUND:
        others = (round(base + rest / 10, 4),) if rest < 10 else ()
        return replace(whole, value=base + rest / OUNCES_IN_POUND, last=number.last, readings=others, form="joined")
    return whole


def _part(said: Talk, first: int, at: int, part: float) -> Value | None:
    """ "half a centimetre", "a quarter of an inch", "three quarters of a pound"; a part of something needs a unit."""
    place = at + 1
    kinds = number_words()
    if said.low(place) == "-":
        place += 1
    if said.low(place) == "of":
        place += 1
    article = said.low(place) in kinds["article"]
    if article:
        place += 1
    if article and said.low(place) in kinds["dozen"]:
        return Value(part * 12, first, place + 1, form="words", weak=True)
    hit = _unit(said, place, part) if place < len(said.words) else None
    return Value(part, first, hit[0], hit[1], form="fraction") if hit else None


def _couple(said: Talk, first: int, at: int) -> Value | None:
    place = at + 2 if said.low(at + 1) == "of" else at + 1
    hit = _unit(said, place, 2)
    return Value(2, first, hit[0], hit[1], form="words", comparator="~") if hit else None


def _after_article(said: Talk, at: int) -> Value | None:
    kinds, following = number_words(), said.low(at + 1)
    if following in kinds["half"] or following in kinds["quarter"]:
        part = _part(said, at, at + 1, float(kinds["half"].get(following) or kinds["quarter"][following]))
        return part
    if following in kinds["couple"]:
        return _couple(said, at, at + 1)
    if following in kinds["dozen"]:
        return Value(12, at, at + 2, form="words", weak=True)
    hit = units().after(said.words, at + 1)
    if hit is None or not hit[1].article:
        return None
    stop, unit = hit
    if tail := fraction_tail(said, stop):
        return Value(1 + tail[1], at, tail[0], unit, form="fraction")
    if following in kinds["ordinal"]:  # "a second" may be the next one in a row
        after = said.words[stop].kind if stop < len(said.words) else "punct"
        plain = after == "punct" or said.low(stop) in kinds["a second after"]
        back = at - 2 if at and said.words[at - 1].kind == "tail" else at - 1
        before = said.low(back) in kinds["a second before"] or words_of("comparator before").before(said.words, at)
        if not (plain or before):
            return None
    return Value(1, at, stop, unit, form="article", weak=True)


def _unit_and_a_half(said: Talk, at: int) -> Value | None:
    """ "second and a half" at the start of a sentence, its article lost."""
    hit = units().after(said.words, at)
    if hit is None or not hit[1].article:
        return None
    tail = fraction_tail(said, hit[0])
    return Value(1 + tail[1], at, tail[0], hit[1], form="fraction") if tail else None
