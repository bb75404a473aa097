"""An observation as the fields of a form, and what was typed into them as observations again."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from dictate.errors import InputError
from dictate.exam.phrases import UNIT_SIGNS
from dictate.exam.record import Evidence, Measured, Observation, Quantity, Unplaced
from dictate.exam.record import Qualifier as Told
from dictate.lexicon.tables import Lexicon
from dictate.review import find_findings, find_sites, observation, typed
from dictate.review.entering import spoken

NUMBER = re.compile(r"(<=|>=|<|>)?\s*(\d{1,6}(?:[.,]\d{1,4})?)")
WITH_UNIT = re.compile(r"(\d{1,6}(?:\.\d{1,4})?)\s+(\S{1,12})")
Side = Literal["left", "right"] | None
WHAT = ("normal", "abnormal", "absent", "not examined")
MOST_DETAILS = 12
LONGEST = 400


@dataclass(frozen=True, slots=True)
class Fields:
    """What a form shows of one observation, or of two that say the same of both sides. All texts, "" for nothing.

    `what` is one of WHAT; `details` are pairs of a name and a text.
    """

    ids: tuple[str, ...] = ()
    site: str = ""
    side: str = ""
    what: str = ""
    finding: str = ""
    number: str = ""
    unit: str = ""
    possible: bool = False
    reason: str = ""
    details: tuple[tuple[str, str], ...] = ()


def new_fields(site: str = "", *, paired: bool = False) -> Fields:
    """An empty form; of a paired site both sides are offered."""
    return Fields(site=site, side="both" if paired else "")


def fields_of(alike: Sequence[Observation]) -> Fields:
    """The form of observations that say the same; of others it shows the first."""
    first = alike[0]
    sides = {o.side for o in alike}
    qualifiers = dict(first.qualifiers)
    reason = str(qualifiers.pop("reason", "")) if first.status == "not_examined" else ""
    if first.status == "not_examined":
        what = "not examined"
    elif not first.present:
        what = "absent"
    else:
        what = first.status
    value = first.value
    return Fields(
        ids=tuple(o.id for o in alike),
        site=first.site,
        side="both" if len(sides - {None}) == 2 else (first.side or ""),
        what=what,
        finding=first.finding or "",
        number=f"{value.comparator or ''}{value.number:.10g}" if value else "",
        unit=(value.unit or "") if value else "",
        possible=first.stated_as == "possible",
        reason=reason,
        details=tuple((name, _as_text(told)) for name, told in qualifiers.items()),
    )


def read_fields(sent: Mapping[str, str], many: Mapping[str, tuple[str, ...]]) -> Fields:
    """What a form sent."""
    names, texts = many.get("detail", ()), many.get("detail_text", ())
    details = tuple((n.strip(), t.strip()) for n, t in zip(names, texts, strict=False) if n.strip() and t.strip())
    short = {name: sent.get(name, "").strip()[:LONGEST] for name in ("site", "side", "what", "finding", "unit")}
    return Fields(
        ids=many.get("ids", ()),
        number=sent.get("number", "").strip()[:20],
        possible="possible" in sent,
        reason=" ".join(sent.get("reason", "").split())[:LONGEST],
        details=details[:MOST_DETAILS],
        **short,
    )


def made_of(
    fields: Fields,
    lexicon: Lexicon,
    *,
    by: str,
    was: Sequence[Observation] = (),
    evidence: tuple[Evidence, ...] = (),
) -> tuple[Observation, ...]:
    """The observations that the fields say: one, or two for both sides. `was` are those that they take the place of:
    their ids and their words stay. A few letters of a site or finding stand for the name that fits them best.

    Raises:
        InputError: names the field that cannot be used.
    """
    site = _named(find_sites(fields.site, lexicon), fields.site, "site")
    paired = next(s.paired for s in lexicon.sites if s.site == site)
    if fields.what not in WHAT:
        raise InputError("choose one of " + ", ".join(WHAT), where="what was found")
    seen = fields.what != "not examined"
    finding = None
    if seen and fields.finding:
        finding = _named(find_findings(fields.finding, site, lexicon), fields.finding, "finding")
    if fields.what == "absent" and finding is None:
        raise InputError("name what was looked for and is absent", where="finding")
    details = {name: _of_text(text) for name, text in fields.details}
    status: Literal["normal", "abnormal", "not_examined"] = "abnormal" if fields.what == "abnormal" else "normal"
    made = observation(
        site,
        by=by,
        status=status if seen else "not_examined",
        finding=finding,
        present=fields.what != "absent",
        value=_value(fields) if seen else None,
        qualifiers=details if seen else ({"reason": fields.reason} if fields.reason else {}),
        evidence=evidence,
    ).model_copy(update={"stated_as": "possible" if fields.possible and seen else "certain"})
    sides = _sides(fields.side, paired)
    return tuple(_of_side(made, side, _before(side, sides, was), was, by) for side in sides)


def _before(side: Side, sides: Sequence[Side], was: Sequence[Observation]) -> Observation | None:
    """The observation that the one of this side takes the place of: of the same side, else one that no other takes."""
    same = next((o for o in was if o.side == side), None)
    free = [o for o in was if o.side not in sides]
    new = [other for other in sides if not any(o.side == other for o in was)]
    return same or (free[new.index(side)] if side in new and new.index(side) < len(free) else None)


def _sides(side: str, paired: bool) -> tuple[Side, ...]:
    if side == "both":
        return ("left", "right") if paired else (None,)
    if side in ("left", "right"):
        return (side,)  # type: ignore[return-value]
    if paired:
        raise InputError("say which side: left, right or both", where="side")
    return (None,)


def _of_side(
    made: Observation, side: Side, before: Observation | None, was: Sequence[Observation], by: str
) -> Observation:
    """The observation for one side, with the id of the one whose place it takes, and the words that were heard."""
    if not was:
        return made.model_copy(update={"side": side, "id": f"{made.id}-{side}" if side else made.id})
    source = before or was[0]
    words = tuple(spoken(e) for e in source.evidence if e.by is None)
    identity = before.id if before else f"{source.id}-{side or 'other'}"
    evidence = (*words, typed("corrected at review", by))
    return made.model_copy(update={"side": side, "id": identity, "evidence": evidence})


def _named(fitting: tuple[str, ...], letters: str, where: str) -> str:
    if not letters.strip():
        raise InputError("type a few letters of it", where=where)
    if not fitting:
        raise InputError(f"no {where} fits “{letters[:60]}”", where=where)
    return fitting[0]


def _value(fields: Fields) -> Measured | None:
    if not fields.number:
        return None
    match = NUMBER.fullmatch(fields.number)
    if match is None:
        raise InputError(f"“{fields.number}” is no number", where="value")
    return Measured(
        number=float(match[2].replace(",", ".")),
        unit=fields.unit or None,
        comparator=match[1],  # type: ignore[arg-type]
    )


def units_of(lexicon: Lexicon) -> tuple[tuple[str, str], ...]:
    """All units that a value may have: their UCUM codes, and how people write them."""
    codes = dict.fromkeys([u for m in lexicon.measures for u in m.units] + [u.ucum for u in lexicon.units])
    return tuple((code, UNIT_SIGNS.get(code, code) or "points") for code in codes)


def _as_text(told: Told) -> str:
    if isinstance(told, Quantity):
        return f"{told.number:.10g} {told.unit or ''}".strip()
    if isinstance(told, tuple):
        return ", ".join(told)
    return f"{told:.10g}" if isinstance(told, float) else str(told)


def _of_text(text: str) -> Told:
    """A detail as it was typed: a number with a unit is a quantity, a number a number, all else words."""
    if match := WITH_UNIT.fullmatch(text):
        return Quantity(number=float(match[1]), unit=match[2])
    return " ".join(text.split())[:LONGEST]


def phrase_key(phrase: Unplaced) -> str:
    """What a form names an unplaced phrase by."""
    return f"{phrase.char_start}-{phrase.char_end}"
