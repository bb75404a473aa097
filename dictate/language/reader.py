"""The reader: stretch by stretch, from a marked talk to statements. One state in, one state out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictate.language import carry, edits
from dictate.language.knowledge import Knowledge
from dictate.language.marking import Marked
from dictate.language.places import groups, limb_of, place, sites_of, told_side
from dictate.language.roles import Role
from dictate.language.says import Scene, say, spread
from dictate.language.values import OPPOSITE, Group, Place, Said, State

QUIET_ROLES = ("intention", "address", "teaching")  # their words may still turn the talk to a place


@dataclass(frozen=True, slots=True)
class Step:
    """What one stretch became, for the trace: the statements it made and the rules that fired."""

    stretch: int
    made: tuple[Said, ...]
    rules: tuple[str, ...]


def read_stretches(marked: Marked, roles: Sequence[Role], know: Knowledge) -> tuple[tuple[Said, ...], tuple[Step, ...]]:
    """Read all stretches in order; the statements that stand at the end, and the trace."""
    state = State()
    steps: list[Step] = []
    starts = tuple(s.first for s in marked.stretches if s.of("site_words"))
    for number, role in enumerate(roles):
        before = state
        state, rules = read_stretch(Scene(marked, know, number, marked.stretches[number], starts), role, state)
        made = tuple(s for s in state.said if s not in before.said)
        steps.append(Step(number, made, rules))
    return state.said, tuple(steps)


def read_stretch(scene: Scene, role: Role, state: State) -> tuple[State, tuple[str, ...]]:
    """One stretch read in the light of those before it."""
    marked, stretch = scene.marked, scene.stretch
    if stretch.sentence != state.sentence:
        state = state.but(sentence=stretch.sentence, waiting=(), teeth=() if stretch.of("site_words") else state.teeth)
    limb = limb_of(marked, stretch, state)
    state = state.but(limb=limb)
    edit = [c for c in marked.cues_in(stretch, "edits")]
    if any(row.kind == "drop" for c in edit for row in c.rows):
        return state.but(said=edits.drop(state.said, scene.number)), ("taken back",)
    if any(row.kind == "fix" and c.first - stretch.first <= 1 for c in edit for row in c.rows):
        state = state.but(mending=scene.number)
    if not role.is_fact:
        if role.name in QUIET_ROLES:
            state = turn_to(scene, groups(marked, stretch), state)
        return state, (f"role: {role.name}",)
    rules: list[str] = []
    for group in groups(marked, stretch):
        state, fired = read_group(scene, group, state)
        rules += fired
    return state, tuple(rules)


def read_group(scene: Scene, group: Group, state: State) -> tuple[State, list[str]]:
    know, marked, number = scene.know, scene.marked, scene.number
    if mended := mend_side(scene, group, state):
        return mended, ["side corrected"]
    findings = [row.finding for t in group.contents if t.kind == "finding_words" for row in t.rows]
    where = place(group, state, state.limb, know, findings)
    if carried := carry_over(scene, group, where, state):
        return carried, ["carried over"]
    if where and state.waiting and group.places and group.contents:
        where = join_waiting(where, state, know)
    said = say(scene, group, where, state)
    rules = [s.rule for s in said]
    if state.mending >= 0 and number - state.mending <= 2 and said:
        state = state.but(said=edits.replaced(state.said, said, number), mending=-1)
        rules.append("said better")
    else:
        state = state.but(said=(*state.said, *said))
    waiting = state.waiting
    if group.places and not group.contents and where:
        waiting = (*waiting, where)
    elif said:
        waiting = ()
    return turned(group, where, said, state.but(waiting=waiting), know), rules


def turned(group: Group, where: Place | None, said: Sequence[Said], state: State, know: Knowledge) -> State:
    """The state after a group: what it named is now spoken of, and its side is in force."""
    if group.teeth:
        state = state.but(teeth=group.teeth)
    elif group.places:
        state = state.but(teeth=())
    if where and where.named:
        told = told_side(group.sides, state) or where.side
        state = state.but(topics=where.sites, plural=where.plural)
        if told:
            return state.but(side=told, side_for=where.sites)
        return state if know.related(where.sites[0], state.side_for) else state.but(side=None, side_for=())
    told = told_side(group.sides, state)
    if told:
        return state.but(side=told, side_for=state.topics)
    if said and not where:
        return state.but(topics=tuple(dict.fromkeys(s.site for s in said)), plural=False)
    return state


def turn_to(scene: Scene, found: Sequence[Group], state: State) -> State:
    """The state after talk that says nothing of a place but names it ("let's see that left ear")."""
    for group in found:
        if group.places or group.sides:
            where = place(Group(group.places, group.sides), state, state.limb, scene.know)
            state = turned(Group(group.places, group.sides), where, (), state, scene.know)
    return state


def join_waiting(where: Place, state: State, know: Knowledge) -> Place:
    """The place together with those of the list before it ("carpus, elbow and shoulder normal")."""
    joined = [w for w in state.waiting if not any(know.within(s, t) for s in where.sites for t in w.sites)]
    sites = tuple(dict.fromkeys(s for w in (*joined, where) for s in w.sites))
    side = where.side or next((w.side for w in joined if w.side), None)
    return Place(sites, side, open_side=side is None, plural=where.plural)


def mend_side(scene: Scene, group: Group, state: State) -> State | None:
    """The state with the last side corrected, where a correction gives nothing but a side."""
    told = told_side(group.sides, state)
    if state.mending < 0 or scene.number - state.mending > 1 or told not in OPPOSITE or group.contents:
        return None
    last = edits.last_said(state.said, scene.number)
    if not last:
        return None
    if group.places:
        sites = [s for t in group.places for s in sites_of(t, state.limb, scene.know)]
        if not any(s.site in sites for s in last):
            return None
    said = edits.resided(state.said, told, scene.number)
    return state.but(said=said, side=told, side_for=tuple(s.site for s in last), mending=-1)


def carry_over(scene: Scene, group: Group, where: Place | None, state: State) -> State | None:
    """The state after words of sameness for the other side, or None where the group has none."""
    cues = scene.marked.cues_in(scene.stretch, "carry")
    same = [c for c in cues if any(row.kind == "same" for row in c.rows)]
    if not same:
        return None
    target = told_side(group.sides, state) or next((r.side for t in group.places for r in t.rows if r.side), None)
    if target == "both" or target is None:
        target = OPPOSITE.get(state.side or "") if target is None and group.places else None
    if target not in OPPOSITE:
        return None
    found = carry.source(target, where, bool(group.places), state, scene.know)
    if not found:
        return None
    new = carry.repeat(found, target, stretch=scene.number, first=scene.stretch.first, last=scene.stretch.last)
    sided = Place(where.sites if where and group.places else (found[0].site,), target)
    exceptions = say(scene, Group(contents=group.contents), Place(sided.sites, target, named=False), state)
    exceptions = tuple(e for e in exceptions if e.finding)
    return state.but(
        said=(*state.said, *carry.with_exceptions(new, exceptions, scene.know)),
        side=target,
        side_for=tuple(dict.fromkeys(s.site for s in found)),
        topics=tuple(dict.fromkeys(s.site for s in found))[-1:],
        waiting=(),
    )


__all__ = ["Step", "read_stretch", "read_stretches", "spread"]
