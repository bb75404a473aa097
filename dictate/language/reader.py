"""The reader: stretch by stretch, from a marked talk to statements. One state in, one state out."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter

from dictate.language import carry, edits
from dictate.language.clauses import Stretch
from dictate.language.context_signals import with_context
from dictate.language.details import with_details
from dictate.language.fusing import FROM_SECOND, fuse
from dictate.language.knowledge import LIMB_REGIONS, Knowledge
from dictate.language.marking import Marked
from dictate.language.measuring import with_units_of_the_talk
from dictate.language.places import groups, limb_of, place, sites_of, told_side
from dictate.language.roles import Role
from dictate.language.says import Scene, say
from dictate.language.second_reader import StretchReading
from dictate.language.values import OPPOSITE, Group, Place, Said, State
from dictate.language.vocabulary import Term

REVIVED = 0.2  # the second reader's probability of an observation that outweighs a cue of another role
QUIET_ROLES = ("intention", "address", "teaching")  # their words may still turn the talk to a place


@dataclass(frozen=True, slots=True)
class Step:
    """What one stretch became, for the trace: the statements it made and the rules that fired."""

    stretch: int
    made: tuple[Said, ...]
    rules: tuple[str, ...]


def read_stretches(
    marked: Marked, roles: Sequence[Role], know: Knowledge, readings: Sequence[StretchReading | None] = ()
) -> tuple[tuple[Said, ...], tuple[Step, ...]]:
    """Read all stretches in order; the statements that stand at the end, and the trace.

    `readings` are the second reader's, one a stretch; without them the rules read alone.
    """
    state = State()
    steps: list[Step] = []
    starts = tuple(s.first for s in marked.stretches if opens_with_place(s))
    for number, role in enumerate(roles):
        known = {id(s) for s in latest(state.said, number)}
        reading = readings[number] if readings else None
        scene = Scene(marked, know, number, marked.stretches[number], starts, reading)
        state, rules = read_stretch(scene, role, state)
        made = tuple(s for s in latest(state.said, number) if id(s) not in known)
        steps.append(Step(number, made, rules))
    said = with_units_of_the_talk(state.said, know)
    return with_context(said, marked), tuple(steps)


def latest(said: Sequence[Said], number: int) -> Sequence[Said]:
    """The statements of the stretches before stretch `number` that its words may still change, and of itself."""
    return said[bisect_left(said, number - edits.REACH, key=attrgetter("stretch")) :]


def read_stretch(scene: Scene, role: Role, state: State) -> tuple[State, tuple[str, ...]]:
    """One stretch read in the light of those before it."""
    marked, stretch, reading = scene.marked, scene.stretch, scene.reading
    if stretch.sentence != state.sentence:
        state = state.but(sentence=stretch.sentence, waiting=(), waiting_teeth=())
    state = state.but(limb=limb_of(marked, stretch, state))
    edit = marked.cues_in(stretch, "edits")
    if any(row.kind == "drop" for c in edit for row in c.rows):
        return state.but(said=edits.drop(state.said, scene.number)), ("taken back",)
    if any(corrects(row.kind, c, stretch) for c in edit for row in c.rows):
        state = state.but(mending=scene.number)
    if not role.is_fact and (role.certain or reading is None or reading.roles.get("fact", 0.0) < REVIVED):
        if role.name in QUIET_ROLES:
            state = turn_to(scene, groups(marked, stretch), state)
        return state, (f"role: {role.name}",)
    said: list[Said] = []
    for group in groups(marked, stretch) or says_same(scene):
        mended = mend_side(scene, group, state)
        if mended is not None:
            return mended, ("side corrected",)
        new, state = read_group(scene, group, state)
        said += new
    state = sided_limb(scene, state)
    if reading is not None:
        said = [s.but(signals={**s.signals, "cue": 0.0 if role.is_fact else 1.0}) for s in said]
        said = list(fuse(scene, said, state, tooth_numbers=teeth_named(stretch, state)))
        state = turn_to_proposed(said, state)
    return settle(scene, said, state)


def opens_with_place(stretch: Stretch) -> bool:
    """Whether a stretch names its place before what it says of it ("carpus swollen", not "swelling in the carpus")."""
    order = [t.kind for t in stretch.of("site_words", "finding_words", "normal_words")]
    return order[:1] == ["site_words"]


def corrects(kind: str, cue: Term, stretch: Stretch) -> bool:
    """Whether an edit's words take something back here: they open the stretch; those of kind `alone` are all of it."""
    if kind == "alone":
        return len(cue) == stretch.last - stretch.first
    return kind == "fix" and cue.first - stretch.first <= 1


def settle(scene: Scene, said: Sequence[Said], state: State) -> tuple[State, tuple[str, ...]]:
    """The state with a stretch's statements: details added, what they correct taken out."""
    earlier: Sequence[Said]
    mending = state.mending >= 0 and scene.number - state.mending <= 2
    earlier, said = with_details(scene, state.said, said, mending=mending)
    if excepts(scene):
        first = next(i for i, s in enumerate(scene.marked.stretches) if s.sentence == scene.stretch.sentence)
        earlier = carry.after_exception(earlier, said, first, scene.know)
    rules = tuple(s.rule for s in said)
    if mending and said:
        return state.but(said=edits.replaced(earlier, said, scene.number), mending=-1), (*rules, "said better")
    return state.but(said=(*earlier, *said)), rules


def excepts(scene: Scene) -> bool:
    """Whether a stretch opens with a word of exception ("except the elbow is thick")."""
    cues = scene.marked.cues_in(scene.stretch, "carry")
    return any(row.kind == "except" for c in cues if c.first == scene.stretch.first for row in c.rows)


def teeth_named(stretch: Stretch, state: State) -> tuple[str, ...]:
    """Numbers of the teeth named in the stretch, else of those in force."""
    terms = stretch.of("tooth") or state.teeth
    if stretch.of("tooth") and stretch.of("finding_words", "normal_words"):
        terms = (*state.waiting_teeth, *terms)
    return tuple(str(number) for term in terms for number in term.rows[0].numbers)


def read_group(scene: Scene, group: Group, state: State) -> tuple[tuple[Said, ...], State]:
    """The rules' statements of one group, and the state after it."""
    know = scene.know
    findings = [row.finding for t in group.contents if t.kind == "finding_words" for row in t.rows]
    where = place(group, state, state.limb, know, findings)
    carried = carry_over(scene, group, where, state)
    if carried is not None:
        return carried
    if where and state.waiting and group.contents and (group.places or len(state.waiting) > 1):
        where = join_waiting(where, state, know)
    if group.teeth and group.contents and state.waiting_teeth:
        group = Group(group.places, group.sides, (*state.waiting_teeth, *group.teeth), group.contents)
    said = say(scene, group, where, state)
    waiting = state.waiting
    if group.places and not group.contents and where:
        waiting = (*waiting, where)
    elif said:
        waiting = ()
    return said, turned(group, where, said, state.but(waiting=waiting), know)


def turned(group: Group, where: Place | None, said: Sequence[Said], state: State, know: Knowledge) -> State:
    """The state after a group: what it named is now spoken of, and its side is in force."""
    if group.teeth:
        state = state.but(
            teeth=group.teeth, waiting_teeth=() if group.contents else (*state.waiting_teeth, *group.teeth)
        )
    elif where and where.named and not know.related(where.sites[0], know.traits["tooth"]) and group.contents:
        state = state.but(teeth=())
    told = told_side(group.sides, state)
    if told == "open":
        told = None
    if where and where.named:
        told = told or where.side
        state = state.but(topics=where.sites, plural=where.plural)
        if told:
            return state.but(side=told, side_for=where.sites)
        return state if know.related(where.sites[0], state.side_for) else state.but(side=None, side_for=())
    if told:
        return state.but(side=told, side_for=state.topics)
    if said and not where:
        return state.but(topics=tuple(dict.fromkeys(s.site for s in said)), plural=False)
    return state


def sided_limb(scene: Scene, state: State) -> State:
    """The state after a side told of a limb that no site was named for ("left hind: stifle swollen")."""
    limbs = scene.marked.cues_in(scene.stretch, "limb_words")
    told = scene.stretch.of("sides") and not scene.stretch.of("site_words")
    if not told or not limbs or state.side is None or state.limb not in LIMB_REGIONS:
        return state
    sites = tuple(s for s, region in scene.know.region.items() if region == LIMB_REGIONS[state.limb])
    return state.but(side_for=(*state.topics, *sites[:1]))


def turn_to(scene: Scene, found: Sequence[Group], state: State) -> State:
    """The state after talk that says nothing of a place but names it ("let's see that left ear")."""
    for group in found:
        if group.places or group.sides:
            bare = Group(group.places, group.sides)
            state = turned(bare, place(bare, state, state.limb, scene.know), (), state, scene.know)
    return state


def turn_to_proposed(said: Sequence[Said], state: State) -> State:
    """The state after a stretch whose place only the second reader knew: its sites are now spoken of."""
    if any(s.rule != FROM_SECOND for s in said):
        return state
    sure = [s for s in said if s.sure >= 0.6]
    if not sure or any(s.site in state.topics for s in sure):
        return state
    side = sure[-1].side
    state = state.but(topics=tuple(dict.fromkeys(s.site for s in sure)), plural=side == "both")
    return state.but(side=side, side_for=state.topics) if side else state


def join_waiting(where: Place, state: State, know: Knowledge) -> Place:
    """The place together with those of the list before it ("carpus, elbow and shoulder normal")."""
    joined = [w for w in state.waiting if not any(know.within(s, t) for s in where.sites for t in w.sites)]
    sites = tuple(dict.fromkeys(s for w in (*joined, where) for s in w.sites))
    side = where.side or next((w.side for w in joined if w.side), None)
    return Place(sites, side, open_side=side is None, plural=where.plural, told=where.told)


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


def says_same(scene: Scene) -> tuple[Group, ...]:
    """An empty group for a stretch that says no more than that all is the same; none for other talk."""
    cues = scene.marked.cues_in(scene.stretch, "carry")
    return (Group(),) if any(row.kind == "same" for c in cues for row in c.rows) else ()


def just_named(scene: Scene) -> Stretch | None:
    """The stretch before, where it names a side in the same sentence, with its place or without, and says nothing."""
    if not scene.number:
        return None
    before = scene.marked.stretches[scene.number - 1]
    told = before.of("sides") or [t for t in before.of("site_words") if any(row.side for row in t.rows)]
    only_places = len(before.of("sides", "site_words")) == len(before.terms)
    return before if before.sentence == scene.stretch.sentence and told and only_places else None


def carry_over(scene: Scene, group: Group, where: Place | None, state: State) -> tuple[tuple[Said, ...], State] | None:
    """The statements that words of sameness repeat for the other side, and the state; None where the group has none."""
    cues = scene.marked.cues_in(scene.stretch, "carry")
    if not any(row.kind == "same" for c in cues for row in c.rows):
        return None
    target = told_side(group.sides, state) or next((r.side for t in group.places for r in t.rows if r.side), None)
    if target is None and group.places:
        target = OPPOSITE.get(state.side or "")
    before = just_named(scene) if target is None and not group.places else None
    if before:
        target = state.side  # "other ear, same story"
    if target not in OPPOSITE:
        return None
    named = bool(group.places) or (before is not None and bool(before.of("site_words")))
    found = carry.source(target, where, named, state, scene.know)
    if not found:
        return None
    first = (before or scene.stretch).first
    new = carry.repeat(found, target, stretch=scene.number, first=first, last=scene.stretch.last)
    sites = where.sites if where and group.places else (found[0].site,)
    exceptions = say(scene, Group(contents=group.contents), Place(sites, target, named=False), state)
    said = carry.with_exceptions(new, [e for e in exceptions if e.finding], scene.know)
    carried_sites = tuple(dict.fromkeys(s.site for s in found))
    return said, state.but(side=target, side_for=carried_sites, topics=carried_sites[-1:], waiting=())
