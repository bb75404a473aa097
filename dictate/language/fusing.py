"""Two readings of one stretch made one: the rules' statements and what the second reader proposes.

Nothing is decided here. Each statement gets its signals (what speaks for it, as numbers), from which `weighing` makes
one probability. What only the second reader says becomes a statement too, placed by the rules' grammar of sides.
"""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.carry import CARRIED
from dictate.language.knowledge import Knowledge
from dictate.language.says import OPEN_SIDE, Scene
from dictate.language.second_reader import Outcome, SiteReading, StretchReading
from dictate.language.seconding import known_findings, known_sites
from dictate.language.syntax import mood
from dictate.language.values import OPPOSITE, Said, State

FROM_SECOND = "second reader"
SIDES = ("left", "right", "both")
SIDE_REACH = 150  # tokens back within which a side that was said may still be meant
ONE_SIDED = frozenset(["left", "right", "other", "same"])
SIDE_OVER = 0.65  # probability from which its side goes before one that only the grammar carried on
SIDE_ALONE = 0.4  # and from which it fills an open one
SELDOM = "seldom"  # the trait of sites of which records mostly keep what was found elsewhere
SELDOM_SURE = 0.7
FACT_FROM = 0.3  # probability of a finding below which the second reader hears none
PROPOSE_FROM = 0.2  # probability from which a reading of the second reader is a statement to be weighed


def fuse(scene: Scene, said: Sequence[Said], state: State, *, tooth_numbers: Sequence[str] = ()) -> tuple[Said, ...]:
    """The statements of one stretch from both readers, with their signals.

    Args:
        said: what the rules made of the stretch.
        state: where the talk stands after the rules' reading.
        tooth_numbers: teeth that the stretch, or the talk before it, names.
    """
    reading = scene.reading
    if reading is None:
        return tuple(said)
    carried = [s for s in said if s.rule == CARRIED]
    told_near = side_told_near(scene)
    # Of a site that it was never trained on the second reader can speak neither for nor against: the rules stand alone.
    alone = [s for s in said if s.rule != CARRIED and s.site not in known_sites()]
    said = [s for s in said if s not in alone]
    alone = kept_alone(alone, reading, scene.know)
    out = [s if s.rule == CARRIED else with_signals(s, reading, told_near=told_near) for s in said]
    for site in reading.sites:
        for outcome in site.outcomes:
            if outcome.measured or outcome.probability < PROPOSE_FROM:
                continue
            if any(_same(s, site, outcome) for s in said):
                continue
            if any(s.finding == outcome.finding and s.present == outcome.present for s in alone):
                continue
            if carried and any(s.site == site.site for s in carried):
                continue
            about = _goes_on(scene, site, outcome, state)
            more = next((s.qualifiers for s in said if s.finding and s.finding == outcome.finding), {})
            for one in _proposed(scene, site, outcome, state, tooth_numbers):
                kept = {k: v for k, v in more.items() if k not in ("side", "tooth")}
                one = one.but(qualifiers={**kept, **one.qualifiers})
                out.append(one.but(side=about.side, qualifiers=about.qualifiers) if about else one)
    signed = (s.but(signals={**s.signals, **lexical(scene, s, state), "many": float(len(out))}) for s in out)
    return (*alone, *signed)


def kept_alone(alone: Sequence[Said], reading: StretchReading, know: Knowledge) -> list[Said]:
    """The statements of sites that the second reader does not know, less those that it places elsewhere.

    Sites with the trait `seldom` are named in talks of which records mostly keep what was found under another site:
    where the second reader says the same of one, or is sure of another, it is believed, and so where it hears no
    finding at all; else the statement is asked about.
    """
    out: list[Said] = []
    outcomes = [o for site in reading.sites for o in site.outcomes if not o.measured]
    elsewhere = reading.roles.get("fact", 0.0) < FACT_FROM or any(o.probability >= SELDOM_SURE for o in outcomes)
    for said in alone:
        if said.site not in know.traits.get(SELDOM, ()):
            out.append(said)
        elif not elsewhere and not any(_same_elsewhere(said, o) for o in outcomes):
            out.append(said.but(sure=min(said.sure, SELDOM_SURE)))
    return out


def _same_elsewhere(said: Said, outcome: Outcome) -> bool:
    alike = (outcome.finding, outcome.status, outcome.present) == (said.finding, said.status, said.present)
    return alike and outcome.probability >= PROPOSE_FROM


def lexical(scene: Scene, said: Said, state: State) -> dict[str, float]:
    """What the lexicon's words in the stretch, and just before it, have to do with a statement."""
    marked, stretch, know = scene.marked, scene.stretch, scene.know
    rows = [row for t in stretch.of("finding_words") for row in t.rows]
    earlier = marked.stretches[scene.number - 1].of("finding_words") if scene.number else ()
    sites = {row.site for t in stretch.of("site_words") for row in t.rows}
    finding = 0.0
    if said.finding:
        finding = 1.0 if any(r.finding == said.finding for r in rows) else 0.0
        if not finding and any(r.finding == said.finding for t in earlier for r in t.rows):
            finding = 0.5
    reading = scene.reading
    best = (
        max((o.probability for r in reading.sites for o in r.outcomes if not o.measured), default=0.0)
        if reading
        else 0.0
    )
    return {
        "finding_word": finding,
        "site_word": 1.0 if said.site in sites else 0.5 if said.site in state.topics else 0.0,
        "normal_word": 1.0 if stretch.of("normal_words") else 0.0,
        "denied": 1.0
        if any(row.kind in ("before", "after") for c in marked.cues_in(stretch, "negation") for row in c.rows)
        else 0.0,
        "usual": 1.0 if said.finding is None or know.fits(said.finding, said.site) else 0.0,
        "tokens": float(stretch.last - stretch.first),
        "list_item": 1.0
        if sites and not stretch.of("finding_words", "normal_words", "not_examined", "quantity")
        else 0.0,
        "best": best,
        "where": scene.number / max(1, len(marked.stretches)),
        **mood(marked.tokens[stretch.first : stretch.last], marked.syntax),
    }


def _goes_on(scene: Scene, site: SiteReading, outcome: Outcome, state: State) -> Said | None:
    """What the sentence has just stated and a stretch without a place or finding of its own goes on about."""
    if not outcome.finding or scene.stretch.of("site_words", "finding_words", "sides", "tooth"):
        return None
    stretches = scene.marked.stretches
    for s in reversed(state.said[-6:]):
        near = scene.number - s.stretch <= 2 and stretches[s.stretch].sentence == scene.stretch.sentence
        if near and _same(s, site, outcome):
            return s
    return None


def _same(said: Said, site: SiteReading, outcome: Outcome) -> bool:
    return (
        said.site == site.site
        and said.finding == outcome.finding
        and said.present == outcome.present
        and (said.status == outcome.status or said.value is not None)
    )


def _of_a_kind(said: Said, outcome: Outcome) -> bool:
    """Whether an outcome is of the same kind as a statement whose finding the second reader was not taught."""
    return bool(outcome.finding) and outcome.status == said.status and outcome.present == said.present


def side_told_near(scene: Scene) -> bool:
    """Whether a left or right was said in the stretch or before it: else nobody can know a single side."""
    low = scene.stretch.first - SIDE_REACH
    return any(
        t.kind in ("sides", "site_words")
        and low <= t.first < scene.stretch.last
        and any(row.side in ONE_SIDED for row in t.rows)
        for t in scene.marked.terms
    )


def sided(said: Said, site: SiteReading | None, *, told_near: bool) -> Said:
    """`said` with the second reader's side, where the words told none and it is surer than the grammar can be."""
    if site is None or said.signals.get("told") or "told" not in said.signals:
        return said
    best = max(SIDES, key=lambda s: site.sides.get(s, 0.0))
    p = site.sides.get(best, 0.0)
    if best == said.side or p < (SIDE_OVER if said.side else SIDE_ALONE):
        return said
    if best != "both" and not told_near:
        return said
    return said.but(side=best, doubts=tuple(d for d in said.doubts if d.kind != "side"))


def with_signals(said: Said, reading: StretchReading, *, told_near: bool = True) -> Said:
    """`said` with what the second reader thinks of it."""
    site = next((r for r in reading.sites if r.site == said.site), None)
    said = sided(said, site, told_near=told_near)
    p_out = 0.0
    untaught = said.finding is not None and said.finding not in known_findings()
    if site:
        if said.value is not None:
            p_out = max((o.probability for o in site.outcomes if o.measured), default=0.0)
        else:
            p_out = max((o.probability for o in site.outcomes if _same(said, site, o)), default=0.0)
            if untaught:
                p_out = max((o.probability for o in site.outcomes if _of_a_kind(said, o)), default=0.0)
    rival = max(
        (
            o.probability
            for r in reading.sites
            for o in r.outcomes
            if r.site != said.site
            and o.finding == said.finding
            and o.present == said.present
            and o.status == said.status
        ),
        default=0.0,
    )
    other = max(
        (
            o.probability
            for o in (site.outcomes if site else ())
            if not o.measured and (o.status != said.status or o.present != said.present)
        ),
        default=0.0,
    )
    side = site.sides.get(said.side or "none", 0.0) if site else 0.0
    signals = {
        "site": site.probability if site else 0.0,
        "outcome": p_out,
        "rival": rival,
        "other": other,
        "side": side,
        "fact": reading.roles.get("fact", 0.0),
        "taken_back": reading.taken_back,
        "untaught": float(untaught),
        "other_role": max((p for name, p in reading.roles.items() if name != "fact"), default=0.0),
    }
    return said.but(signals={**said.signals, **signals})


def _proposed(
    scene: Scene, site: SiteReading, outcome: Outcome, state: State, tooth_numbers: Sequence[str]
) -> list[Said]:
    know, reading = scene.know, scene.reading
    if reading is None:
        return []
    side, sure_side = _side(site, state, know)
    if side != "both" and not side_told_near(scene):
        side = None
    said = Said(
        site=site.site,
        side=side,
        status=outcome.status,
        stretch=scene.number,
        first=scene.stretch.first,
        last=scene.stretch.last,
        rule=FROM_SECOND,
        finding=outcome.finding,
        present=outcome.present,
        hedged=site.hedged >= 0.5,
        sure=outcome.probability,
    )
    if site.site in know.paired and side is None and site.site not in know.traits.get("open side", ()):
        said = said.doubted(OPEN_SIDE)
    said = with_signals(said, reading)
    said = said.but(signals={**said.signals, "side_sure": sure_side})
    if tooth_numbers and site.site in know.traits.get("tooth", ()):
        return [said.but(qualifiers={"tooth": t}) for t in tooth_numbers]
    return [said]


def _side(site: SiteReading, state: State, know: Knowledge) -> tuple[str | None, float]:
    """A proposed statement's side: that in force where the rules know the site is meant, else the second reader's."""
    if site.site not in know.paired:
        return None, 1.0
    best = max(("left", "right", "both"), key=lambda s: site.sides.get(s, 0.0))
    p = site.sides.get(best, 0.0)
    if state.side in (*OPPOSITE, "both") and know.related(site.site, state.side_for or state.topics):
        return (state.side if site.sides.get(state.side, 0.0) >= 0.25 or p < 0.6 else best), max(p, 0.6)
    return (best, p) if p >= 0.35 else (None, p)
