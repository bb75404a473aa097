#!/usr/bin/env python3
"""How well the trade's words are heard, and what a record loses by being spoken: everything in one run.

    python scripts/bench_hearing.py --out /tmp/hearing                      30 held narrations, six held voices
    python scripts/bench_hearing.py --out /tmp/hearing --part choosing      worked with: wrong words are listed too
    python scripts/bench_hearing.py --out /tmp/hearing --count 6 --noises   six narrations, clean alone

The voices take turns; speed and pitch differ by up to an eighth from file to file. For each condition (clean, and so
many dB of exam-room noise) stand the shipped model's word errors beside the plain one's; trade words right (names of
sites and findings, and words of the lexicon that are no ordinary English); words right that tell a side, deny or are
part of a number (or doubted: what stands at their place is asked about in the draft); trade words put in where none was
spoken; and the record's figures beside those of the same narrations as text. Sound that lies in --out is taken as it
is. Nothing of a held narration is printed.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from hearing_words import Beside, beside, deciding_words, kind_of, places_of, put_in  # noqa: E402
from measure_words import stem  # noqa: E402
from parts import part_of  # noqa: E402
from score_repair import known_english, words_of_the_trade  # noqa: E402
from scoring import Synonyms, score_one  # noqa: E402
from speak_narrations import seed_of, spoken  # noqa: E402
from voices import CHOOSING_VOICES, HELD_VOICES, add_noise, missing, write_sound  # noqa: E402

from dictate.cli.steps import steps_for  # noqa: E402
from dictate.draft import Heard, Steps, draft, hear  # noqa: E402
from dictate.exam.record import Record, Source, to_json  # noqa: E402
from dictate.language.marking import vocabulary  # noqa: E402
from dictate.language.repair import Repaired, repair  # noqa: E402
from dictate.language.step import unsure_words  # noqa: E402
from dictate.lexicon import Lexicon, load  # noqa: E402
from dictate.speech.words import Transcript  # noqa: E402

NARRATIONS = HERE.parent / "tests" / "narrations"
SPREAD = 0.125
WAYS = ("plain", "quick", "default", "thorough")
KINDS = ("side", "negation", "number")


def chosen(part: str, count: int) -> list[dict]:
    """The shortest narrations of a part: more of them fit into the time."""
    truths = [
        {"id": f.stem, **json.loads(f.read_text(encoding="utf-8"))}
        for f in sorted(NARRATIONS.glob("*.json"))
        if part_of(f.stem) == part
    ]
    return sorted(sorted(truths, key=lambda t: len(t["text"]))[:count], key=lambda t: t["id"])


def sound_of(truth: dict, voice: str, snr: float | None, folder: Path) -> Path:
    """The narration spoken; made only where it is not there yet."""
    name = truth["id"]
    path = folder / f"{name}_{voice}_{'clean' if snr is None else f'room{snr:g}'}.ogg"
    if not path.exists():
        sound = spoken(truth["text"], name, voice, speed=1.0, pitch=1.0, spread=SPREAD)
        if snr is not None:
            sound = add_noise(sound, "room", snr, seed=seed_of(name))
        part = path.with_name(f"part_{path.name}")  # no half a file under the right name
        write_sound(part, sound)
        part.replace(path)
    return path


def shown(record: Record, transcript: Transcript) -> list[tuple[int, int]]:
    """Characters of the talk, half-open, that a reviewer must look at before signing."""
    asked = [e for o in record.observations if o.doubts for e in o.evidence]
    spans = [(e.char_start, e.char_end) for e in (*asked, *record.unplaced)]
    return [(a, b) for a, b in spans if a is not None and b is not None]


def final_text(transcript: Transcript, lexicon: Lexicon) -> Repaired:
    """The words as the language step reads them."""
    from dictate.language.pipeline import is_english

    return repair(transcript.text, vocabulary(lexicon), known=is_english, unsure=unsure_words(transcript))


def doubted(words: Beside, at: int, text: Repaired, places: Sequence[tuple[int, int]], looked: list) -> bool:
    """Whether what was heard at the place of a spoken word is shown to the reviewer."""
    first, last = words.near[at]
    if not places:
        return False
    here = places[first:last] or places[max(0, first - 1) : first + 1]  # left out: its neighbours
    start, end = text.back(here[0][0]), text.back(here[-1][1], end=True)
    return any(a < end and start < b for a, b in looked)


class Condition:
    """The counts of one condition, gathered file by file."""

    def __init__(self, title: str) -> None:
        self.title = title
        self.count: Counter[str] = Counter()
        self.record: Counter[str] = Counter()
        self.wrong: list[str] = []

    def add_words(self, truth: dict, heard: Repaired, trade: frozenset[str], deciding: dict[str, str], **by) -> None:
        """Count words of one narration; `by` may hold the record and transcript, for what is doubted."""
        words = beside(truth["text"], heard.text)
        places = places_of(heard.text, words.heard)
        looked = shown(by["record"], by["transcript"]) if by else []
        c = self.count
        c["spoken"] += len(words.spoken)
        c["errors"] += errors(words)
        c["put in"] += put_in(words, trade)
        for at, (word, same) in enumerate(zip(words.spoken, words.same, strict=True)):
            if stem(word) in trade:
                c["trade"] += 1
                c["trade right"] += same is not None
            if kind := kind_of(word, deciding):
                right = same is not None
                safe = right or (bool(by) and doubted(words, at, heard, places, looked))
                c[kind] += 1
                c[f"{kind} right"] += right
                c[f"{kind} safe"] += safe
                if not safe:
                    near = " ".join(words.heard[max(0, words.near[at][0] - 2) : words.near[at][1] + 2])
                    around = " ".join(words.spoken[max(0, at - 2) : at + 3])
                    self.wrong.append(f"{truth['id']}: {kind} {word!r} in {around!r}, heard {near!r}")

    def told(self) -> str:
        """One line of figures."""
        c, r = self.count, self.record
        decide = {key: sum(c[f"{kind}{key}"] for kind in KINDS) for key in ("", " right", " safe")}
        parts = [
            f"word errors {c['errors'] / c['spoken']:.4f}",
            f"trade right {c['trade right'] / c['trade']:.4f} of {c['trade']}",
            f"sides, negations, numbers right {decide[' right'] / decide['']:.4f}, "
            f"or doubted {decide[' safe'] / decide['']:.4f} of {decide['']}",
            " ".join(f"{kind} {c[kind + ' safe']}/{c[kind]}" for kind in KINDS),
            f"trade words put in, per 1,000 {1000 * c['put in'] / c['spoken']:.2f}",
        ]
        if r:
            exams = r["exams"]
            parts += [
                f"placed {r['placed'] / r['facts']:.3f} exact {r['exact'] / r['facts']:.3f} "
                f"precision {r['borne_out'] / max(1, r['observations']):.3f}",
                f"unseen {(r['silent'] + r['silent_inexact'] + r['lost']) / exams:.2f}",
                f"burden {r['doubts'] / exams:.1f}",
            ]
        return f"{self.title:24s} " + "; ".join(parts)


def errors(words: Beside) -> int:
    from rapidfuzz.distance import Levenshtein

    return int(Levenshtein.distance(words.spoken, words.heard))


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; the exit status."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--out", type=Path, required=True, metavar="DIR", help="a folder outside the repository")
    ap.add_argument("--part", choices=("held", "choosing"), default="held")
    ap.add_argument("--count", type=int, default=30)
    ap.add_argument("--noises", type=float, nargs="*", default=[20, 12, 6], metavar="DB")
    ap.add_argument("--ways", nargs="+", choices=WAYS, default=["plain", "default"])
    ap.add_argument("--spoken-only", action="store_true", help="make the sound and stop")
    a = ap.parse_args(arguments)
    if HERE.parent in (a.out.resolve(), *a.out.resolve().parents):
        ap.error("--out lies in the repository, where spoken narrations do not belong")
    voices = list(HELD_VOICES if a.part == "held" else CHOOSING_VOICES)
    for voice in voices:
        if why := missing(voice):
            ap.error(f"voice {voice}: {why}")
    a.out.mkdir(parents=True, exist_ok=True)
    truths, lexicon, same = chosen(a.part, a.count), load(None), Synonyms(None)
    sounds = {
        snr: [sound_of(t, voices[i % len(voices)], snr, a.out) for i, t in enumerate(truths)]
        for snr in (None, *a.noises)
    }
    if a.spoken_only:
        return 0
    words = vocabulary(lexicon)
    trade, deciding = frozenset(words_of_the_trade(words, known_english())), deciding_words(lexicon)
    text = Condition("as text")
    for truth in truths:
        source = Source(name=truth["id"], kind="text", sha256=truth["id"])
        heard = Heard(Transcript((), truth["text"], truth["id"]), source)
        record = draft(heard, lexicon, steps=steps_for("base"))
        text.add_words(truth, Repaired(truth["text"]), trade, deciding)
        text.record += score_one(truth, json.loads(to_json(record)), same, lambda *_: None)
    print(f"{len(truths)} narrations of the {a.part} part, {len(voices)} voices, {text.count['spoken']} words")
    print(text.told(), flush=True)
    for snr in (None, *a.noises):
        for way in a.ways:
            name = "clean" if snr is None else f"{snr:g} dB"
            steps = steps_for("base", plain=way == "plain", way="default" if way == "plain" else way)
            condition = measured(f"{name}, {way}", truths, sounds[snr], lexicon, steps, trade, deciding, same)
            print(condition.told(), flush=True)
            if a.part != "held" and way != "plain":
                print("\n".join(f"    {line}" for line in condition.wrong))
    return 0


def measured(
    title: str, truths: Sequence[dict], sounds: Sequence[Path], lexicon: Lexicon, steps: Steps,
    trade: frozenset[str], deciding: dict[str, str], same: Synonyms,
) -> Condition:  # fmt: skip
    """All narrations in one condition, heard and drafted in one way."""
    condition = Condition(title)
    for truth, sound in zip(truths, sounds, strict=True):
        heard = hear(sound, lexicon, listen=steps.listen)
        record = draft(heard, lexicon, steps=steps)
        final = final_text(heard.transcript, lexicon)
        condition.add_words(truth, final, trade, deciding, record=record, transcript=heard.transcript)
        condition.record += score_one(truth, json.loads(to_json(record)), same, lambda *_: None)
    return condition


if __name__ == "__main__":
    sys.exit(main())
