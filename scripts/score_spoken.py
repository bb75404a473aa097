#!/usr/bin/env python3
"""Speak narrations with voices that nothing was tuned on, draft them, and print the figures in total, beside the text.

    python scripts/score_spoken.py --noise room --snr 15 --out /tmp/spoken       twelve held narrations, six held voices
    python scripts/score_spoken.py --names g1_03 g4_05 --voices joe --out /tmp/spoken

Three rows: the narrations as text, spoken clean, and spoken with noise where --noise names one. The voices take turns
over the narrations in the order of their names, so that a run can be repeated. Sound that lies in --out is taken as it
is, and what was heard in it comes from the cache: a second run draws up the records anew and does nothing else.

No narration is named and nothing of one is printed, held or not. Sound is written outside the repository only.
"""

from __future__ import annotations

import argparse
import json
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
from scoring import Synonyms, report, score_one  # noqa: E402
from speak_narrations import seed_of, spoken  # noqa: E402
from voices import HELD_VOICES, NOISES, VOICES, add_noise, missing, write_sound  # noqa: E402

from dictate.cli.steps import steps_for  # noqa: E402
from dictate.draft import Steps  # noqa: E402
from dictate.errors import InputError  # noqa: E402
from dictate.lexicon import Lexicon, load  # noqa: E402

NARRATIONS = HERE.parent / "tests" / "narrations"
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


def word_errors(title: str, cases: Sequence[Case], steps: Steps) -> None:
    """Print how many words were heard wrong, over all cases together; numbers are brought to words first."""
    import jiwer

    heard = [steps.listen(case.sound).text for case in cases if case.sound]
    found = jiwer.process_words([normal(c.truth["text"]) for c in cases], [normal(h) for h in heard])
    print(f"{title:22} word errors {found.wer:.3f}, left out {found.deletions}, added {found.insertions}", flush=True)


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
    row("as text", [Case(t["id"], t) for t in truths], lexicon, steps, synonyms)
    for noise in (None, *([Noise(a.noise, a.snr)] if a.noise else [])):
        title = f"{noise.kind} at {noise.snr:g} dB" if noise else "spoken, clean"
        sounds = [sound_file(t, a.voices[i % len(a.voices)], noise, a.out) for i, t in enumerate(truths)]
        cases = [Case(s.stem, t, s) for s, t in zip(sounds, truths, strict=True)]
        row(title, cases, lexicon, steps, synonyms)
        if a.words:
            word_errors(title, cases, steps)
    return 0


if __name__ == "__main__":
    sys.exit(main())
