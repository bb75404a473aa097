"""What each choice of a doubt does to the observations that it is about.

A choice that names the wanted reading in full is carried out; one that only says that the draft is wrong ("another
tooth") opens a correction instead: see `is_complete`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from dictate.exam.context import PLACE
from dictate.exam.phrases import measured
from dictate.exam.record import Doubt, Measured, Observation
from dictate.review.decisions import AS_DRAFTED

KEEP = (AS_DRAFTED, "as heard", "as said")
DROP = ("not meant",)
NO_READING = ("something else",)
PATIENT = ("another sex or species",)
CONTRADICTION = "contradiction"
SIDE, VALUE, UNIT, SCALE, STATUS = "side", "value", "unit", "scale", "status"
REPAIRED = "repaired"
MEASURE = re.compile(r"(<=|>=|<|>)?\s*(-?\d+(?:\.\d+)?)(?:\s+(\S+))?")
OF_SCALE = re.compile(r"(-?\d+(?:\.\d+)?) of (\d+)")

# What a record prints for a doubt that the reviewer could not settle.
UNTOLD = {
    SIDE: "side not stated",
    UNIT: "unit not stated",
    VALUE: "value not certain",
    SCALE: "scale not stated",
    STATUS: "normal or abnormal not stated",
    CONTRADICTION: "told in two ways, which of them holds is not certain",
    REPAIRED: "not certain, the words were unclear",
    "heard with low probability": "not certain, the words were unclear",
    "reading": "not certain, the words may mean something else",
    "carried over": "side not certain",
    "not of this patient": "site not certain",
}


def untold(doubt: Doubt) -> str:
    """The words that stand in the record where this doubt cannot be settled."""
    return UNTOLD.get(doubt.kind, f"{doubt.kind} not certain")


def is_complete(observation: Observation, doubt: Doubt, choice: str) -> bool:
    """Whether the choice alone says what the observation shall be. Otherwise the reviewer is asked for more."""
    return chosen(observation, doubt, choice) is not None


def keeps(observation: Observation, doubt: Doubt, choice: str) -> bool:
    """Whether the choice leaves the observation as it is, less the doubt."""
    return chosen(observation, doubt, choice) == (settled(observation, doubt),)


def settled(observation: Observation, doubt: Doubt, **changes: object) -> Observation:
    """The observation without this doubt, and with `changes`."""
    doubts = tuple(d for d in observation.doubts if d != doubt)
    return observation.model_copy(update={**changes, "doubts": doubts})


def chosen(observation: Observation, doubt: Doubt, choice: str) -> tuple[Observation, ...] | None:
    """What the observation becomes: one, two (both sides) or none (not meant); None where the choice is incomplete."""
    if choice in KEEP or (doubt.kind == REPAIRED and choice == doubt.choices[0]):
        return (settled(observation, doubt),)
    if choice in DROP:
        return ()
    if doubt.kind == SIDE and choice in ("left", "right"):
        return (settled(observation, doubt, side=choice),)
    if doubt.kind == SIDE and choice == "both":
        left, right = (settled(observation, doubt, side=side) for side in ("left", "right"))
        return (left, right.model_copy(update={"id": f"{observation.id}-right"}))
    if (
        doubt.kind == SIDE
        and observation.qualifiers.get("tooth")
        and choice == f"tooth {observation.qualifiers['tooth']}"
    ):
        return (settled(observation, doubt),)
    if doubt.kind in (VALUE, UNIT) and (value := measure(choice)) is not None:
        return (settled(observation, doubt, value=value),)
    if doubt.kind == SCALE and (score := OF_SCALE.fullmatch(choice)):
        return (settled(observation, doubt, qualifiers={**observation.qualifiers, "scale": float(score[2])}),)
    if doubt.kind == STATUS and choice in ("normal", "abnormal"):
        return (settled(observation, doubt, status=choice),)
    if doubt.kind == CONTRADICTION:
        return (as_claimed(observation, doubt, choice),)
    return None


def measure(text: str) -> Measured | None:
    """A choice such as "<2 s" as a value; None where it is none."""
    match = MEASURE.fullmatch(text)
    if match is None:
        return None
    comparator, number, unit = match.groups()
    return Measured(number=float(number), unit=unit, comparator=comparator)  # type: ignore[arg-type]


def claims(observation: Observation, doubt: Doubt, choice: str) -> bool:
    """Whether, of two observations that contradict each other, this is the one that the choice names."""
    if choice in ("present", "absent"):
        return observation.present == (choice == "present")
    if observation.value is not None and (value := measure(choice)) is not None:
        return observation.value == value
    if choice == "normal":
        return observation.status == "normal" and observation.finding is None
    if choice == "not examined":
        return observation.status == "not_examined"
    return choice in (observation.finding, observation.status)


def as_claimed(observation: Observation, doubt: Doubt, choice: str) -> Observation:
    """The observation made to say what the choice says; for a contradiction whose other half is gone."""
    if choice == "both" or claims(observation, doubt, choice):
        return settled(observation, doubt)
    if choice in ("present", "absent"):
        present = choice == "present"
        return settled(observation, doubt, present=present, status="abnormal" if present else "normal")
    if (value := measure(choice)) is not None:
        return settled(observation, doubt, value=value)
    if choice == "normal":
        return settled(observation, doubt, status="normal", finding=None, present=True)
    if choice == "not examined":
        return not_examined(observation)
    finding = None if choice == "abnormal" else choice
    return settled(observation, doubt, status="abnormal", finding=finding, present=True)


def resolve(
    group: Sequence[Observation], others: Sequence[Observation], doubt: Doubt, choice: str
) -> tuple[Observation, ...]:
    """What a group under one doubt becomes by one choice. `others` are the record's other observations.

    Of a contradiction only what the choice names stays. Where neither the group nor another observation of the same
    place says it, the first of the group is made to say it.
    """
    if doubt.kind != CONTRADICTION or choice in (*KEEP, "both"):
        return tuple(o for one in group for o in (chosen(one, doubt, choice) or ()))
    named = tuple(settled(o, doubt) for o in group if claims(o, doubt, choice))
    places = {place(o) for o in group}
    if named or any(place(o) in places and claims(o, doubt, choice) for o in others):
        return named
    return (as_claimed(group[0], doubt, choice),) if group else ()


def place(observation: Observation) -> tuple[object, ...]:
    """The part of a site that an observation is about."""
    qualifiers = observation.qualifiers
    return (observation.site, observation.side, *(str(qualifiers.get(key, "")).casefold() for key in PLACE))


def cannot_tell(group: Sequence[Observation], doubt: Doubt) -> tuple[Observation, ...]:
    """The observations, saying that this cannot be told; alike ones once.

    A number that is not certain must not reach a chart or another program: it is kept in words alone.
    """
    return alike_once(_cannot_tell(one, doubt) for one in group)


def alike_once(observations: Iterable[Observation]) -> tuple[Observation, ...]:
    """The observations; of those that say the same of the same place only the first."""
    told: dict[str, Observation] = {}
    for one in observations:
        same = one.model_copy(update={"id": "", "evidence": ()}).model_dump_json()
        told.setdefault(same, one)
    return tuple(told.values())


def _cannot_tell(observation: Observation, doubt: Doubt) -> Observation:
    words = untold(doubt)
    if observation.value is not None and doubt.kind in (VALUE, CONTRADICTION):
        if observation.finding is None and observation.status == "normal":
            return not_examined(observation, reason=f"{UNTOLD[VALUE]}: {', '.join(_as_said(doubt, observation))}")
        changes: dict[str, object] = {"value": None}
    elif observation.value is not None and doubt.kind == UNIT:
        changes = {"value": observation.value.model_copy(update={"unit": None})}
    else:
        changes = {"side": None} if doubt.kind == SIDE else {}
    return settled(observation, doubt, untold=tuple(dict.fromkeys((*observation.untold, words))), **changes)


def _as_said(doubt: Doubt, observation: Observation) -> tuple[str, ...]:
    """The values between which nobody could tell, as they are written for people."""
    told = [measure(choice) for choice in doubt.choices] if doubt.kind == CONTRADICTION else [observation.value]
    return tuple(measured(v.number, v.unit, v.comparator) for v in told if v is not None)


def not_examined(observation: Observation, reason: str = "") -> Observation:
    """The observation made one of a site that was not examined; nothing else that was said of it stays."""
    kept = {key: value for key, value in observation.qualifiers.items() if key in PLACE}
    return observation.model_copy(
        update={
            "status": "not_examined",
            "finding": None,
            "present": True,
            "stated_as": "certain",
            "value": None,
            "qualifiers": {**kept, **({"reason": reason} if reason else {})},
            "doubts": (),
            "untold": (),
        }
    )
