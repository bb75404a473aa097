#!/usr/bin/env python3
"""Draft the narrations of tests/narrations and print the figures of scoring.py.

    python scripts/score_drafts.py                          the part for work, as text
    python scripts/score_drafts.py --part all --plain       every part in total, without punctuation and capitals
    python scripts/score_drafts.py --spoken FOLDER          sound files NAME.ogg, NAME_voice.wav ... instead of text

Held narrations are only ever scored in total: no file of theirs is named, nothing of them is printed.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from parts import PARTS, part_of  # noqa: E402
from scoring import Synonyms, report, score_one  # noqa: E402

from dictate.cli.steps import steps_for  # noqa: E402
from dictate.draft import Heard, Steps, draft, hear  # noqa: E402
from dictate.exam.record import Source, to_json  # noqa: E402
from dictate.lexicon import Lexicon, load  # noqa: E402
from dictate.speech.words import Transcript  # noqa: E402

SOUNDS = (".ogg", ".opus", ".wav", ".flac", ".mp3", ".m4a")


@dataclass(frozen=True)
class Case:
    """One narration with its truth, and the sound file it is drafted from (None: from its text)."""

    name: str
    truth: dict
    sound: Path | None = None

    @property
    def part(self) -> str:
        return part_of(self.truth["id"])


def plain(text: str) -> str:
    """The text as a recogniser without punctuation and capitals gives it; points inside numbers stay."""
    text = re.sub(r"[,;:?!…\"“”()\[\]—–]|\.(?!\d)|(?<!\d)\.(?=\d)", " ", text.lower())
    return " ".join(text.split())


def cases(folder: Path, spoken: Path | None) -> Iterator[Case]:
    sounds = sorted(p for p in spoken.rglob("*") if p.suffix.lower() in SOUNDS) if spoken else []
    for path in sorted(folder.glob("*.json")):
        truth = {"id": path.stem, **json.loads(path.read_text(encoding="utf-8"))}
        if not spoken:
            yield Case(path.stem, truth)
        for sound in sounds:
            if re.fullmatch(rf"{re.escape(path.stem)}(?:[^0-9a-zA-Z].*)?", sound.stem):
                yield Case(sound.stem, truth, sound)


def record_of(case: Case, lexicon: Lexicon, steps: Steps, *, unpunctuated: bool = False) -> tuple[str, float]:
    """The record drafted for a case, as JSON, and the seconds of its sound (0 for text)."""
    if case.sound:
        heard = hear(case.sound, lexicon, listen=steps.listen)
        seconds = heard.transcript.sound.seconds if heard.transcript.sound else 0.0
    else:
        text = plain(case.truth["text"]) if unpunctuated else case.truth["text"]
        heard, seconds = (
            Heard(Transcript((), text, case.name), Source(name=case.name, kind="text", sha256=case.name)),
            0.0,
        )
    return to_json(draft(heard, lexicon, steps=steps)), seconds


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--part", choices=(*PARTS, "all"), default="work")
    ap.add_argument("--only", default="", metavar="PREFIX", help="only narrations whose name begins so")
    ap.add_argument("--plain", action="store_true", help="text without punctuation and capitals")
    ap.add_argument("--spoken", type=Path, metavar="FOLDER", help="sound files named after the narrations")
    ap.add_argument("--narrations", type=Path, default=HERE.parent / "tests" / "narrations")
    ap.add_argument("--lexicon", type=Path, metavar="FOLDER")
    ap.add_argument("--model", default="base")
    ap.add_argument("--synonyms", type=Path, help="rows of 'name; other name; …' that count as one")
    ap.add_argument("--keep", type=Path, metavar="DIR", help="write the records of the parts that may be read to DIR")
    ap.add_argument("--verbose", action="store_true", help="every miss, word for word (never for the held part)")
    ap.add_argument("--json", action="store_true", help="the totals as one JSON object, last")
    a = ap.parse_args()
    if a.verbose and a.part == "held":
        ap.error("the held narrations are scored in total only")
    chosen = [
        c
        for c in cases(a.narrations, a.spoken)
        if a.part in ("all", c.part) and c.name.startswith(a.only)
    ]  # fmt: skip
    if not chosen:
        ap.error("no narration fits")
    lexicon, steps, synonyms = load(a.lexicon), steps_for(a.model), Synonyms(a.synonyms)
    totals: dict[str, Counter] = {part: Counter() for part in PARTS}
    sound_seconds, started = 0.0, time.perf_counter()
    for case in chosen:
        record, seconds = record_of(case, lexicon, steps, unpunctuated=a.plain)
        sound_seconds += seconds
        lines: list[str] = []

        def say(kind: str, item: dict, *_: object, lines: list[str] = lines) -> None:
            text = item.get("quote") or " | ".join(e.get("text", "") for e in item.get("evidence") or [])
            what = " / ".join(str(item.get(key)) for key in ("site", "side", "status", "finding", "value"))
            lines.append(f"    {kind}: {what}  <- {text!r}")

        count = score_one(case.truth, json.loads(record), synonyms, say)
        totals[case.part] += count
        if case.part == "held":
            continue
        print(report(case.name, count))
        if a.verbose:
            print("\n".join(lines))
        if a.keep:
            a.keep.mkdir(parents=True, exist_ok=True)
            (a.keep / f"{case.name}.record.json").write_text(record, encoding="utf-8")
    seconds = time.perf_counter() - started
    for part, total in totals.items():
        if total["exams"]:
            print(report(f"ALL {part} ({total['exams']})", total))
    if a.part == "all":
        print(report(f"ALL ({len(chosen)})", sum(totals.values(), Counter())))
    speed = (
        f", {sound_seconds / 60:.1f} min of sound, real time factor {seconds / sound_seconds:.3f}"
        if sound_seconds
        else ""
    )
    print(f"{len(chosen)} narrations in {seconds:.1f} s{speed}")
    if a.json:
        print(json.dumps({part: total for part, total in totals.items() if total["exams"]}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
