"""Quantities in a text: values with units, ranges, scores, grades, sizes, times, with their places.

`quantities` is a pure function of the text. It tells what was said, not what it belongs to: whether "one oh four" is a
heart rate or a tooth is for the caller to say, who knows the site. What can be read in more than one way carries its
other readings.
"""

from __future__ import annotations

from dataclasses import replace

from dictate.language.numbers import tokens
from dictate.language.phrases import Cue, Unit, cues, denominators, units, words_of
from dictate.language.quantity import Comparator, Kind, Quantity
from dictate.language.spoken_values import Talk, Value, opening_words, talk, value_at
from dictate.language.tables_in_use import number_words

__all__ = ["Comparator", "Kind", "Quantity", "quantities"]


def quantities(text: str) -> tuple[Quantity, ...]:
    """All quantities of a text in order; their places do not overlap.

    Args:
        text: any text, with or without punctuation and capitals, numbers as words or numerals.
    """
    words = tokens(text)
    said = talk(text, words)
    set_phrases = _set_phrases(said)
    found: list[Quantity] = []
    at = floor = 0
    while at < len(words):
        starts = at in said.numbers or words[at].low in opening_words()
        made = _quantity_at(said, at, floor) if starts and at not in set_phrases else None
        if made is None:
            at += 1
            continue
        quantity, at = made
        floor = at
        if quantity is not None:
            found.append(quantity)
    return tuple(found)


def _set_phrases(said: Talk) -> set[int]:
    """Tokens of phrases that are no numbers ("third eyelid"); in "all four point two kilos" there is one."""
    taken: set[int] = set()
    for start, stop, _ in words_of("no quantity").all(said.words):
        cut = any(
            (number := said.numbers.get(k)) is not None and number.last > stop and number.form != "joined"
            for k in range(start, stop)
        )
        if not cut:
            taken.update(range(start, stop))
    return taken


def _quantity_at(said: Talk, at: int, floor: int) -> tuple[Quantity | None, int] | None:
    """The quantity whose number starts at token `at` and where to go on; (None, place) skips what is none."""
    if skip := _date(said, at):
        return None, skip
    if clock := _clock(said, at):
        return clock
    if roman := _roman(said, at, floor):
        return roman
    if nil := _nil(said, at, floor):
        return nil
    value = value_at(said, at)
    if value is None:
        number = said.numbers.get(at)
        if number is not None and number.form == "ordinal":
            return _make(said, "ordinal", Value(number.value, at, number.last, form="ordinal"), at), number.last
        return None
    cue = _cue(said, value, floor)
    if cue is not None and value.unit is None and value.value > cue[1].top and value.pieces:
        head = value.pieces[0]  # "grade two fifteen millimetres": the grade is two
        value = Value(head.value, head.first, head.last, numeral=head.numeral)
    if cue is not None and (value.value > cue[1].top or (value.unit is not None and value.unit.ucum != "{score}")):
        cue = None
    composed = _composed(said, value, cue, floor)
    if composed is None:
        return None, value.last
    return composed


def _composed(said: Talk, value: Value, cue: tuple[int, Cue] | None, floor: int) -> tuple[Quantity | None, int] | None:
    """A value with what follows it: another dimension, the end of a range, the top of a scale; None for a pronoun."""
    if size := _dimensions(said, value):
        return _bounded(said, size[0], size[1], floor)
    upper = _upper(said, value, floor)
    last = upper.last if upper else value.last
    unit = upper.unit if upper and upper.unit else value.unit
    ranged = replace(value, last=last, unit=unit)
    most = upper.value if upper else value.value
    scale = None
    if unit is None or unit.ucum == "{score}":
        scale = _scale(said, last, most, spoken=cue is not None)
    if scale:
        kind: Kind = "grade" if cue and cue[1].kind == "grade" else "score"
        ranged = replace(ranged, last=scale[0])
        made = _make(said, kind, ranged, value.first, second=scale[1], scale=scale[1], cue=_cue_text(said, cue))
        return _bounded(said, replace(made, upper=upper.value if upper else None), scale[0], floor)
    if upper is None and (pressure := _pressure(said, value)):
        return _bounded(said, *pressure, floor)
    plus = said.low(last) in ("plus", "+") and unit is None and most <= 5 and most == int(most)
    if plus:
        last += 1
        ranged = replace(ranged, last=last)
    if cue or plus:
        kind = "grade" if cue is None else "score" if cue[1].kind == "score" else "grade"
        made = _make(said, kind, ranged, value.first, second=upper.value if upper else None, cue=_cue_text(said, cue))
    elif upper:
        made = _make(said, "range", ranged, value.first, second=upper.value)
    else:
        if _pronoun(said, value):
            return None
        made = _make(said, _kind(unit), ranged, value.first)
    return _bounded(said, replace(made, upper=upper.value if upper else None, plus=plus), last, floor)


def _kind(unit: Unit | None) -> Kind:
    if unit is None:
        return "number"
    return {"length": "size", "time": "time", "score": "score"}.get(unit.quantity, "number")  # type: ignore[return-value]


def _make(
    said: Talk, kind: Kind, value: Value, first: int, *, second: float | None = None, scale: float | None = None,
    cue: str | None = None,
) -> Quantity:  # fmt: skip
    start, end = said.words[first].start, said.words[value.last - 1].end
    pieces = tuple(
        _make(said, "number", Value(piece.value, piece.first, piece.last, numeral=piece.numeral), piece.first)
        for piece in value.pieces
    )
    bare = value.unit is None and value.value == 1 and kind == "number" and not value.numeral
    return Quantity(
        kind, value.value, second, value.unit.ucum if value.unit else None, value.comparator,  # type: ignore[arg-type]
        said.text[start:end], start, end, scale=scale, readings=value.readings, pieces=pieces,
        unit_readings=value.unit.other if value.unit else (), cue=cue, roman=value.form == "roman", form=value.form,
        weak=value.weak or bare or kind == "ordinal",
    )  # fmt: skip


def _bounded(said: Talk, quantity: Quantity, last: int, floor: int) -> tuple[Quantity, int]:
    """The quantity with the comparator before or after it, its text widened to cover it."""
    first = next(k for k in range(floor, last) if said.words[k].start == quantity.char_start)
    comparator, start, stop = quantity.comparator, first, last
    before = words_of("comparator before").before(said.words, first)
    if before and before[0] >= floor:
        start, comparator = before[0], before[1]  # type: ignore[assignment]
    place = last + 1 if said.low(last) in ("-", ",") else last
    after = words_of("comparator after").after(said.words, place)
    if after and comparator in (None, "~") and (place == last or said.low(last) == "-" or after[0] - place > 1):
        end = after[0] >= len(said.words) or said.words[after[0]].kind == "punct"
        if end or after[0] - place > 1 or said.low(last) == "-":
            stop, comparator = after[0], after[1]  # type: ignore[assignment]
    if (start, stop) == (first, last):
        return replace(quantity, comparator=comparator) if comparator != quantity.comparator else quantity, stop
    begin, end_at = said.words[start].start, said.words[stop - 1].end
    widened = replace(quantity, comparator=comparator, text=said.text[begin:end_at], char_start=begin, char_end=end_at)
    return widened, stop


def _cue(said: Talk, value: Value, floor: int) -> tuple[int, Cue] | None:
    """The word before a value that makes it a grade or score, small words between: (token place, cue)."""
    place, comma = value.first, False
    fillers = number_words()["after cue"]
    for _ in range(4):
        hit = cues().before(said.words, place)
        if hit is not None:
            if hit[0] < floor or (comma and hit[1].kind == "grade" and hit[1].scale):
                return None
            return hit
        if said.low(place - 1) == ",":
            comma = True
        elif said.low(place - 1) not in fillers:
            return None
        place -= 1
        if place <= floor:
            return None
    return None


def _cue_text(said: Talk, cue: tuple[int, Cue] | None) -> str | None:
    if cue is None:
        return None
    hit = cues().after(said.words, cue[0])
    return " ".join(word.low for word in said.words[cue[0] : hit[0]]) if hit else None


def _upper(said: Talk, value: Value, floor: int) -> Value | None:
    """The upper end of a range whose lower end is `value`."""
    hit = words_of("range").after(said.words, value.last)
    if hit is None and value.first - 1 >= floor and said.low(value.first - 1) == "between":
        hit = words_of("range after between").after(said.words, value.last)
    if hit is None or hit[0] >= len(said.words):
        return None
    joint = said.low(value.last)
    upper = value_at(said, hit[0])
    if upper is None or upper.weak or upper.value <= value.value or upper.form == "article":
        return None
    if upper.pieces and upper.form == "joined" and upper.unit is None and upper.value > 3 * value.value:
        return None
    if joint == "or" and upper.value > 2 * value.value + 1:
        return None
    if (
        value.unit
        and (upper.unit is None or upper.unit.ucum != value.unit.ucum)
        and not (upper.unit is None and joint in ("-", "–"))
    ):
        return None
    return upper


def _dimensions(said: Talk, value: Value) -> tuple[Quantity, int] | None:
    """ "two by one centimetre", "3 x 2 x 1 cm": a size in two or three dimensions."""
    parts = [value]
    while len(parts) < 3:
        hit = words_of("by").after(said.words, parts[-1].last)
        following = value_at(said, hit[0]) if hit and hit[0] < len(said.words) else None
        if following is None:
            break
        parts.append(following)
    named = {part.unit.ucum: part.unit for part in parts if part.unit}
    if len(parts) == 1 or len(named) > 1 or any(unit.quantity != "length" for unit in named.values()):
        return None
    unit = next(iter(named.values()), None)
    whole = replace(value, last=parts[-1].last, unit=unit, pieces=(), readings=())
    made = _make(said, "size", whole, value.first, second=parts[1].value)
    return replace(made, third=parts[2].value if len(parts) == 3 else None), parts[-1].last


def _scale(said: Talk, at: int, value: float, *, spoken: bool) -> tuple[int, float] | None:
    """The top of a scale after a value: "out of nine", "/6", "on the nine-point scale": (stop, top)."""
    if said.low(at) == "," and said.low(at + 1) == "out":  # a pause before it: "five, out of nine"
        at += 1
    hit = words_of("of scale").after(said.words, at)
    if hit is None or hit[0] >= len(said.words):
        return None
    stop, _ = hit
    joint = [word.low for word in said.words[at:stop]]
    while said.low(stop) in ("a", "the", "scale", "of", "possible"):
        stop += 1
    if stop >= len(said.words):
        return None
    roman = number_words()["roman"].get(said.words[stop].low)
    number = said.numbers.get(stop)
    if number is not None and number.form == "joined":
        number = number.pieces[0]
    top = float(roman) if roman and (said.words[stop].text.isupper() or spoken) else number.value if number else None
    if top is None or (top < value and joint[0] != "out") or (number is not None and number.form == "ordinal"):
        return None
    end = number.last if number is not None else stop + 1
    counted = units().after(said.words, end)  # "one of five millimetres"
    if counted is not None and counted[1].ucum != "{score}" and joint[0] != "out":
        return None
    known = top in denominators() or (joint[0] == "out" and 2 <= top <= 100)
    if not known or (said.low(end) == "/" and joint == ["/"]):
        return None
    for noun in range(end, min(end + 3, len(said.words))):
        if said.low(noun) in number_words()["scale noun"]:
            return noun + 1, top
        if said.low(noun) not in ("-", "point", "points"):
            break
    return end, top


def _pressure(said: Talk, value: Value) -> tuple[Quantity, int] | None:
    """ "120 over 80": systolic and diastolic pressure."""
    if said.low(value.last) not in ("over", "/") or value.unit is not None or value.value < 40:
        return None
    under = value_at(said, value.last + 1) if value.last + 1 < len(said.words) else None
    if under is None or not 15 <= under.value < value.value:
        return None
    if under.unit is not None and under.unit.ucum != "mm[Hg]":
        return None
    whole = replace(value, last=under.last, unit=under.unit, pieces=())
    made = _make(said, "pressure", whole, value.first, second=under.value)
    return replace(made, unit="mm[Hg]"), under.last


def _roman(said: Talk, at: int, floor: int) -> tuple[Quantity, int] | None:
    """A Roman numeral after a grade's cue or before a scale: "grade II", "II/VI"."""
    word = said.words[at]
    value = number_words()["roman"].get(word.low)
    if value is None or word.kind != "word" or (at + 1 < len(said.words) and said.words[at + 1].kind == "tail"):
        return None
    found = Value(float(value), at, at + 1, form="roman")
    cue = _cue(said, found, floor)
    if cue is not None and cue[1].kind != "grade":
        cue = None
    upper = _roman_upper(said, at + 1, found.value)
    stop = upper[0] if upper else at + 1
    most = upper[1] if upper else found.value
    scale = _scale(said, stop, most, spoken=cue is not None) if word.text.isupper() or cue else None
    speaking = word.low == "i" and said.low(at + 1) in number_words()["verb after I"]
    if speaking or (cue is None and scale is None) or (word.text == "i" and scale is None):
        return None
    last = scale[0] if scale else stop
    top = scale[1] if scale else None
    second = top or (upper[1] if upper else None)
    made = _make(said, "grade", replace(found, last=last), at, second=second, scale=top, cue=_cue_text(said, cue))
    return replace(made, upper=upper[1] if upper else None), last


def _roman_upper(said: Talk, at: int, value: float) -> tuple[int, float] | None:
    """The end of "II to III": (stop, value)."""
    hit = words_of("range").after(said.words, at)
    numeral = number_words()["roman"].get(said.low(hit[0])) if hit else None
    return (hit[0] + 1, float(numeral)) if hit and numeral and float(numeral) > value else None


def _nil(said: Talk, at: int, floor: int) -> tuple[Quantity | None, int] | None:
    """ "Nil of four": the bottom of a scale."""
    if said.low(at) not in number_words()["zero before a scale"]:
        return None
    return (
        _composed(said, Value(0, at, at + 1, form="words"), None, floor)
        if _scale(said, at + 1, 0, spoken=False)
        else None
    )


def _clock(said: Talk, at: int) -> tuple[Quantity, int] | None:
    number = said.numbers.get(at)
    if number is None or number.form == "ordinal":
        return None
    if hit := words_of("clock").after(said.words, number.last):
        return _make(said, "clock", Value(number.value, at, hit[0], form="words"), at), hit[0]
    minutes = said.numbers.get(number.last + 1)
    if (
        number.numeral
        and said.low(number.last) == ":"
        and minutes is not None
        and minutes.numeral
        and (said.words[at].end == said.words[number.last].start and minutes.value < 60 and number.value < 24)
    ):
        made = _make(said, "clock", Value(number.value + minutes.value / 60, at, minutes.last), at)
        return made, minutes.last
    return None


def _date(said: Talk, at: int) -> int | None:
    """The end of "12/5/2026" or "2026-05-12", which are no quantities."""
    signs = [said.low(at + k) for k in (1, 3)]
    if signs[0] in ("/", "-", ".") and signs[0] == signs[1]:
        parts = [said.words[at + k] for k in (0, 2, 4) if at + k < len(said.words)]
        close = all(
            said.words[at + k].end == said.words[at + k + 1].start for k in range(4) if at + k + 1 < len(said.words)
        )
        if (
            len(parts) == 3
            and close
            and all(part.kind == "num" for part in parts)
            and (signs[0] == "/" or any(len(part.text) >= 2 for part in parts))
        ):
            return at + 5
    return None


def _pronoun(said: Talk, value: Value) -> bool:
    """Whether "one" stands for a thing ("this one", "one of them", "a soft one")."""
    if value.value != 1 or value.numeral or value.unit is not None or value.last != value.first + 1:
        return False
    kinds = number_words()
    if said.low(value.first - 1) in kinds["pronoun before"] or said.low(value.last) in kinds["pronoun after"]:
        return True
    for back in range(value.first - 1, max(value.first - 4, -1), -1):
        if said.words[back].kind not in ("word", "tail"):
            return False
        if said.low(back) in ("of", "at", "to", "is"):
            return False
        if said.low(back) in kinds["noun phrase before"]:
            return True
    return False
