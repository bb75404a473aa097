"""Numbers that tell more of a finding, or are the value of a site that only the second reader knew."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.exam.statements import Measure
from dictate.language.measuring import bare_unit, graded, sized
from dictate.language.quantities import Quantity
from dictate.language.says import Scene
from dictate.language.values import Said
from dictate.language.vocabulary import Term

BACK = 2  # stretches back in which a grade or size finds the finding that it tells of
SURE_MEASURE = 0.3  # the second reader's probability from which a bare number is the value of its site


def with_details(
    scene: Scene, earlier: Sequence[Said], said: Sequence[Said], *, mending: bool = False
) -> tuple[tuple[Said, ...], tuple[Said, ...]]:
    """Statements before this stretch, and of it, with the stretch's quantities that no statement has used yet.

    Where something is `mending` (said better), they take the place of what was told of the same kind.
    """
    before, now = list(earlier), list(said)
    for term in scene.stretch.of("quantity"):
        if _used(term.rows[0], now):
            continue
        value = valued(scene, term)
        if value is not None:
            now.append(value)
            continue
        more = graded(term) or sized(term)
        if not more:
            continue
        alone = not scene.stretch.of("finding_words", "site_words", "normal_words")
        first, second = (before, now) if alone and "grade" in more else (now, before)
        if not _add(first, more, scene.number, instead=mending and first is before):
            _add(second, more, scene.number)
    named = scene.stretch.of("tooth")
    charted = _charted(scene, earlier)
    if charted:
        return tuple(earlier), (*said, *charted)
    if named and not scene.stretch.of("finding_words", "normal_words"):
        before = _teeth_behind(scene, before, [str(n) for t in named for n in t.rows[0].numbers])
    return tuple(before), tuple(now)


def _charted(scene: Scene, earlier: Sequence[Said]) -> list[Said]:
    """The finding just told of other teeth, for teeth and a grade alone ("108 calculus grade two, 208 grade one")."""
    stretch = scene.stretch
    told = stretch.of("tooth", "quantity")
    grades = [g for t in stretch.of("quantity") if (g := graded(t))]
    if len(told) != len(stretch.terms) or len(grades) != 1 or not stretch.of("tooth"):
        return []
    last = next((s for s in reversed(earlier) if s.site in scene.know.traits["tooth"]), None)
    if last is None or not last.finding or not last.present or scene.number - last.stretch > BACK:
        return []
    if "grade" not in last.qualifiers or scene.marked.stretches[last.stretch].sentence != stretch.sentence:
        return []
    kept = {k: v for k, v in last.qualifiers.items() if k not in ("location", "severity", "size", "by")}
    model = last.but(stretch=scene.number, first=stretch.first, last=stretch.last, qualifiers={**kept, **grades[0]})
    return [
        model.but(qualifiers={**model.qualifiers, "tooth": str(n)})
        for t in stretch.of("tooth")
        for n in t.rows[0].numbers
    ]


def _teeth_behind(scene: Scene, before: list[Said], numbers: Sequence[str]) -> list[Said]:
    """Teeth named behind their finding ("grade one calculus, one oh eight and two oh eight") put into it."""
    toothed = scene.know.traits["tooth"]
    last = next((s for s in reversed(before) if s.site in toothed and s.finding), None)
    if last is None or scene.number - last.stretch > BACK or not numbers:
        return before
    if scene.marked.stretches[last.stretch].sentence != scene.stretch.sentence:
        return before
    group = [s for s in before if s.what == last.what and s.stretch == last.stretch]
    told_there = scene.marked.stretches[last.stretch].of("tooth")
    if told_there:
        return before
    model = group[0]
    have = [s.qualifiers["tooth"] for s in group if "tooth" in s.qualifiers and s.signals.get("behind")]
    teeth = dict.fromkeys([*have, *numbers])
    new = [
        model.but(qualifiers={**model.qualifiers, "tooth": t}, signals={**model.signals, "behind": 1.0}) for t in teeth
    ]
    at = before.index(group[0])
    kept = [s for s in before if s not in group]
    return [*kept[:at], *new, *kept[at:]]


def _used(q: Quantity, said: Sequence[Said]) -> bool:
    grade = f"{q.number:g}"
    for s in said:
        if s.value is not None and s.value.number == q.number:
            return True
        size = s.qualifiers.get("size")
        if isinstance(size, dict) and size.get("number") == q.number:
            return True
        if str(s.qualifiers.get("grade", "")).split("/")[0].split("-")[0] == grade:
            return True
    return False


def _add(said: list[Said], more: dict, number: int, *, instead: bool = False) -> bool:
    """Put `more` into the latest present finding near stretch `number`; whether there was one."""
    for i in range(len(said) - 1, -1, -1):
        one = said[i]
        if number - one.stretch > BACK:
            return False
        if not one.finding or not one.present or (not instead and any(k in one.qualifiers for k in more)):
            continue
        for j, other in enumerate(said):
            if other.what == one.what and other.stretch == one.stretch:
                said[j] = other.but(qualifiers={**other.qualifiers, **more})
        return True
    return False


def valued(scene: Scene, term: Term) -> Said | None:
    """The value statement of a number whose site only the second reader tells."""
    if scene.reading is None:
        return None
    q: Quantity = term.rows[0]
    if q.kind not in ("number", "range", "score", "pressure", "time"):
        return None
    best: tuple[float, str, str | None] | None = None
    sides: dict[str, float] = {}
    for site in scene.reading.sites:
        if site.site not in scene.know.measures:
            continue
        p = max((o.probability for o in site.outcomes if o.measured), default=0.0)
        units = scene.know.measures[site.site]
        if q.unit and q.unit not in units and q.unit != "{score}":
            continue
        low, high = scene.know.bare.get(site.site, (0.0, 1e9))
        if q.unit is None and not low <= q.number <= high:
            continue
        if p >= SURE_MEASURE and (best is None or p > best[0]):
            unit = q.unit or (
                units[0] if q.kind == "score" and "{score}" in units else bare_unit(site.site, q.number, scene.know)
            )
            best = (p, site.site, unit)
            sides = dict(site.sides)
    if best is None:
        return None
    p, name, unit = best
    side = max(("left", "right", "both"), key=lambda s: sides.get(s, 0.0)) if name in scene.know.paired else None
    comparator = q.comparator if q.comparator in ("<", "<=", ">", ">=") else None
    return Said(
        site=name,
        side=side,
        status="normal",
        stretch=scene.number,
        first=scene.stretch.first,
        last=scene.stretch.last,
        rule="value: second reader",
        value=Measure(q.number, unit, comparator),
        qualifiers={"scale": f"{(q.scale or q.second):g}"} if q.kind == "score" and (q.scale or q.second) else {},
        sure=p,
        signals={
            "site": p,
            "outcome": p,
            "fact": scene.reading.roles.get("fact", 0.0),
            "side": sides.get(side or "none", 0.0),
            "taken_back": scene.reading.taken_back,
        },
    )
