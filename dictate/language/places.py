"""Which sites a stretch speaks of, and on which side."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.clauses import PLACES, Stretch
from dictate.language.knowledge import LIMB_REGIONS, Knowledge
from dictate.language.marking import Marked
from dictate.language.values import OPPOSITE, Group, Place, State
from dictate.language.vocabulary import Term

KIND_OF = {"site_words": "places", "sides": "sides", "tooth": "teeth"}


def groups(marked: Marked, stretch: Stretch) -> tuple[Group, ...]:
    """Cut the terms of a stretch into groups of place and statement.

    "Small lump on the left flank" is one group; "left clean right waxy" are two.
    """
    out: list[Group] = []
    now = Group()
    last = ""
    for term in stretch.terms:
        slot = KIND_OF.get(term.kind, "contents")
        if slot in ("places", "sides") and now.contents and _begins_anew(marked, stretch, now, term):
            out.append(now)
            carried = now.places if slot == "sides" and not _place_follows(stretch, term) else ()
            now = Group(places=carried)
        if term.kind == "quantity" and now.sides and any(t.kind == "quantity" for t in now.contents):
            out.append(now)
            now = Group(places=now.places)
        if slot == "teeth" and now.contents and now.teeth and last != "teeth":
            out.append(now)
            now = Group()
        now = now.plus(**{slot: term})
        last = slot
    if now != Group():
        out.append(now)
    return tuple(out)


def _begins_anew(marked: Marked, stretch: Stretch, now: Group, term: Term) -> bool:
    if term.kind == "sides":
        sides = {row.side for row in term.rows if row.side}
        have = {row.side for t in now.sides for row in t.rows if row.side}
        return bool(have) and not sides & have and "both" not in sides
    if not now.places:
        return False
    return not _after_place_word(marked, stretch, term)


def _after_place_word(marked: Marked, stretch: Stretch, term: Term) -> bool:
    back = term.first - 1
    while back > stretch.first and (
        marked.tokens[back].text in _SKIPPED
        or any(t.kind == "sides" and t.first <= back < t.last for t in stretch.terms)
    ):
        back -= 1
    return back >= stretch.first and marked.tokens[back].text in PLACES


_SKIPPED = frozenset(
    ["the", "a", "an", "his", "her", "its", "this", "that", "both", "each", "either", "upper", "lower"]
)


def _place_follows(stretch: Stretch, side: Term) -> bool:
    return any(t.kind == "site_words" and 0 <= t.first - side.last <= 1 for t in stretch.terms)


def limb_of(marked: Marked, stretch: Stretch, state: State) -> str | None:
    """The limb that words of the stretch tell, else the one in force."""
    told = [row.limb for cue in marked.cues_in(stretch, "limb_words") for row in cue.rows]
    return told[-1] if told else state.limb


def sites_of(term: Term, limb: str | None, know: Knowledge, findings: Sequence[str] = ()) -> tuple[str, ...]:
    """The site or sites that a place's words mean here.

    Words that name a front and a hind part mean the one of the limb in force, both where neither is told in the plural.
    Other words of several meanings mean the one where the findings said of them can stand.
    """
    sites = tuple(dict.fromkeys(row.site for row in term.rows))
    if len(sites) == 1:
        return sites
    regions = {know.region.get(s) for s in sites}
    if set(LIMB_REGIONS.values()) <= regions:
        if limb in LIMB_REGIONS:
            return tuple(s for s in sites if know.region[s] == LIMB_REGIONS[limb])[:1]
        return sites[:2]
    for finding in findings:
        fitting = [s for s in sites if know.fits(finding, s)]
        if fitting:
            return (fitting[0],)
    return sites[:1]


def _plural(term: Term) -> bool:
    return term.plural or any(row.number == "plural" for row in term.rows)


def told_side(sides: Sequence[Term], state: State) -> str | None:
    """The side that side words tell: two different ones are both, "the other" is the opposite of the one in force.

    It is "open" where the words say that the side is not told.
    """
    told: list[str] = []
    for term in sides:
        for row in term.rows:
            side = row.side
            if side == "other":
                side = OPPOSITE.get(state.side or "", "other")
            elif side == "same":
                side = state.side
            if side:
                told.append(side)
    if not told:
        return None
    if "open" in told:
        return "open"
    if "both" in told or {"left", "right"} <= set(told):
        return "both"
    return told[-1] if told[-1] != "other" else None


def place(group: Group, state: State, limb: str | None, know: Knowledge, findings: Sequence[str] = ()) -> Place | None:
    """The place of a group: named in it, or the one in force; None where there is neither."""
    side = told_side(group.sides, state)
    told = side is not None
    if side == "open":
        meant = [s for t in group.places for s in sites_of(t, limb, know, findings)] or list(state.topics)
        if not meant:
            return None
        return Place(tuple(dict.fromkeys(meant)), None, open_side=True, named=bool(group.places), told=True)
    if not group.places:
        if not state.topics:
            return None
        if side is None and state.side and know.related(state.topics[0], state.side_for):
            side = state.side
        if side is None and state.plural:
            side = "both"
        return Place(state.topics, side, named=False, plural=state.plural, told=told)
    sites: list[str] = []
    plural = False
    for term in group.places:
        for row in term.rows:
            if row.side and side is None:
                side, told = row.side, True
        plural = plural or _plural(term)
        sites += [s for s in sites_of(term, limb, know, findings) if s not in sites]
    if side is None:
        side = _side_in_force(sites[0], plural, state, know)
    return Place(tuple(sites), side, open_side=side is None, plural=plural, told=told)


def _side_in_force(site: str, plural: bool, state: State, know: Knowledge) -> str | None:
    held = any(know.within(site, s) and s != site for s in state.side_for)
    if state.side in OPPOSITE and (held or (not plural and know.related(site, state.side_for))):
        return state.side
    if plural:
        return "both"
    return None
