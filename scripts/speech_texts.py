#!/usr/bin/env python3
"""The texts that the speech adapter is taught with: what a voice says, and what a recogniser should write.

    python scripts/speech_texts.py --out build/speech_texts.json

Writes {"teach": [...], "copies": [...], "choose": [...]}: rows of {"say", "write", "name", "voice", "speed",
"pitch"}, the first two of them lists of sentences. "teach" is narrations for work in several voices, phrases of the
lexicon, numbers in all forms and general English (the example sentences of Princeton WordNet 3.0, Debian's package
wordnet-base); "copies" is each narration for work once more in other voices, whole, for what a recogniser makes of
it; "choose" is the choosing narrations in voices that teach nothing. Held narrations and held voices are in none of
them.
"""

from __future__ import annotations

import argparse
import csv
import json
import random
import re
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from parts import part_of  # noqa: E402
from speech_numbers import said_aloud, written  # noqa: E402
from voices import CHOOSING_VOICES, HELD_VOICES, sentences, teaching_voices  # noqa: E402

NARRATIONS = HERE.parent / "tests" / "narrations"
LEXICON = HERE.parent / "lexicon"
WORDNET = Path("/usr/share/wordnet")
WINDOW_WORDS = (18, 62)  # so that slow voices stay within Whisper's 30 seconds


def table(name: str) -> list[dict[str, str]]:
    with (LEXICON / f"{name}.csv").open(encoding="utf-8", newline="") as f:
        return list(csv.DictReader(f))


def windows(text: str, rng: random.Random, most: int = WINDOW_WORDS[1]) -> list[str]:
    """The text cut at sentence ends into stretches that fit in 30 seconds; long sentences at commas."""
    parts: list[str] = []
    for sentence in sentences(text):
        words = sentence.split()
        while len(words) > most:
            cut = next((i for i in range(most, most // 2, -1) if words[i - 1][-1] in ",;:"), most)
            parts.append(" ".join(words[:cut]))
            words = words[cut:]
        parts.append(" ".join(words))
    out: list[str] = []
    row: list[str] = []
    limit = rng.randint(*WINDOW_WORDS)
    for part in parts:
        if row and sum(len(p.split()) for p in row) + len(part.split()) > limit:
            out.append(" ".join(row))
            row, limit = [], rng.randint(*WINDOW_WORDS)
        row.append(part)
    if row:
        out.append(" ".join(row))
    return out


def respelt(text: str, rng: random.Random, ways: dict[str, list[str]], share: float) -> str:
    """Some terms in another of the ways in which people say them."""

    def other(match: re.Match[str]) -> str:
        said = ways.get(match[0].lower())
        return rng.choice(said) if said and rng.random() < share else match[0]

    return re.sub(r"[A-Za-z]+(?:-[A-Za-z]+)*", other, text)


def lexicon_talk(rng: random.Random) -> list[str]:
    """Short statements in which each of the lexicon's words comes at least once."""
    places = [r["words"] for r in table("site_words")]
    findings = [r["words"] for r in table("finding_words")]
    normals = [r["words"] for r in table("normal_words") if len(r["words"].split()) < 7]
    rng.shuffle(places), rng.shuffle(findings), rng.shuffle(normals)
    degrees = ["", "", "", "mild ", "moderate ", "marked ", "a bit of ", "slight ", "no ", "no ", "severe "]
    sides = ["", "", "Left ", "Right ", "The left ", "On the right, ", "Both ", "The other "]
    joins = [": ", ", ", " ", " shows ", " has ", " is ", " are ", "; ", " with "]
    out = []
    for i in range(max(len(places), len(findings))):
        place, finding = places[i % len(places)], findings[i % len(findings)]
        said = rng.choice(sides) + place + rng.choice(joins) + rng.choice(degrees) + finding
        if rng.random() < 0.5:
            said += ", " + rng.choice(places) + rng.choice((" ", " is ", " are ", ": ")) + rng.choice(normals)
        out.append(said[0].upper() + said[1:] + rng.choice(".....,"))
    return out


def number_talk(rng: random.Random, count: int) -> list[str]:
    """Values of exams, teeth, and numbers that are neither."""

    def tooth() -> str:
        return f"{rng.randint(1, 4)}{rng.randint(1, 11):02}"

    makers = [
        lambda: f"Temperature {rng.uniform(36, 41.5):.1f}.",
        lambda: f"Temp is {rng.uniform(97, 106):.1f} Fahrenheit.",
        lambda: f"Weight {rng.uniform(1, 60):.1f} kilos.",
        lambda: f"She weighs {rng.randint(2, 140)} pounds today.",
        lambda: f"Heart rate {rng.randint(50, 260)}, respiratory rate {rng.randint(10, 80)}.",
        lambda: f"Pulse {rng.randint(60, 240)}, resps {rng.randint(12, 60)}.",
        lambda: f"Pressure {rng.randint(90, 220)} over {rng.randint(50, 130)}, mean {rng.randint(60, 150)}.",
        lambda: f"Tear test left {rng.randint(2, 28)}, right {rng.randint(2, 28)} millimetres in a minute.",
        lambda: f"Eye pressure {rng.randint(6, 45)} on the left and {rng.randint(6, 45)} on the right.",
        lambda: f"Tooth {tooth()} has grade {rng.randint(1, 4)} calculus, {tooth()} is missing.",
        lambda: f"{tooth()}, {tooth()} and {tooth()} are mobile.",
        lambda: f"Pocket of {rng.randint(3, 11)} millimetres at {tooth()}.",
        lambda: f"A mass of {rng.uniform(0.4, 9):.1f} by {rng.uniform(0.4, 7):.1f} centimetres.",
        lambda: f"Murmur grade {rng.randint(1, 6)} out of 6.",
        lambda: f"Body condition {rng.randint(1, 9)} out of 9.",
        lambda: f"Saturation {rng.randint(85, 100)} percent, glucose {rng.uniform(3, 25):.1f}.",
        lambda: f"{rng.randint(0, 999)}.",
        lambda: f"{rng.randint(0, 99)}, {rng.randint(0, 999)}, {rng.uniform(0, 120):.1f}.",
        lambda: f"We counted {rng.randint(100, 990)} of them last year.",
        lambda: (
            f"The room number is {rng.randint(100, 999)}, call back at {rng.randint(1, 12)} {rng.choice((15, 30, 45))}."
        ),
        lambda: f"It cost {rng.randint(2, 900)} and took {rng.randint(2, 90)} minutes.",
        lambda: f"{rng.choice('123456789')} hundred people came.",
        lambda: f"Two hundred and {rng.randint(1, 99)} miles to the {rng.randint(4, 30)}th stop.",
    ]
    return [rng.choice(makers)() for _ in range(count)]


def general_english(rng: random.Random, count: int) -> list[str]:
    """Example sentences of WordNet's glosses, of three to sixteen words."""
    found = set()
    for file in sorted(WORDNET.glob("data.*")):
        for line in file.read_text(encoding="utf-8", errors="ignore").splitlines():
            for quote in re.findall(r'"([^"]+)"', line.partition("|")[2]):
                words = quote.split()
                if 3 <= len(words) <= 16 and re.fullmatch(r"[A-Za-z' ,.;?!-]+", quote):
                    found.add(quote[0].upper() + quote[1:].rstrip(".,; ") + ("" if quote[-1] in "?!" else "."))
    chosen = sorted(found)
    rng.shuffle(chosen)
    return chosen[:count]


def gathered(lines: list[str], rng: random.Random) -> list[str]:
    """Lines put together into stretches of various lengths."""
    out, row, limit = [], [], rng.randint(4, 50)
    for line in lines:
        if row and sum(len(r.split()) for r in row) + len(line.split()) > limit:
            out.append(" ".join(row))
            row, limit = [], rng.randint(4, 55)
        row.append(line)
    return [*out, " ".join(row)]


class Maker:
    """Rows of texts with a voice each."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.ways: dict[str, list[str]] = {}
        for r in table("pronunciations"):
            self.ways.setdefault(r["word"].lower(), []).append(r["said"])

    def row(self, text: str, name: str, voices: dict[str, float]) -> dict:
        rng = self.rng
        voice = rng.choices(list(voices), list(voices.values()))[0]
        shown = [written(s) for s in sentences(text)]
        return {
            "say": [respelt(said_aloud(s, rng), rng, self.ways, 0.35) for s in shown],
            "write": shown,
            "name": name,
            "voice": voice,
            "speed": round(rng.triangular(0.8, 1.35, 1.05), 2),
            "pitch": round(rng.triangular(0.8, 1.25, 1.0), 2),
        }


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--out", type=Path, required=True)
    ap.add_argument("--passes", type=int, default=2)
    ap.add_argument("--seed", type=int, default=1)
    a = ap.parse_args()
    make = Maker(a.seed)
    talks = {
        p.stem: json.loads(p.read_text(encoding="utf-8"))["text"]
        for p in sorted(NARRATIONS.glob("*.json"))
        if part_of(p.stem) != "held"
    }
    work = [n for n in talks if part_of(n) == "work"]
    choosing = [n for n in talks if part_of(n) == "choosing"]
    voices, trying = teaching_voices(), dict.fromkeys(CHOOSING_VOICES, 1.0)
    assert not set(voices) & (set(HELD_VOICES) | set(trying))
    teach = [make.row(w, n, voices) for _ in range(a.passes) for n in work for w in windows(talks[n], make.rng)]
    plain = general_english(make.rng, 6300)
    for lines in (lexicon_talk(make.rng), number_talk(make.rng, 3600), plain[300:]):
        teach += [make.row(w, "", voices) for w in gathered(lines, make.rng)]
    make.rng.shuffle(teach)

    def whole(name: str, voices: dict[str, float]) -> list[dict]:
        first = make.row("", name, voices)
        speed, pitch = first["speed"], first["pitch"]
        return [
            {**make.row(w, name, {first["voice"]: 1.0}), "speed": speed, "pitch": pitch}
            for w in windows(talks[name], make.rng, 58)
        ]

    quick = {v: share for v, share in voices.items() if v != "joe"}  # piper takes an hour where the others take minutes
    copies = [r for n in (*work, *choosing) for r in whole(n, quick if n in work else trying)]
    choose = [r for n in choosing for r in whole(n, trying)]
    choose += [
        make.row(w, kind, trying)
        for kind, lines in (("general", plain[:300]), ("numbers", number_talk(make.rng, 200)))
        for w in gathered(lines, make.rng)
    ]
    a.out.parent.mkdir(parents=True, exist_ok=True)
    a.out.write_text(json.dumps({"teach": teach, "copies": copies, "choose": choose}, ensure_ascii=False))
    for part, rows in (("teach", teach), ("copies", copies), ("choose", choose)):
        print(part, len(rows), "rows,", sum(len(s.split()) for r in rows for s in r["write"]), "words")
    return 0


if __name__ == "__main__":
    sys.exit(main())
