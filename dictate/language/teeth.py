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
from dictate.language.tooth_tables import (
    Tooth,
    all_teeth,
    between,
    exists,
    is_triadan,
    kind_phrases,
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


@dataclass(frozen=True, slots=True)
class _Found:
    first: int
    last: int
    numbers: tuple[int, ...]
    form: Literal["number", "words", "both"]
    plural: bool = False
    exact: bool = True
    deciduous: bool = False
    readings: tuple[int, ...] = ()


def teeth(text: str, *, species: str | None = None) -> tuple[ToothMention, ...]:
    """The teeth named in a text, in order.

    Args:
        text: any text, with or without punctuation and capitals.
        species: "dog" or "cat"; None when unknown.
    """
    words = tokens(text)
    said = talk(text, words)
    by_words = _in_words(words, species)
    found = _joined(said, sorted(by_words + _in_numbers(said, by_words, species), key=lambda f: f.first))
    return tuple(_mention(text, words, one, species) for one in found)


def _mention(text: str, words: Sequence[Token], found: _Found, species: str | None) -> ToothMention:
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


def _in_numbers(said: Talk, by_words: Sequence[_Found], species: str | None) -> list[_Found]:
    """The numbers of the text that are teeth; ranges are one mention."""
    candidates = [c for number in said.numbers.values() if (c := _candidate(said, number)) is not None]
    candidates.sort(key=lambda c: c[0].first)
    accepted: list[_Found] = []
    word_places = [place for found in by_words for place in (found.first, found.last)]
    verdicts = [_verdict(said, number, word_places) for number, _, _ in candidates]
    for k, (number, tooth, readings) in enumerate(candidates):
        chained = bool(accepted) and number.first - accepted[-1].last <= CHAIN
        follows = k + 1 < len(candidates) and candidates[k + 1][0].first - number.last <= 3 and bool(verdicts[k + 1])
        verdict = verdicts[k]
        if verdict or (verdict is None and (chained or follows)):
            quadrant = tooth // 100
            accepted.append(
                _Found(number.first, number.last, (tooth,), "number", deciduous=quadrant >= 5, readings=readings)
            )
    return _ranges(said, accepted, species)


def _candidate(said: Talk, number: Number) -> tuple[Number, int, tuple[int, ...]] | None:
    """A number with the form of a tooth number: (number, tooth, other readings)."""
    if number.form == "ordinal" or (number.form == "plain" and not number.numeral):
        return None  # "two hundred and four" is no way of saying a tooth
    if is_triadan(number.value):
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


def _same_sentence(said: Talk, at: int) -> Iterator[int]:
    """The places before `at`, backwards to the beginning of its sentence, at most NEAR."""
    for place in range(at - 1, max(at - 1 - NEAR, -1), -1):
        if said.low(place) in (".", "?", "!", ";"):
            return
        yield place


def _part_of_pressure(said: Talk, number: Number) -> bool:
    after = said.low(number.last) in ("over", "/") and number.last + 1 in said.numbers
    before = said.low(number.first - 1) in ("over", "/") and any(
        other.last == number.first - 1 for other in said.numbers.values()
    )
    return (
        after
        or before
        or (words_of("of scale").after(said.words, number.last) is not None and (said.low(number.last) == "out"))
    )


def _ranges(said: Talk, found: Sequence[_Found], species: str | None) -> list[_Found]:
    """ "108 to 110" is one mention of three teeth."""
    joined: list[_Found] = []
    for one in found:
        before = joined[-1] if joined else None
        hit = phrases("range").after(said.words, before.last) if before and len(before.numbers) == 1 else None
        if before and hit and hit[0] == one.first:
            reached = between(before.numbers[0], one.numbers[0], species)
            if reached:
                joined[-1] = _Found(before.first, one.last, reached, "number", True, deciduous=one.deciduous)
                continue
        joined.append(one)
    return joined


_BESIDE = (",", "-", "(", "tooth", "number")


def _goes_on(found: Sequence[_Found], one: _Found) -> bool:
    """Whether another number follows this one at once, in a list."""
    return any(other.first == one.last + 1 and other.form == "number" for other in found)


def _joined(said: Talk, found: Sequence[_Found]) -> list[_Found]:
    """ "Upper left canine, 204" names one tooth twice and is one mention."""
    kept: list[_Found] = []
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
                kept[-1] = _Found(before.first, one.last, number.numbers, "both", number.plural, True, number.deciduous)
                continue
        kept.append(one)
    return kept


_PARTS = ("side", "jaw", "dentition", "rank", "incisor rank", "kind")


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What the words say of a tooth."""

    kind: str
    plural: bool
    side: str | None = None
    jaw: str | None = None
    rank: str | None = None
    dentition: str = "permanent"
    named: bool = False


def _in_words(words: Sequence[Token], species: str | None) -> list[_Found]:
    """Teeth named by their kind with side, jaw and rank around it."""
    blocked: set[int] = set()
    for start, stop, _ in phrases("no tooth").all(words):
        blocked.update(range(start, stop))
    found: list[_Found] = []
    at = 0
    while at < len(words):
        named = None if at in blocked else _kind_at(words, at)
        if named is None:
            at += 1
            continue
        stop, kind, plural, rank = named
        first, before = _before(words, at, kind, floor=found[-1].last if found else 0)
        last, after = _after(words, stop, bool(before.get("jaw")), bool(before.get("side")))
        told = {**after, **before} | ({"rank": rank} if rank else {})
        wanted = _Wanted(
            kind,
            plural,
            told.get("side"),
            told.get("jaw"),
            told.get("rank") or told.get("incisor rank"),
            told.get("dentition", "permanent"),
            bool(told),
        )
        if words[at].kind == "code" and not (wanted.jaw and (wanted.side or kind != "molar")):
            at += 1
            continue
        if _is_tooth(words, at, stop, wanted) and (numbers := _numbers(wanted, species)):
            side_open = wanted.side is None and not plural
            jaw_open = wanted.jaw is None and not plural
            rank_open = wanted.rank is None and not plural and len(numbers) > 1
            exact = not (side_open or jaw_open or rank_open)
            found.append(_Found(first, last, numbers, "words", plural, exact, wanted.dentition == "deciduous"))
        at = max(last, stop)
    return found


def _kind_at(words: Sequence[Token], at: int) -> tuple[int, str, bool, str | None] | None:
    """A noun for a tooth, or a short name like P4: (stop, kind, plural, rank)."""
    if hit := kind_phrases().after(words, at):
        return hit[0], hit[1][0], hit[1][1], None
    word = words[at]
    if word.kind == "code" and word.low[-1:].isdigit() and word.low[:-1] in tooth_words("code"):
        return at + 1, tooth_words("code")[word.low[:-1]], False, word.low[-1]
    return None


def _part(low: str) -> tuple[str, str] | None:
    for part in _PARTS[:-1]:
        if low in tooth_words(part):
            return part, tooth_words(part)[low]
    return None


def _before(words: Sequence[Token], at: int, kind: str, *, floor: int) -> tuple[int, dict[str, str]]:
    """What the words just before the noun tell: "left upper fourth", "baby"."""
    told: dict[str, str] = {}
    first = at
    for place in range(at - 1, max(floor - 1, at - 8), -1):
        low = words[place].low
        part = _part(low)
        if part is None and low == "-" and first == place + 1:
            continue
        if part is None or part[0] in told or (part[0] == "incisor rank" and kind != "incisor"):
            break
        told[part[0]] = part[1]
        first = place
    return first, told


def _after(words: Sequence[Token], at: int, jaw_known: bool, side_known: bool) -> tuple[int, dict[str, str]]:
    """What the words just after the noun tell: "on the upper left", "lower right"."""
    told: dict[str, str] = {}
    last, place = at, at
    joined = False
    while place < len(words) and place - at < 8:
        low = words[place].low
        part = _part(low)
        if part is not None and part[0] in ("side", "jaw") and part[0] not in told:
            told[part[0]] = part[1]
            place += 1
            last = place
            continue
        if low not in tooth_words("joining"):
            break
        joined = joined or low == "on"
        place += 1
    if not told:
        return at, {}
    ends = last >= len(words) or words[last].kind in ("punct", "tail") or words[last].low in tooth_words("ends a place")
    pair = "jaw" in told and "side" in told
    if (jaw_known and "jaw" in told) or (side_known and "side" in told):
        return at, {}
    if pair or (joined and (ends or "jaw" in told)) or (ends and words[at].low != ","):
        return last, told
    return at, {}


def _is_tooth(words: Sequence[Token], at: int, stop: int, wanted: _Wanted) -> bool:
    """A bare "canine" may be a dog and "back ones" toes; they are teeth among words of the mouth."""
    if phrases("needs the mouth near").after(words, at) is None or (wanted.named and not wanted.plural):
        return True
    near = range(max(0, at - 6), min(len(words), stop + 6))
    return any(words[k].low in tooth_words("dental word") for k in near if not at <= k < stop)


def _numbers(wanted: _Wanted, species: str | None) -> tuple[int, ...]:
    """The teeth that fit; where the species has none, those of the other species (they are `missing` then)."""
    fitting = [tooth for tooth in all_teeth().values() if tooth.dentition == wanted.dentition and _fits(wanted, tooth)]
    own = [tooth for tooth in fitting if species is None or species in tooth.species] or fitting
    if wanted.rank == "last":
        own = [t for t in own if not any(o.side == t.side and o.jaw == t.jaw and o.rank > t.rank for o in own)]
    elif wanted.rank is not None:
        ranked = [t for t in own if str(t.rank) == wanted.rank]
        own = ranked or [t for t in fitting if str(t.rank) == wanted.rank]
    return tuple(tooth.number for tooth in own)


def _fits(wanted: _Wanted, tooth: Tooth) -> bool:
    kind, jaw, rank = tooth.kind, tooth.jaw, tooth.rank
    if wanted.side not in (None, "both", tooth.side) or wanted.jaw not in (None, jaw):
        return False
    if wanted.kind in tooth_words("kinds in group"):
        return kind in tooth_words("kinds in group")[wanted.kind].split()
    named = tooth_words(wanted.kind)  # a kind of its own, one tooth of each jaw
    return named.get(jaw) == f"{kind} {rank}" if named else kind == wanted.kind
