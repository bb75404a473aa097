"""What a group says of its place: findings, absences, plain normals, values, and what could not be examined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dictate.exam.statements import Doubt
from dictate.language.clauses import PLACES, Stretch
from dictate.language.knowledge import Knowledge
from dictate.language.marking import Marked
from dictate.language.measuring import graded, measured, sized
from dictate.language.polarity import Polarity, polarity
from dictate.language.second_reader import StretchReading
from dictate.language.values import Group, Place, Said, State
from dictate.language.vocabulary import Term

OPEN_SIDE = Doubt("side", "which side was meant?", ("left", "right", "both"))
WEAK = "weak"  # note of a row whose words often mean something else


@dataclass(frozen=True, slots=True)
class Scene:
    """All that is known where a group is read."""

    marked: Marked
    know: Knowledge
    number: int
    stretch: Stretch
    starts: tuple[int, ...]
    reading: StretchReading | None = None

    def polarity(self, term: Term) -> Polarity:
        return polarity(
            self.marked.tokens, self.marked.cues, term.first, term.last, starts=self.starts, solid=self.marked.terms
        )


def say(scene: Scene, group: Group, where: Place | None, state: State) -> tuple[Said, ...]:
    """The statements of one group, in the order of the talk."""
    if any(t.kind == "not_examined" for t in group.contents):
        term = next(t for t in group.contents if t.kind == "not_examined")
        return not_examined(scene, term, where)
    out: list[Said] = []
    for term in group.contents:
        if term.kind == "finding_words":
            out += finding(scene, term, group, where, state)
        elif term.kind == "normal_words":
            out += normal(scene, term, where, state)
        elif term.kind == "quantity":
            out = quantity(scene, term, where, state, out)
    return tuple(with_teeth(out, group, state, scene.know))


def spread(said: Said, where: Place | None, sites: Sequence[str], know: Knowledge) -> list[Said]:
    """`said` for each of `sites`, with the place's side where a site is paired."""
    out = []
    for site in sites:
        if site not in know.paired:
            sided = where is not None and where.side and where.told and site not in know.measures
            extra = {"side": where.side} if where and sided else {}
            one = said.but(site=site, side=None, qualifiers={**said.qualifiers, **extra})
            out.append(one.doubted(OPEN_SIDE) if where and where.told and where.open_side else one)
            continue
        side = where.side if where else None
        told = 1.0 if where and where.told else 0.0
        one = said.but(site=site, side=side, signals={**said.signals, "told": told})
        out.append(one if side or site in know.traits.get("open side", ()) else one.doubted(OPEN_SIDE))
    return out


def finding(scene: Scene, term: Term, group: Group, where: Place | None, state: State) -> list[Said]:
    """Statements of one finding: of the site named where it can stand there, else that in force, else its home."""
    know = scene.know
    row, sites, rule = choose(term, where, know)
    present = row.present is not False
    pol = scene.polarity(term)
    if pol.negated:
        present = not present
    qualifiers = dict(row.qualifiers)
    if present:
        qualifiers |= severity(scene, group) | location(scene, term)
    if not sites or (row.note == WEAK and normal_there(term, group, sites)):
        return []
    said = Said(
        site=sites[0],
        side=None,
        status="abnormal" if present else "normal",
        stretch=scene.number,
        first=scene.stretch.first,
        last=scene.stretch.last,
        rule=f"finding: {rule}",
        finding=row.finding,
        present=present,
        hedged=bool(pol.hedges),
        qualifiers=qualifiers,
        sure=0.6 if row.note == "weak" and rule != "named" else 0.9,
    )
    return spread(said, where, sites, know)


def normal_there(term: Term, group: Group, sites: Sequence[str]) -> bool:
    """Whether the same words are listed as normal for these very sites ("paws warm", but "elbow warm")."""
    twins = [t for t in group.contents if t.kind == "normal_words" and (t.first, t.last) == (term.first, term.last)]
    return any(row.site in sites for t in twins for row in t.rows)


def choose(term: Term, where: Place | None, know: Knowledge) -> tuple[Any, tuple[str, ...], str]:
    """The row of a finding's words, the sites it stands at here, and how they were found.

    A site named with the words comes first, then the one the words tell by themselves, then the one in force, then the
    finding's home. Words of a weak row mean the finding only at a site where it can stand, named or just spoken of.
    """
    strong = [row for row in term.rows if row.note != WEAK]
    if where and where.named:
        for row in term.rows:
            fitting = fits(row, where, know)
            if fitting:
                return row, fitting, "named"
    for row in strong:
        if row.site:
            return row, (row.site,), "told by the words"
    if where and not where.named:
        for row in term.rows:
            fitting = fits(row, where, know)
            if fitting and (row in strong or row.finding in know.stands_at):
                return row, fitting, "in force"
    for row in strong:
        if row.finding in know.home:
            return row, (know.home[row.finding],), "home"
    return term.rows[0], (), "no place"


def fits(row: Any, where: Place, know: Knowledge) -> tuple[str, ...]:
    """The sites of a place at which a finding can stand, settled by the table `site_findings`."""
    if row.site and not any(know.related(row.site, (s,)) for s in where.sites):
        return ()
    sites = [know.settled(s, row.finding) for s in where.sites if know.fits(row.finding, s) and s not in know.measures]
    return tuple(dict.fromkeys(sites))


def normal(scene: Scene, term: Term, where: Place | None, state: State) -> list[Said]:
    """A plain normal of the sites named or in force; words that tell their site by themselves need none."""
    know = scene.know
    listed = [row.site for row in term.rows if row.site]
    implied = [row.site for row in term.rows if row.site and row.implies == "yes"]
    anywhere = any(not row.site for row in term.rows)
    rule = "normal: named"
    if where and where.named:
        sites = where.sites
        if not anywhere and not any(know.within(s, t) or know.within(t, s) for s in sites for t in listed):
            if not implied:
                return []
            sites, rule = (implied[0],), "normal: told by the words"
    elif where and (anywhere or any(s in listed for s in where.sites)):
        sites, rule = tuple(s for s in where.sites if anywhere or s in listed), "normal: in force"
    elif where and any(know.within(s, t) for s in listed for t in where.sites):
        sites, rule = (
            tuple(s for s in listed if any(know.within(s, t) for t in where.sites))[:1],
            "normal: in force, part",
        )
    elif implied:
        sites, rule = (implied[0],), "normal: told by the words"
    else:
        return []
    if not (where and where.named) and rule == "normal: told by the words":
        where = Place(
            sites,
            where.side if where and where.side and know.related(sites[0], where.sites) else "both",
            told=where.told if where else False,
        )
    pol = scene.polarity(term)
    said = Said(
        site=sites[0],
        side=None,
        status="abnormal" if pol.negated else "normal",
        stretch=scene.number,
        first=scene.stretch.first,
        last=scene.stretch.last,
        rule=rule,
        hedged=bool(pol.hedges),
        sure=0.6 if pol.negated else 0.85 if rule == "normal: named" else 0.7,
    )
    if pol.negated:
        said = said.doubted(Doubt("status", "said not to be normal, without a finding", ("abnormal", "normal")))
    return spread(said, where, sites, know)


def not_examined(scene: Scene, term: Term, where: Place | None) -> tuple[Said, ...]:
    """Sites that were tried, or left, and not examined; the reason is the sentence's own words."""
    if where is None:
        return ()
    pol = scene.polarity(term)
    reason = scene.marked.words(scene.stretch.first, scene.stretch.last)
    said = Said(
        site=where.sites[0],
        side=None,
        status="not_examined",
        stretch=scene.number,
        first=scene.stretch.first,
        last=scene.stretch.last,
        rule="not examined",
        hedged=bool(pol.hedges),
        qualifiers={"reason": reason},
        sure=0.8 if where.named else 0.6,
    )
    return tuple(spread(said, where, where.sites, scene.know))


def quantity(scene: Scene, term: Term, where: Place | None, state: State, out: list[Said]) -> list[Said]:
    """The statements with one quantity read: a value of its own, or the grade or size of a finding just said."""
    value = measured(scene.marked, scene.know, term, where, scene.reading)
    if value is not None:
        said = value.but(stretch=scene.number, first=scene.stretch.first, last=scene.stretch.last)
        return [
            *out,
            *spread(
                said,
                where if where and value.site in where.sites else Place((value.site,), where.side if where else None),
                (value.site,),
                scene.know,
            ),
        ]
    for read in (graded, sized):
        qualifiers = read(term)
        if qualifiers:
            at = next((i for i in range(len(out) - 1, -1, -1) if out[i].finding and out[i].present), None)
            if at is not None:
                what = out[at].what
                return [s.but(qualifiers={**qualifiers, **s.qualifiers}) if s.what == what else s for s in out]
    return out


def severity(scene: Scene, group: Group) -> dict[str, str]:
    """The severity that words of the stretch tell."""
    named = [(t.first, t.last) for t in group.contents if t.kind == "finding_words"]
    cues = [c for c in scene.marked.cues_in(scene.stretch, "severity") if (c.first, c.last) not in named]
    told = [row.severity for cue in cues for row in cue.rows]
    return {"severity": told[0]} if told else {}


def location(scene: Scene, term: Term) -> dict[str, str]:
    """The words of place behind a finding ("on the left flank"), as they were said."""
    for i in range(term.last, scene.stretch.last):
        if scene.marked.tokens[i].text in PLACES:
            words = scene.marked.words(i + 1, scene.stretch.last)
            return {"location": words} if words else {}
    return {}


def with_teeth(said: Sequence[Said], group: Group, state: State, know: Knowledge) -> list[Said]:
    """One statement for each tooth named, of findings and normals that teeth and gums can have."""
    teeth = group.teeth or state.teeth
    if not teeth:
        return list(said)
    out: list[Said] = []
    for one in said:
        if one.site not in know.traits["tooth"]:
            out.append(one)
            continue
        for tooth in teeth:
            for number in tooth.rows[0].numbers:
                kept = {k: v for k, v in one.qualifiers.items() if k != "side"}  # the number tells the side
                out.append(one.but(qualifiers={**kept, "tooth": str(number)}))
    return out
