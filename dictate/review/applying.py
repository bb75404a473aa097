"""A draft and the decisions about it become the record as it stands now. The draft itself is never changed.

The same draft and decisions always give the same record, and a decision that was undone leaves no trace in it. A
decision whose observation or phrase is gone has no effect, and `replay` names it: with two reviewers no answer is lost
in silence.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from dictate.exam.phrases import name_of
from dictate.exam.record import Coverage, Evidence, Observation, Record, Review, Unplaced
from dictate.review import decisions as made
from dictate.review.choices import (
    CONTRADICTION,
    SCALE,
    SIDE,
    STATUS,
    UNIT,
    VALUE,
    alike_once,
    cannot_tell,
    not_examined,
    resolve,
    untold,
)
from dictate.review.decisions import Decision, in_force
from dictate.review.spoken import spoken_decisions

# Doubts whose choices are the record's own words; those of the others are words of the talk.
TOLD_BY_CHOICE = (CONTRADICTION, SCALE, SIDE, STATUS, UNIT, VALUE)


@dataclass(frozen=True, slots=True)
class Replay:
    """The record after the decisions, and the ids of those in force that had nothing left to act on."""

    record: Record
    idle: tuple[str, ...] = ()


def apply(draft: Record, decisions: Sequence[Decision]) -> Record:
    """The record after the decisions."""
    return replay(draft, decisions).record


def replay(draft: Record, decisions: Sequence[Decision]) -> Replay:
    """As `apply`, and which decisions had no effect.

    A signed record that is changed is unsigned again: preliminary, until the amendment is signed.
    """
    record, idle, due = draft, [], None
    for decision in in_force((*spoken_decisions(draft), *decisions)):
        if decision.kind == "offer answered":
            continue
        changed = _changed(record, decision)
        if changed is None:
            idle.append(decision.id)
            continue
        record = changed.model_copy(update={"review": (*record.review, _mark(decision))})
        if decision.kind == "edit patient" and decision.due is not None:
            due = decision.due
    if record is draft:
        return Replay(draft, tuple(idle))
    unsigned = {"status": "preliminary", "signature": None, "coverage": _coverage(draft, record, due)}
    return Replay(record.model_copy(update=unsigned), tuple(idle))


def _changed(record: Record, d: Decision) -> Record | None:
    """The record after one decision; None where there is nothing that it could act on."""
    match d:
        case made.Settle():
            return _on_doubt(record, d, lambda group, rest: resolve(group, rest, d.doubt, d.choice))
        case made.CannotTell():
            return _on_doubt(record, d, lambda group, _: cannot_tell(group, d.doubt))
        case made.NotExamined():
            found = tuple(o for o in record.observations if o.id in d.observations)
            return _exchange(record, d.observations, alike_once(not_examined(o, d.reason) for o in found))
        case made.Remove():
            return _exchange(record, d.observations, ())
        case made.Replace():
            return _exchange(record, d.observations, d.becomes)
        case made.Add():
            return _with(record, (*record.observations, d.observation))
        case made.Place():
            rest = _without_phrase(record, d.phrase)
            return rest and _with(rest, (*rest.observations, *d.observations))
        case made.PlaceInSection():
            rest = _without_phrase(record, d.phrase)
            kept = Evidence(**d.phrase.model_dump(exclude={"why"}))
            return rest and _in_section(rest, d.section, (*getattr(rest.other, d.section), kept))
        case made.Dismiss():
            rest = _without_phrase(record, d.phrase)
            return rest and rest.model_copy(update={"dismissed": (*rest.dismissed, d.phrase)})
        case made.EditPatient():
            return record.model_copy(update={"patient": d.patient})
        case made.EditEncounter():
            return record.model_copy(update={"encounter": d.encounter})
        case made.EditSection():
            return _in_section(record, d.section, d.parts)
    return None


Group = tuple[Observation, ...]


def _on_doubt(
    record: Record, d: made.Settle | made.CannotTell, becomes: Callable[[Group, Group], Group]
) -> Record | None:
    """The observations that still bear the doubt, replaced by what they become."""
    group = tuple(o for o in record.observations if o.id in d.observations and d.doubt in o.doubts)
    rest = tuple(o for o in record.observations if o not in group)
    return _exchange(record, tuple(o.id for o in group), becomes(group, rest)) if group else None


def _exchange(record: Record, ids: Iterable[str], by: Group) -> Record | None:
    """`by` instead of the observations `ids`: each where one of its id stood, the others where the first one stood."""
    ids = set(ids)
    first = next((o.id for o in record.observations if o.id in ids), None)
    if first is None:
        return None
    stood = {o.id for o in record.observations} & ids
    out: list[Observation] = []
    for o in record.observations:
        if o.id not in ids:
            out.append(o)
            continue
        out += [new for new in by if new.id == o.id or _base(new.id, stood) == o.id]
        if o.id == first:
            out += [new for new in by if new.id not in stood and _base(new.id, stood) is None]
    return _with(record, out)


def _base(identity: str, stood: set[str]) -> str | None:
    """The id of the observation that a second one (the other side) was made from."""
    base = identity.removesuffix("-right")
    return base if base != identity and base in stood and identity not in stood else None


def _with(record: Record, observations: Iterable[Observation]) -> Record:
    """The record with these observations; one whose id is taken gets a free one."""
    taken: set[str] = set()
    out = []
    for o in observations:
        identity, number = o.id, 2
        while identity in taken:
            identity, number = f"{o.id}-{number}", number + 1
        taken.add(identity)
        out.append(o if identity == o.id else o.model_copy(update={"id": identity}))
    return record.model_copy(update={"observations": tuple(out)})


def _without_phrase(record: Record, phrase: Unplaced) -> Record | None:
    if phrase not in record.unplaced:
        return None
    at = record.unplaced.index(phrase)
    return record.model_copy(update={"unplaced": (*record.unplaced[:at], *record.unplaced[at + 1 :])})


def _in_section(record: Record, section: str, parts: tuple[Evidence, ...]) -> Record:
    return record.model_copy(update={"other": record.other.model_copy(update={section: parts})})


def _coverage(draft: Record, record: Record, due: tuple[str, ...] | None) -> Coverage:
    """Which sites are recorded now. Those of the draft keep their order; a site is due where the draft says so, or, of
    an edited patient, where `due` does."""
    spoken = dict.fromkeys(o.site for o in record.observations)
    form = due if due is not None else (*draft.coverage.recorded, *draft.coverage.not_recorded)
    recorded = [site for site in form if site in spoken]
    recorded += [site for site in spoken if site not in form]
    missing = draft.coverage.not_recorded if due is None else due
    not_recorded = [site for site in missing if site not in spoken]
    if due is None:
        not_recorded += [site for site in draft.coverage.recorded if site not in spoken]
    return Coverage(recorded=tuple(recorded), not_recorded=tuple(not_recorded))


def _mark(d: Decision) -> Review:
    """The mark that a decision leaves in the record. It quotes no words of the talk: they may be deleted one day."""
    about: tuple[str, ...] = getattr(d, "observations", ()) if d.kind != "place" else ()
    what: str = d.kind
    match d:
        case made.Settle():
            what = f"{d.doubt.kind}: {d.choice if d.doubt.kind in TOLD_BY_CHOICE else 'settled'}"
        case made.CannotTell():
            what = f"cannot be told: {untold(d.doubt)}"
        case made.Remove():
            what = "not a finding"
        case made.Replace():
            what, about = "corrected", (*about, *(o.id for o in d.becomes if o.id not in about))
        case made.Add():
            what, about = f"added: {name_of([d.observation])}", (d.observation.id,)
        case made.Place():
            names = "; ".join(dict.fromkeys(name_of([o]) for o in d.observations))
            what, about = f"phrase placed: {names}", tuple(o.id for o in d.observations)
        case made.PlaceInSection():
            what = f"phrase kept in {d.section}"
        case made.Dismiss():
            what = "phrase dismissed"
        case made.EditSection():
            what = f"edited: {d.section}"
    return Review(by=d.by, time=d.time, what=what, about=about)
