"""The draft that is walked through: a sample exam as it is drafted, with doubts planted until there are eight."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dictate.cli.steps import steps_for
from dictate.draft import draft, hear
from dictate.exam.phrases import told
from dictate.exam.record import (
    Coverage,
    Doubt,
    Encounter,
    Evidence,
    MadeBy,
    Measured,
    Observation,
    Patient,
    Record,
    Source,
    Unplaced,
)
from dictate.lexicon import load
from dictate.review import questions

SOUND = Path(__file__).resolve().parent.parent / "sample_audio_synthetic" / "saltmarsh_01_joe_clean.ogg"
DOUBTS = 8


def eight_doubts() -> Record:
    """The draft of the sample; where it raises fewer than eight doubts, more are planted on its plain observations, and
    one phrase is left unplaced."""
    lexicon = load(None)
    record = draft(hear(SOUND, lexicon, listen=steps_for("base").listen), lexicon, steps=steps_for("base"))
    observations = list(record.observations)
    for place, one in enumerate(observations):
        if len(_asked(record, observations)) >= DOUBTS:
            break
        if one.doubts or not one.evidence or one.status == "not_examined":
            continue
        planted = one.model_copy(update={"doubts": (_doubt(one),)})
        if len(_asked(record, [*observations[:place], planted, *observations[place + 1 :]])) > len(
            _asked(record, observations)
        ):
            observations[place] = planted
    made = record.model_copy(update={"observations": tuple(observations), "unplaced": (_phrase(record),)})
    if sum(q.about == "doubt" for q in questions(made)) != DOUBTS:
        raise SystemExit(f"the sample's draft has {len(questions(made))} questions; {DOUBTS} doubts were wanted")
    return made


def earlier(years_ago: int) -> Record:
    """A plain record of an earlier yearly check of the same patient, without doubts."""
    time = datetime.now(UTC).replace(microsecond=0) - timedelta(days=364 * years_ago)
    words = Evidence(text="typed from the paper file", char_start=0, char_end=25)
    measures = (("weight", 9.4 - 0.3 * years_ago, "kg", {}), ("body condition score", 6.0, "{score}", {"scale": 9.0}))
    said = [
        Observation(id=f"v{n}", site=site, status="normal", value=Measured(number=number, unit=unit), qualifiers=more)
        for n, (site, number, unit, more) in enumerate(measures)
    ]
    said += [Observation(id="h", site="heart", status="normal")]
    said += [Observation(id=side, site="lens", side=side, status="normal") for side in ("left", "right")]
    if years_ago < 3:
        said.append(Observation(id="e", site="ear canal", side="left", status="abnormal", finding="debris"))
    name = f"bramble_{time:%Y}.txt"
    return Record(
        id=f"earlier-{years_ago}",
        drafted=time,
        patient=Patient(name="Bramble", species="dog"),
        encounter=Encounter(time=time),
        observations=tuple(o.model_copy(update={"evidence": (words,)}) for o in said),
        coverage=Coverage(recorded=tuple(dict.fromkeys(o.site for o in said))),
        source=Source(name=name, kind="text", sha256=hashlib.sha256(name.encode()).hexdigest()),
        made_by=MadeBy(program="dictate-exam", version="0", rule_set="walk"),
    )


def _asked(record: Record, observations: list[Observation]) -> list[str]:
    asked = questions(record.model_copy(update={"observations": tuple(observations)}))
    return [q.id for q in asked if q.about == "doubt"]


def _doubt(one: Observation) -> Doubt:
    """A doubt that fits: of a value its number, of a sided finding its side, else whether it was heard right."""
    if one.value is not None:
        value: Measured = one.value
        choices = (f"{value.number:g} {value.unit}", f"{value.number * 10:g} {value.unit}")
        return Doubt(kind="value", message=f"{told(one)} may have been heard wrong", choices=choices)
    if one.side is not None:
        return Doubt(kind="side", message="The side was carried over", choices=("left", "right", "both"))
    word = one.evidence[0].text.split()[0]
    return Doubt(
        kind="heard with low probability",
        message=f"Heard with low probability: “{word}”",
        choices=("as heard", "something else"),
    )


def _phrase(record: Record) -> Unplaced:
    """The words behind one plain observation, as if no place had been found for them."""
    words = record.observations[-1].evidence[0]
    return Unplaced(**words.model_dump(), why="sounds like an observation, and no place was found for it")
