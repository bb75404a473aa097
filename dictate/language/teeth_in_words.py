"""Teeth named by kind with side, jaw and rank around it: "upper left canine", "first molar on the lower right"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from dictate.language.numbers import Token
from dictate.language.tooth_tables import Tooth, all_teeth, kind_phrases, phrases, tooth_words


@dataclass(frozen=True, slots=True)
class Found:
    """One mention by its token places, half-open."""

    first: int
    last: int
    numbers: tuple[int, ...]
    form: Literal["number", "words", "both"]
    plural: bool = False
    exact: bool = True
    deciduous: bool = False
    readings: tuple[int, ...] = ()


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


def in_words(words: Sequence[Token], species: str | None) -> list[Found]:
    """Teeth named by their kind with side, jaw and rank around it."""
    blocked: set[int] = set()
    for start, stop, _ in phrases("no tooth").all(words):
        blocked.update(range(start, stop))
    found: list[Found] = []
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
            found.append(Found(first, last, numbers, "words", plural, exact, wanted.dentition == "deciduous"))
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
