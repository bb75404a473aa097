"""Teeth named in a text, by modified Triadan number ("two oh eight", "108 to 110") or in words ("upper left canine").

A number of the right form is a tooth only where the talk is of teeth; "heart rate one oh four" is none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from dictate.language.numbers import Number, Token, tokens
from dictate.language.phrases import units, words_of
from dictate.language.spoken_values import Talk, talk
from dictate.language.teeth_in_words import Found, in_words
from dictate.language.tooth_tables import (
    between,
    exists,
    is_triadan,
    phrases,
    tooth_name,
    tooth_words,
)

__all__ = ["ToothMention", "exists", "is_triadan", "teeth", "tooth_name"]

NEAR = 10
"""So many words around a number are searched for words of the mouth."""
CLOSE = 4
"""A word like "rate" so few words before a number takes it."""
CHAIN = 40
"""So many words after a tooth number another one needs no further word of the mouth."""
PAST = 15
"""A number in a row of teeth may overshoot the last tooth so far and still be meant as one."""
OVER = ("over", "/")
ONLY_TEETH = 301
"""Numbers of the right form from here on without a unit are hardly anything but teeth."""


@dataclass(frozen=True, slots=True)
class ToothMention:
    """One mention of a tooth or of several.

    Attributes:
        numbers: modified Triadan numbers, in the order said; empty where the words fit no tooth.
        missing: those of `numbers` that this species does not have.
        form: `number` or `words` (or `both`: "upper left canine, 204").
        plural: a group was named ("upper canines", "108 to 110").
        exact: the words single out what `numbers` lists; False where side or jaw was left open.
        deciduous: milk teeth.
        readings: other numbers that the words may mean.
        text, char_start, char_end: where it stands (half-open).
    """

    numbers: tuple[int, ...]
    missing: tuple[int, ...]
    form: Literal["number", "words", "both"]
    text: str
    char_start: int
    char_end: int
    plural: bool = False
    exact: bool = True
    deciduous: bool = False
    readings: tuple[int, ...] = ()

    @property
    def exists(self) -> bool:
        """Whether the species has every tooth of the mention."""
        return bool(self.numbers) and not self.missing


def teeth(text: str, *, species: str | None = None) -> tuple[ToothMention, ...]:
    """The teeth named in a text, in order.

    Args:
        text: any text, with or without punctuation and capitals.
        species: "dog" or "cat"; None when unknown.
    """
    words = tokens(text)
    said = talk(text, words)
    by_words = in_words(words, species)
    found = _joined(said, sorted(by_words + _in_numbers(said, by_words, species), key=lambda f: f.first))
    return tuple(_mention(text, words, one, species) for one in found)


def _mention(text: str, words: Sequence[Token], found: Found, species: str | None) -> ToothMention:
    start, end = words[found.first].start, words[found.last - 1].end
    missing = tuple(number for number in found.numbers if not exists(number, species))
    return ToothMention(
        found.numbers,
        missing,
        found.form,
        text[start:end],
        start,
        end,
        found.plural,
        found.exact,
        found.deciduous,
        found.readings,
    )


def _in_numbers(said: Talk, by_words: Sequence[Found], species: str | None) -> list[Found]:
    """The numbers of the text that are teeth; ranges are one mention."""
    candidates = [c for number in said.numbers.values() if (c := _candidate(said, number)) is not None]
    candidates.sort(key=lambda c: c[0].first)
    accepted: list[Found] = []
    word_places = [place for found in by_words for place in (found.first, found.last)]
    verdicts = [_verdict(said, number, word_places) for number, _, _ in candidates]
    # "One oh one six" is a temperature unless its own sentence talks of teeth.
    whole = [said.numbers.get(number.first) for number, _, _ in candidates]
    verdicts = [
        verdict and (one is None or one.form != "joined" or _dental_sentence(said, one) or None)
        for verdict, one in zip(verdicts, whole, strict=True)
    ]
    for k, (number, tooth, readings) in enumerate(candidates):
        chained = bool(accepted) and number.first - accepted[-1].last <= CHAIN
        follows = k + 1 < len(candidates) and candidates[k + 1][0].first - number.last <= 3 and bool(verdicts[k + 1])
        verdict = verdicts[k]
        if verdict is not None and not is_triadan(tooth):
            verdict = verdict and chained  # "212" in a row of teeth is a slip to be shown
        elif verdict is None:
            verdict = (chained or follows) and is_triadan(tooth)
        if verdict:
            quadrant = tooth // 100
            accepted.append(
                Found(number.first, number.last, (tooth,), "number", deciduous=quadrant >= 5, readings=readings)
            )
    return _ranges(said, accepted, species)


def _candidate(said: Talk, number: Number) -> tuple[Number, int, tuple[int, ...]] | None:
    """A number with the form of a tooth number: (number, tooth, other readings)."""
    if number.form == "ordinal" or (number.form == "plain" and not number.numeral):
        return None  # "two hundred and four" is no way of saying a tooth
    past = number.value == int(number.value) and 1 <= number.value // 100 <= 8 and 1 <= number.value % 100 <= PAST
    if is_triadan(number.value) or past:
        return number, int(number.value), ()
    if number.form == "joined" and number.pieces and is_triadan(number.pieces[0].value):
        return number.pieces[0], int(number.pieces[0].value), ()  # "one oh four three millimetre pocket"
    for other in number.readings:
        if is_triadan(other) and number.value >= 1000:
            return number, int(other), (int(number.value),)
    return None


def _verdict(said: Talk, number: Number, word_places: Sequence[int]) -> bool | None:
    """True: a tooth; False: another number; None: nothing near tells."""
    hit = units().after(said.words, number.last)
    if hit is not None and hit[1].ucum != "{score}":
        return False
    if _part_of_pressure(said, number):
        return False
    others, dental = tooth_words("other number"), tooth_words("dental word")
    for back in range(number.first - 1, max(number.first - 1 - CLOSE, -1), -1):
        if said.low(back) in others:
            return False
        if said.low(back) in dental or said.words[back].low in (".", "?", "!", ";") or back in said.numbers:
            break
    if number.value >= ONLY_TEETH:
        return True
    around = range(max(0, number.first - NEAR), min(len(said.words), number.last + NEAR))
    if any(number.first - NEAR <= place <= number.last + NEAR for place in word_places):
        return True
    near = min((abs(k - number.first) for k in around if said.low(k) in dental), default=None)
    against = next((number.first - k for k in _same_sentence(said, number.first) if said.low(k) in others), None)
    if near is not None and (against is None or near <= against):
        return True
    return None if against is None else False


def _dental_sentence(said: Talk, number: Number) -> bool:
    """Whether a word of the mouth stands near a number in its own sentence."""
    dental, ends = tooth_words("dental word"), (".", "?", "!", ";")
    for place in range(number.last, min(len(said.words), number.last + NEAR)):
        if said.low(place) in ends:
            break
        if said.low(place) in dental:
            return True
    return any(said.low(place) in dental for place in _same_sentence(said, number.first))


def _same_sentence(said: Talk, at: int) -> Iterator[int]:
    """The places before `at`, backwards to the beginning of its sentence, at most NEAR."""
    for place in range(at - 1, max(at - 1 - NEAR, -1), -1):
        if said.low(place) in (".", "?", "!", ";"):
            return
        yield place


def _part_of_pressure(said: Talk, number: Number) -> bool:
    """Whether the number stands over or under another one, or out of a scale; "301/401" are two teeth."""
    over = number.value < ONLY_TEETH
    below = said.numbers.get(number.last + 1) if said.low(number.last) in OVER else None
    if below is not None and over and below.value < number.value:
        return True
    above = [other for other in said.numbers.values() if other.last == number.first - 1]
    if said.low(number.first - 1) in OVER and any(ONLY_TEETH > other.value > number.value for other in above):
        return True
    return said.low(number.last) == "out" and words_of("of scale").after(said.words, number.last) is not None


def _ranges(said: Talk, found: Sequence[Found], species: str | None) -> list[Found]:
    """ "108 to 110" is one mention of three teeth."""
    joined: list[Found] = []
    for one in found:
        before = joined[-1] if joined else None
        hit = phrases("range").after(said.words, before.last) if before and len(before.numbers) == 1 else None
        if before and hit and hit[0] == one.first:
            reached = between(before.numbers[0], one.numbers[0], species)
            if reached:
                joined[-1] = Found(before.first, one.last, reached, "number", True, deciduous=one.deciduous)
                continue
        joined.append(one)
    return joined


_BESIDE = (",", "-", "(", "tooth", "number")


def _goes_on(found: Sequence[Found], one: Found) -> bool:
    """Whether another number follows this one at once, in a list."""
    return any(other.first == one.last + 1 and other.form == "number" for other in found)


def _joined(said: Talk, found: Sequence[Found]) -> list[Found]:
    """ "Upper left canine, 204" names one tooth twice and is one mention."""
    kept: list[Found] = []
    for one in found:
        before = kept[-1] if kept else None
        if before and one.first < before.last:
            continue
        if before and {before.form, one.form} == {"number", "words"} and one.first - before.last <= 2:
            gap = [word.low for word in said.words[before.last : one.first]]
            number, words = (before, one) if before.form == "number" else (one, before)
            same = set(number.numbers) <= set(words.numbers) and all(low in _BESIDE for low in gap)
            # "The cheek teeth, 307 absent" are two things; "baby fangs, 504 and 604" and "fangs 304" are not.
            if same and (not words.plural or not gap or _goes_on(found, one)):
                kept[-1] = Found(before.first, one.last, number.numbers, "both", number.plural, True, number.deciduous)
                continue
        kept.append(one)
    return kept
