"""The language step as a whole: a transcript in, what it says out."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from dictate.exam.statements import Evidence, Reading, Remark, Statement, Unplaced
from dictate.language.clauses import Stretch
from dictate.language.doubting import Thresholds, doubted
from dictate.language.marking import Marked, Vocabulary, mark, vocabulary
from dictate.language.patient import patient_told
from dictate.language.reader import read_stretches
from dictate.language.roles import SECTIONS, Role, roles
from dictate.language.second_reader import SecondReader, StretchReading
from dictate.language.second_reader import load as load_second_reader
from dictate.language.values import Said
from dictate.language.weighing import weigh
from dictate.lexicon import Lexicon, load
from dictate.speech.words import Transcript


def candidates(text: str, words: Vocabulary) -> tuple[Said, ...]:
    """All statements that either reader proposes, unweighed, with their signals."""
    patient, _ = patient_told(text, words.patients, words.spelling, words.known)
    marked = mark(text, words, species=patient.species, begins=begins(text))
    said, _ = read_stretches(marked, roles(marked), words.know, second_readings(marked))
    return said


def read(transcript: Transcript, lexicon: Lexicon | None = None) -> Reading:
    """All that a transcript says of the patient.

    Args:
        transcript: words of a sound, or a text; only its `text` is read.
        lexicon: the tables; the shipped ones by default.
    """
    words = vocabulary(lexicon or load())
    patient, encounter = patient_told(transcript.text, words.patients, words.spelling, words.known)
    marked = mark(transcript.text, words, species=patient.species, begins=begins(transcript.text))
    told = roles(marked)
    readings = second_readings(marked)
    said, _ = read_stretches(marked, told, words.know, readings)
    thresholds = Thresholds()
    said = doubted(weigh(said), thresholds)
    return Reading(
        patient=patient,
        encounter=encounter,
        statements=tuple(statement(marked, s) for s in said),
        unplaced=unplaced(marked, told, readings, said, thresholds),
        remarks=remarks(marked, told, readings),
    )


@lru_cache(maxsize=1)
def second_reader() -> SecondReader:
    return load_second_reader()


WORDS_A_MARK = 25  # a text with fewer marks than one in so many words is taken to have none


def begins(text: str) -> frozenset[int]:
    """Characters at which stretches begin, told by the second reader, for a text without marks; empty for one with them."""
    marks = sum(text.count(m) for m in ".,;:?!")
    if marks * WORDS_A_MARK >= len(text.split()):
        return frozenset()
    return frozenset(r.char_start for r in second_reader().read(text))


def second_readings(marked: Marked) -> tuple[StretchReading | None, ...]:
    """The second reader's reading of each stretch."""
    reader = second_reader()
    starts = [s.start for s in marked.stretches]
    by_start = {r.char_start: r for r in reader.read(marked.text, cuts=starts)}
    return tuple(by_start.get(start) for start in starts)


def evidence(marked: Marked, first: int, last: int) -> Evidence:
    start, end = marked.tokens[first].start, marked.tokens[last - 1].end
    return Evidence(marked.text[start:end], start, end)


def statement(marked: Marked, said: Said) -> Statement:
    """A statement of the reading as the exam step takes it."""
    return Statement(
        site=said.site,
        side=said.side,  # type: ignore[arg-type]
        status=said.status,  # type: ignore[arg-type]
        finding=said.finding,
        present=said.present,
        stated_as="possible" if said.hedged else "certain",
        qualifiers=said.qualifiers,
        value=said.value,
        doubts=said.doubts,
        evidence=(evidence(marked, said.first, said.last),),
        probability=said.sure,
    )


def section(role: Role, reading: StretchReading | None) -> str:
    """The section a stretch is kept in, or another role's name: the second reader's word where there is one."""
    if reading is None:
        return role.name
    best = max(SECTIONS, key=lambda s: reading.roles.get(s, 0.0))
    p = reading.roles.get(best, 0.0)
    if p >= 0.5 or (role.name == best and p >= 0.2):
        return best
    return role.name if role.name in ("assessment", "general") else ""


def remarks(marked: Marked, told: tuple[Role, ...], readings: tuple[StretchReading | None, ...]) -> tuple[Remark, ...]:
    """Talk that is kept in a section: neighbouring stretches of one role and sentence are one remark."""
    out: list[Remark] = []
    previous: tuple[str, int] | None = None
    first = 0
    for stretch, role, reading in zip(marked.stretches, told, readings, strict=True):
        name = section(role, reading)
        key = (name, stretch.sentence)
        if name not in SECTIONS:
            previous = None
            continue
        if key == previous:
            out[-1] = Remark(name, evidence(marked, first, stretch.last))  # type: ignore[arg-type]
        else:
            first = stretch.first
            out.append(Remark(name, evidence(marked, first, stretch.last)))  # type: ignore[arg-type]
        previous = key
    return tuple(out)


def unplaced(
    marked: Marked,
    told: Sequence[Role],
    readings: Sequence[StretchReading | None],
    kept: Sequence[Said],
    thresholds: Thresholds,
) -> tuple[Unplaced, ...]:
    """Stretches that sound like an observation and of which no statement was kept; neighbours are one phrase."""
    spoken = {s.stretch for s in kept}
    out: list[Unplaced] = []
    previous = -2
    for i, (stretch, role, reading) in enumerate(zip(marked.stretches, told, readings, strict=True)):
        if i in spoken or not _clinical(stretch, role, reading, thresholds):
            continue
        if previous == i - 1 and out and marked.stretches[previous].sentence == stretch.sentence:
            first = out[-1].evidence.char_start
            whole = Evidence(marked.text[first : stretch.end], first, stretch.end)
            out[-1] = Unplaced(whole, out[-1].why)
        else:
            out.append(
                Unplaced(
                    evidence(marked, stretch.first, stretch.last),
                    "sounds like an observation, and no place was found for it",
                )
            )
        previous = i
    return tuple(out)


def _clinical(stretch: Stretch, role: Role, reading: StretchReading | None, thresholds: Thresholds) -> bool:
    if reading is None:
        return role.is_fact and bool(stretch.of("finding_words"))
    if reading.roles.get("fact", 0.0) < thresholds.show:
        return False
    return bool(
        stretch.of("finding_words", "normal_words", "not_examined", "quantity")
        or any(r.outcomes for r in reading.sites)
    )


def explain(transcript: Transcript, lexicon: Lexicon | None = None) -> str:
    """For every stretch: its role, its terms, the rules that fired, and what it became, one block of lines each."""
    words = vocabulary(lexicon or load())
    patient, _ = patient_told(transcript.text, words.patients, words.spelling, words.known)
    marked = mark(transcript.text, words, species=patient.species, begins=begins(transcript.text))
    told = roles(marked)
    readings = second_readings(marked)
    _, steps = read_stretches(marked, told, words.know, readings)
    lines: list[str] = []
    for stretch, role, step in zip(marked.stretches, told, steps, strict=True):
        lines.append(f"{stretch.start:>6} {marked.words(stretch.first, stretch.last)!r}")
        cue = f" (because of {marked.words(role.cue.first, role.cue.last)!r})" if role.cue else ""
        lines.append(f"       role: {role.name}{cue}")
        for term in stretch.terms:
            lines.append(f"       {term.kind}: {marked.words(term.first, term.last)!r}")
        for one in step.made:
            value = f" {one.value.number:g} {one.value.unit or '(no unit)'}" if one.value else ""
            absent = "" if one.present else "no "
            lines.append(
                f"       -> {one.site} / {one.side or '-'} / {one.status} / {absent}{one.finding or '-'}{value}   [{one.rule}]"
            )
        if not step.made:
            lines.append(f"       -> nothing{': ' + ', '.join(step.rules) if step.rules else ''}")
    return "\n".join(lines)
