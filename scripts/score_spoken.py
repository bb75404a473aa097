#!/usr/bin/env python3
"""Speak narrations with voices that nothing was tuned on, draft them, and print the figures in total, beside the text.

    python scripts/score_spoken.py --noise room --snr 15 --out /tmp/spoken       twelve held narrations, six held voices
    python scripts/score_spoken.py --noise room --words --out /tmp/spoken --readme   the same, written into README.md
    python scripts/score_spoken.py --names g1_03 g4_05 --voices joe --out /tmp/spoken

Three rows: the narrations as text, spoken clean, and spoken with noise where --noise names one. The voices take turns
over the narrations in the order of their names, so that a run can be repeated. Sound that lies in --out is taken as it
is, and what was heard in it comes from the cache: a second run draws up the records anew and does nothing else.

No narration is named and nothing of one is printed, held or not. Sound is written outside the repository only.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from measure_words import normal  # noqa: E402
from score_drafts import Case, record_of  # noqa: E402
from scoring import Synonyms, report, score_one, share  # noqa: E402
from speak_narrations import seed_of, spoken  # noqa: E402
from voices import HELD_VOICES, NOISES, VOICES, add_noise, missing, voice_named, write_sound  # noqa: E402

from dictate.cli.steps import steps_for  # noqa: E402
from dictate.draft import Steps  # noqa: E402
from dictate.errors import InputError  # noqa: E402
from dictate.lexicon import Lexicon, load  # noqa: E402

NARRATIONS = HERE.parent / "tests" / "narrations"
README = HERE.parent / "README.md"
BLOCK = re.compile(r"<!-- FIGURES SPOKEN\b[^>]*-->(?:.*?<!-- END OF FIGURES SPOKEN -->)?", re.DOTALL)
OPENS = (
    "<!-- FIGURES SPOKEN: what stands up to the next such comment is written by scripts/score_spoken.py --readme -->"
)
CLOSES = "<!-- END OF FIGURES SPOKEN -->"
NAMES = (
    "g1_11", "g2_01", "g2_05", "g2_09", "g4_12", "g6_11", "h2_12", "h4_11", "h5_02", "h5_06", "h5_10", "r3_12",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Noise:
    """Noise of one kind, so many dB below the speech."""

    kind: str
    snr: float


def sound_file(truth: dict, voice: str, noise: Noise | None, folder: Path) -> Path:
    """The narration spoken by the voice, as an Ogg file in the folder; made only where it is not there yet."""
    name = truth["id"]
    path = folder / f"{name}_{voice}_{f'{noise.kind}{noise.snr:g}' if noise else 'clean'}.ogg"
    if not path.exists():
        sound = spoken(truth["text"], name, voice, speed=1.0, pitch=1.0, spread=0.0)
        if noise:
            sound = add_noise(sound, noise.kind, noise.snr, seed=seed_of(name))
        # A run that was broken off leaves no half a file under the right name.
        part = path.with_name(f"part_{path.name}")
        write_sound(part, sound)
        part.replace(path)
    return path


def row(title: str, cases: Sequence[Case], lexicon: Lexicon, steps: Steps, synonyms: Synonyms) -> Counter:
    """Draft and score cases, and print one line for all of them. A sound in which nothing is heard has lost it all."""
    total, seconds, unusable, begun = Counter[str](), 0.0, 0, time.perf_counter()
    for case in cases:
        try:
            drafted, length = record_of(case, lexicon, steps)
            record = json.loads(drafted)
        except InputError:
            record, length, unusable = {}, 0.0, unusable + 1
        total += score_one(case.truth, record, synonyms, lambda *_: None)
        seconds += length
    took = time.perf_counter() - begun
    print(report(f"{title} ({len(cases)})", total))
    print(f"{'':22} {seconds / 60:.1f} minutes of sound, {took:.0f} s of work, {unusable} not drafted", flush=True)
    return total


def word_errors(title: str, cases: Sequence[Case], steps: Steps) -> float:
    """The share of words heard wrong over all cases together, printed too; numbers are brought to words first."""
    import jiwer

    heard = [steps.listen(case.sound).text for case in cases if case.sound]
    found = jiwer.process_words([normal(c.truth["text"]) for c in cases], [normal(h) for h in heard])
    print(f"{title:22} word errors {found.wer:.3f}, left out {found.deletions}, added {found.insertions}", flush=True)
    return float(found.wer)


@dataclass(frozen=True, slots=True)
class Measured:
    """A row: its title, its counts, and the share of words heard wrong (None: not measured, or nothing to hear)."""

    title: str
    total: Counter
    errors: float | None = None


def block(rows: Sequence[Measured], voices: Sequence[str], command: str) -> str:
    """The rows as a table in Markdown, between the two comments that mark it; `command` repeats them."""
    heads = (
        "the same narrations", "words heard wrong", "placed", "exact", "precision", "silent", "invented", "lost",
        "unseen, per exam", "burden, per exam", "patient", "sections",
    )  # fmt: skip
    lines = [f"| {' | '.join(heads)} |", "| --- " * len(heads) + "|"]
    for r in rows:
        c = r.total
        exams = max(1, c["exams"])
        cells = (
            f"{r.title} ({c['exams']} exams, {c['facts']} facts)",
            "-" if r.errors is None else f"{r.errors:.3f}",
            *(share(c[key], c["facts"]) for key in ("placed", "exact")),
            share(c["borne_out"], c["observations"]),
            *(str(c[key]) for key in ("silent", "invented", "lost")),
            f"{(c['silent'] + c['silent_inexact'] + c['lost']) / exams:.2f}",
            f"{c['doubts'] / exams:.1f}",
            share(c["patient_kept"], c["patient_told"]),
            share(c["other_kept"], c["other_told"]),
        )
        lines.append(f"| {' | '.join(cells)} |")
    engines = [voices_of(voices, engine) for engine in ("espeak", "festival", "flite", "piper")]
    told = (
        "Held narrations read as text, and spoken by synthetic voices that nothing was tuned on, heard with the shipped"
        f" model ({'; '.join(e for e in engines if e)}). Such voices are rough, and mostly harder on the recogniser"
        " than those used in tuning; but they do not hesitate, mumble or turn away. That is no measure of people:"
        " **accuracy on real exam speech has not been measured.** Silent, invented and lost are counts over all exams."
        " Lost facts matter most here: words that were not heard leave nothing in a draft to warn of them, so a draft"
        " from poor sound has to be held against what was found. To repeat (about half an hour; packages of the system"
        " `espeak-ng`, `festival`, `festvox-kdlpc16k`):"
    )
    return "\n\n".join([OPENS, "\n".join(lines), told, f"```sh\n{command}\n```", CLOSES])


def command_of(a: argparse.Namespace) -> str:
    """The command line that repeats a run; what is as shipped is left out."""
    said = ["python scripts/score_spoken.py"]
    if tuple(a.names) != NAMES:
        said.append(f"--names {' '.join(a.names)}")
    if tuple(a.voices) != tuple(HELD_VOICES):
        said.append(f"--voices {' '.join(a.voices)}")
    if a.noise:
        said.append(f"--noise {a.noise} --snr {a.snr:g}")
    if a.model != "base":
        said.append(f"--model {a.model}")
    return " ".join([*said, *(["--words"] if a.words else []), "--out /tmp/spoken"])


def voices_of(voices: Sequence[str], engine: str) -> str:
    """The engine and those of the voices that are its own, or an empty text."""
    names = [chosen.name for chosen in map(voice_named, voices) if chosen.engine == engine]
    return f"{engine} {', '.join(names)}" if names else ""


def main(arguments: Sequence[str] | None = None) -> int:
    """The exit status."""
    voices = {**VOICES, **HELD_VOICES}
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--names", nargs="+", default=NAMES, metavar="NAME", help="narrations in tests/narrations")
    ap.add_argument("--voices", nargs="+", choices=voices, default=tuple(HELD_VOICES), metavar="VOICE")
    ap.add_argument("--noise", choices=NOISES)
    ap.add_argument("--snr", type=float, default=15.0, help="dB of speech over noise")
    ap.add_argument("--out", type=Path, required=True, metavar="DIR", help="a folder outside the repository")
    ap.add_argument("--model", default="base")
    ap.add_argument("--synonyms", type=Path, help="rows of 'name; other name; …' that count as one")
    ap.add_argument("--words", action="store_true", help="word errors too")
    ap.add_argument("--readme", action="store_true", help="write the figures into README.md")
    a = ap.parse_args(arguments)
    if HERE.parent in (a.out.resolve(), *a.out.resolve().parents):
        ap.error("--out lies in the repository, where spoken narrations do not belong")
    for voice in a.voices:
        if why := missing(voice):
            ap.error(f"voice {voice}: {why}")
    files = [NARRATIONS / f"{name}.json" for name in sorted(set(a.names))]
    for file in files:
        if not file.is_file():
            ap.error(f"no narration {file.stem}")
    truths = [{"id": f.stem, **json.loads(f.read_text(encoding="utf-8"))} for f in files]
    a.out.mkdir(parents=True, exist_ok=True)
    lexicon, steps, synonyms = load(None), steps_for(a.model), Synonyms(a.synonyms)
    rows = [Measured("as text", row("as text", [Case(t["id"], t) for t in truths], lexicon, steps, synonyms))]
    for noise in (None, *([Noise(a.noise, a.snr)] if a.noise else [])):
        title = f"spoken, {noise.kind} {noise.snr:g} dB" if noise else "spoken, clean"
        sounds = [sound_file(t, a.voices[i % len(a.voices)], noise, a.out) for i, t in enumerate(truths)]
        cases = [Case(s.stem, t, s) for s, t in zip(sounds, truths, strict=True)]
        total = row(title, cases, lexicon, steps, synonyms)
        rows.append(Measured(title, total, word_errors(title, cases, steps) if a.words else None))
    if a.readme:
        old = README.read_text(encoding="utf-8")
        if len(BLOCK.findall(old)) != 1:
            ap.error(f"{README.name} needs one FIGURES SPOKEN comment")
        README.write_text(BLOCK.sub(lambda _: block(rows, a.voices, command_of(a)), old), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
