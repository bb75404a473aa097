"""Critical errors: what stands in a record without a doubt and would mislead whoever trusts it.

A side, site, value, unit or tooth that was not the one told, an absence (or a plain normal) for what was told as
present, and a presence for what was told as absent. A wrong name of a finding at the right place, and talk taken for an
observation that it is not, are counted by `scoring.py` (silent, invented) and are not among them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from drafted import Drafted
from rapidfuzz import fuzz
from scoring import Synonyms, bears_out, expand, number, same_unit, side_match, site_match, status_match

KINDS = ("side", "absence for presence", "presence for absence", "value", "unit", "tooth", "site")


@dataclass(frozen=True, slots=True)
class Critical:
    """One error: its kind, the observation, and the fact that was told instead."""

    kind: str
    observation: dict
    fact: dict


def critical_errors(drafted: Drafted, synonyms: Synonyms) -> list[Critical]:
    """The critical errors of one record that no doubt warns of. One phrase misread on both sides, or
    of several teeth, is one."""
    facts = expand(drafted.truth["facts"])
    text = drafted.truth["text"]
    found: dict[tuple, Critical] = {}
    for one in drafted.observations:
        if one["doubts"]:
            continue
        error = next(_errors(one, facts, text, synonyms), None)
        if error is not None:
            words = tuple(e["text"] for e in one["evidence"])
            found.setdefault((error.kind, one["site"], one["finding"], words), error)
    return list(found.values())


def _errors(one: dict, facts: Sequence[dict], text: str, same: Synonyms) -> Iterator[Critical]:
    if one["value"] is not None:
        yield from _of_value(one, facts, text, same)
        return
    bearing = [f for f in facts if bears_out(f, one, same)]
    if bearing:
        yield from _of_tooth(one, bearing, facts, text)
        return
    here = [f for f in facts if site_match(f, one, same)]
    for f in here:
        if not side_match(f, one) and status_match(f, one) and _same_finding(f, one, same):
            yield Critical("side", one, f)
    for f in here:
        if side_match(f, one) and (kind := _turned(f, one, text, same)):
            yield Critical(kind, one, f)
    for f in facts:
        if f in here or not status_match(f, one) or f.get("value") is not None:
            continue
        if _same_finding(f, one, same) and said_here(f, one, text):
            yield Critical("site", one, f)


def _of_value(one: dict, facts: Sequence[dict], text: str, same: Synonyms) -> Iterator[Critical]:
    valued = [f for f in facts if f.get("value") is not None]
    here = [f for f in valued if site_match(f, one, same)]
    told = number(one["value"])
    sided = [f for f in here if side_match(f, one)]
    right = [f for f in sided if number(f["value"]) == told]
    if right:
        if not any(same_unit(f.get("unit"), one["value"]) for f in right):
            yield Critical("unit", one, right[0])
        return
    for f in here:
        if f not in sided and number(f["value"]) == told:
            yield Critical("side", one, f)
    for f in valued:
        if f not in here and number(f["value"]) == told and said_here(f, one, text):
            yield Critical("site", one, f)
    for f in sided:
        yield Critical("value", one, f)
    for f in facts:
        if said_here(f, one, text):
            yield Critical("value", one, f)


def _of_tooth(one: dict, bearing: Sequence[dict], facts: Sequence[dict], text: str) -> Iterator[Critical]:
    """A wrong tooth: those of the facts that bear the observation out are all others."""
    got = teeth_of(one["qualifiers"].get("tooth"))
    told = [teeth_of((f.get("qualifiers") or {}).get("tooth")) for f in bearing]
    if got and all(told) and not any(got & teeth for teeth in told):
        likely = [f for f in facts if got & teeth_of((f.get("qualifiers") or {}).get("tooth"))]
        meant = next((f for f in likely if said_here(f, one, text)), bearing[0])
        yield Critical("tooth", one, meant)


def teeth_of(told: object) -> frozenset[int]:
    """The teeth that a qualifier names, by modified Triadan numbers, ranges opened ("201-203").

    Where words stand with the numbers ("beside 204"), the milk teeth (numbers higher by 400) may be meant as well.
    """
    text = str(told or "")
    numbers = [int(n) for n in re.findall(r"\b[1-8]\d\d\b", text)]
    out = set(numbers)
    for low, high in re.findall(r"\b([1-8]\d\d)\s*(?:-|–|to|through)\s*([1-8]\d\d)\b", text):
        out |= set(range(int(low), int(high) + 1)) if low[0] == high[0] else set()
    if re.search(r"[a-z]", re.sub(r"\b(?:to|through|and)\b", "", text.lower())):
        out |= {n + 400 for n in numbers if n < 500}
    return frozenset(out)


def _turned(fact: dict, one: dict, text: str, same: Synonyms) -> str | None:
    """The kind of error where an observation says the opposite of a fact of its site and side."""
    absent, gone = fact.get("present") is False, one["present"] is False
    if one["finding"] and _alike(fact, one, same) and absent != gone:
        return "presence for absence" if absent else "absence for presence"
    plain = one["status"] == "normal" and not one["finding"]
    if plain and fact["status"] == "abnormal" and fact.get("value") is None and said_here(fact, one, text):
        return "absence for presence"
    return None


def _alike(fact: dict, one: dict, same: Synonyms) -> bool:
    want, got = same(fact.get("finding")), same(one["finding"])
    return want == got or (bool(want) and bool(got) and fuzz.token_set_ratio(want, got) >= 85)


def _same_finding(fact: dict, one: dict, same: Synonyms) -> bool:
    return _alike(fact, one, same) and (fact.get("present") is False) == (one["present"] is False)


def said_here(fact: dict, one: dict, text: str) -> bool:
    """Whether a fact's quote and an observation's evidence share words of the talk.

    A talk that was drafted without its marks has other positions: there the evidence must hold the quote's words.
    """
    quote = fact["quote"]
    places = [(m.start(), m.end()) for m in re.finditer(re.escape(quote), text)]
    for e in one["evidence"]:
        if text[e["char_start"] : e["char_end"]] == e["text"]:
            if any(start < e["char_end"] and e["char_start"] < end for start, end in places):
                return True
        elif fuzz.partial_ratio(quote.lower(), e["text"].lower()) >= 85:
            return True
    return False
