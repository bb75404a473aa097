#!/usr/bin/env python3
"""Numbers recorded by real people, joined into exam values and drafted through the speech model: how many are right.

    python scripts/measure_human_numbers.py --out /tmp/hn            prints how many of N came out right
    python scripts/measure_human_numbers.py --out /tmp/hn --write    the same, kept for the page of the checks

What the sounds are and who speaks stands in `scripts/human_numbers.py`. What was heard comes from the cache where the
same sound was heard before: a second run draws up the records anew and does nothing else.
`as text` is the same exams written down as they are meant: what is wrong there is no fault of the hearing.
"""

from __future__ import annotations

import argparse
import csv
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from human_numbers import SPEAKERS, Value, missing, sound_of, values, written  # noqa: E402
from voices import write_sound  # noqa: E402

from dictate.cli.steps import steps_for  # noqa: E402
from dictate.draft import draft, hear  # noqa: E402
from dictate.exam.record import Observation, Record  # noqa: E402
from dictate.lexicon import load  # noqa: E402
from dictate.speech.words import Transcript  # noqa: E402

KEPT = HERE.parent / "tests" / "published" / "human_numbers.csv"
RIGHT, ASKED, WRONG_ASKED, WRONG, LOST = "right", "right, asked about", "wrong, asked about", "wrong", "not recorded"
OUTCOMES = (RIGHT, ASKED, WRONG_ASKED, WRONG, LOST)


@dataclass(frozen=True, slots=True)
class Result:
    """What became of one value."""

    speaker: str
    exam: int
    said: str
    heard: str
    recorded: str
    outcome: str


def judged(record: Record, exam: Sequence[Value]) -> list[tuple[Value, str, str]]:
    """For each value what stands in the record, and which of OUTCOMES this is. Each observation is taken once."""
    left = list(record.observations)
    taken: dict[int, Observation] = {}
    for fits in (_right, _of_its_kind):  # a right one first, so that one tooth is not held against another
        for place, value in enumerate(exam):
            if place not in taken and (one := next((o for o in left if fits(o, value)), None)):
                taken[place] = one
                left.remove(one)
    found = []
    for place, value in enumerate(exam):
        one = taken.get(place)
        if one is None:
            found.append((value, "", LOST))
        elif _right(one, value):
            found.append((value, _told(one, value), ASKED if one.doubts else RIGHT))
        else:
            found.append((value, _told(one, value), WRONG_ASKED if one.doubts else WRONG))
    return found


def _of_its_kind(o: Observation, value: Value) -> bool:
    return o.site == value.site and o.finding == value.finding and bool(_told(o, value))


def _told(o: Observation, value: Value) -> str:
    if value.number is not None:
        return f"{o.value.number:g} {o.value.unit or ''}".strip() if o.value else ""
    return str(o.qualifiers.get("tooth" if value.site == "teeth" else "grade", ""))


def _right(o: Observation, value: Value) -> bool:
    meant = f"{value.number:g} {value.unit}" if value.number is not None else value.told
    return o.site == value.site and o.finding == value.finding and _told(o, value) == meant


def heard_words(transcript: Transcript, places: Sequence[tuple[float, float]]) -> list[str]:
    """The words heard at each place of the sound: a word belongs to the number beside which it ends.

    The recogniser tells the end of a word better than its start, which it draws out over the quiet before it.
    """
    slots: list[list[str]] = [[] for _ in places]
    for word in transcript.words:
        away = [max(begin - word.end, word.end - end, 0.0) for begin, end in places]
        slots[away.index(min(away))].append(word.text)
    return [" ".join(words).strip(" ,.") for words in slots]


def run(exams: int, folder: Path, say: Callable[[str], None]) -> tuple[list[Result], list[Result]]:
    """Results of the sounds and of the same exams as they were meant."""
    lexicon, steps = load(), steps_for("base")
    heard: list[Result] = []
    as_text: list[Result] = []
    for speaker in SPEAKERS:
        if why := missing(speaker):
            say(f"{speaker} is left out: {why}")
            continue
        for number in range(exams):
            exam = values(speaker, number)
            file = folder / f"{speaker}_{number:02}.flac"
            sound, places = sound_of(speaker, number)
            write_sound(file, sound)
            words = heard_words(steps.listen(file), places)
            for numbers, results in ((words, heard), ([v.words for v in exam], as_text)):
                text = folder / f"{speaker}_{number:02}.txt"
                text.write_text(written(exam, numbers), encoding="utf-8")
                record = draft(hear(text, lexicon, listen=steps.listen), lexicon, steps=steps)
                results += [
                    Result(speaker, number, f"{v.before} {v.words} {v.after}".strip(), said, told, outcome)
                    for said, (v, told, outcome) in zip(numbers, judged(record, exam), strict=True)
                ]
            say(f"{speaker} {number + 1}/{exams}")
    return heard, as_text


def table(heard: Sequence[Result], as_text: Sequence[Result]) -> str:
    """One line for each speaker and one for the exams as text."""
    lines = [
        "| numbers spoken by | values | " + " | ".join(OUTCOMES) + " |",
        "| --- |" + " ---: |" * (len(OUTCOMES) + 1),
    ]
    groups = [(s, [r for r in heard if r.speaker == s]) for s in SPEAKERS]
    for name, results in (*groups, ("all four", list(heard)), ("as text", list(as_text))):
        counts = Counter(r.outcome for r in results)
        if results:
            lines.append(f"| {name} | {len(results)} | " + " | ".join(str(counts[o]) for o in OUTCOMES) + " |")
    return "\n".join(lines)


def keep(results: Sequence[Result], as_text: Sequence[Result]) -> None:
    """Write the results to the file that the page of the outside checks is made from."""
    with KEPT.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("speaker", "exam", "said", "heard", "recorded", "outcome", "as text"))
        for r, t in zip(results, as_text, strict=True):
            writer.writerow((r.speaker, r.exam, r.said, r.heard, r.recorded, r.outcome, t.outcome))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "--out", type=Path, required=True, metavar="DIR", help="folder for the sounds, outside the repository"
    )
    parser.add_argument(
        "--exams", type=int, default=12, help="exams for each speaker (default: 12, 356 values or more)"
    )
    parser.add_argument("--write", action="store_true", help=f"keep the results in {KEPT.name}")
    parser.add_argument("--verbose", action="store_true", help="print every value that is not simply right")
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    heard, as_text = run(options.exams, options.out, lambda line: print(line, file=sys.stderr))
    if not heard:
        return 2
    if options.verbose:
        for r in (*heard, *as_text):
            if r.outcome != RIGHT:
                print(f"{r.speaker} {r.exam:02}  {r.said!r}, heard {r.heard!r} -> {r.recorded!r}: {r.outcome}")
    print(table(heard, as_text))
    right = sum(r.outcome in (RIGHT, ASKED) for r in heard)
    print(f"\n{right} of {len(heard)} came out right.")
    if options.write:
        keep(heard, as_text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
