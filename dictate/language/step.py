"""The language step as a whole: a transcript in, what it says out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictate.exam.statements import EncounterTold, PatientTold, Reading
from dictate.language.doubting import Thresholds, doubted
from dictate.language.marking import Marked, vocabulary
from dictate.language.outcome import Heard, remarks, statement, unplaced
from dictate.language.pipeline import is_english, pipeline
from dictate.language.reader import Step
from dictate.language.repair import repair
from dictate.language.roles import Role
from dictate.language.second_reader import StretchReading
from dictate.language.values import Said
from dictate.language.weighing import weigh
from dictate.lexicon import Lexicon, load
from dictate.speech.words import Transcript


@dataclass(frozen=True, slots=True)
class Read:
    """Everything between the words and the statements, for the steps behind and for the trace."""

    heard: Heard
    patient: PatientTold
    encounter: EncounterTold
    marked: Marked
    roles: tuple[Role, ...]
    readings: tuple[StretchReading | None, ...]
    said: tuple[Said, ...]
    steps: tuple[Step, ...]


def read_through(text: str, lexicon: Lexicon | None = None, *, unsure: Sequence[tuple[int, int]] = ()) -> Read:
    """A text repaired, marked and read by both readers; nothing is weighed or left out yet.

    Args:
        unsure: characters of words that the recogniser was not sure of, half-open.
    """
    words = vocabulary(lexicon or load())
    repaired = repair(text, words, known=is_english, unsure=unsure)
    doc = pipeline(words)(repaired.text)
    said, steps = doc._.exam_said
    patient, encounter = doc._.exam_patient
    return Read(
        heard=Heard(text, repaired),
        patient=patient,
        encounter=encounter,
        marked=doc._.exam_marked,
        roles=doc._.exam_roles,
        readings=doc._.exam_readings,
        said=said,
        steps=steps,
    )


SHOWN_OF_SOUND = 0.55  # what may have been mis-heard is shown to the reviewer sooner than what was written
UNSURE = 0.6  # a word heard with less than this probability may be repaired though it is an ordinary one


def unsure_words(transcript: Transcript) -> tuple[tuple[int, int], ...]:
    """Characters of `transcript.text` that stand for words heard with low probability."""
    spans, at = [], 0
    for word in transcript.words:
        if word.probability < UNSURE:
            spans.append((at, at + len(word.text)))
        at += len(word.text) + 1
    return tuple(spans)


def read(transcript: Transcript, lexicon: Lexicon | None = None, *, thresholds: Thresholds | None = None) -> Reading:
    """All that a transcript says of the patient.

    Args:
        transcript: words of a sound, or a text; only its `text` is read.
        lexicon: the tables; the shipped ones by default.
        thresholds: how sure a statement must be to be kept, and to be kept without a doubt.
    """
    thresholds = thresholds or (Thresholds(show=SHOWN_OF_SOUND) if transcript.words else Thresholds())
    r = read_through(transcript.text, lexicon, unsure=unsure_words(transcript))
    said = doubted(weigh(r.said), thresholds)
    return Reading(
        patient=r.patient,
        encounter=r.encounter,
        statements=tuple(statement(r.heard, r.marked, s) for s in said),
        unplaced=unplaced(r.heard, r.marked, r.roles, r.readings, said, thresholds),
        remarks=remarks(r.heard, r.marked, r.roles, r.readings),
    )


def explain(transcript: Transcript, lexicon: Lexicon | None = None) -> str:
    """For every stretch: its role, its terms, what both readers made of it, and what was kept, or why nothing was."""
    r = read_through(transcript.text, lexicon, unsure=unsure_words(transcript))
    thresholds = Thresholds()
    weighed = weigh(r.said)
    lines = [f"repaired: “{c.heard}” is read as “{c.meant}” ({c.how})" for c in r.heard.repaired.changes]
    for i, (stretch, role, reading, done) in enumerate(
        zip(r.marked.stretches, r.roles, r.readings, r.steps, strict=True)
    ):
        lines.append(f"{stretch.start:>6}  {r.marked.words(stretch.first, stretch.last)}")
        cue = f", because of “{r.marked.words(role.cue.first, role.cue.last)}”" if role.cue else ""
        second = ""
        if reading is not None:
            likely = [f"{n} {p:.2f}" for n, p in sorted(reading.roles.items(), key=lambda x: -x[1]) if p >= 0.2]
            second = f"; second reader: {', '.join(likely) or 'none'}"
        lines.append(f"        role: {role.name}{cue}{second}")
        lines += [f"        {t.kind}: “{r.marked.words(t.first, t.last)}”" for t in stretch.terms]
        here = [s for s in weighed if s.stretch == i]
        lines += [f"        {told(s)}" for s in here]
        if not any(s.sure >= thresholds.keep for s in here):
            lines.append(f"        nothing kept{': ' + ', '.join(done.rules) if done.rules else ''}")
    return "\n".join(lines)


def told(said: Said) -> str:
    """One statement in one line of the trace."""
    thresholds = Thresholds()
    fate = "left out" if said.sure < thresholds.keep else "asked about" if said.sure < thresholds.ask else "kept"
    value = f" {said.value.number:g} {said.value.unit or '(no unit)'}" if said.value else ""
    finding = f"{'' if said.present else 'no '}{said.finding or '-'}"
    place = f"{said.site}{', ' + said.side if said.side else ''}"
    return f"-> {place}: {said.status}, {finding}{value}   [{said.rule}; {said.sure:.2f}, {fate}]"
