#!/usr/bin/env python3
"""How well words are heard: word errors and the share of trade words, on spoken narrations, with the hint and without.

    python scripts/speak_narrations.py tests/narrations/{g1_03,g4_05,h1_02,r0_04}.json --voices slt --out spoken
    python scripts/measure_words.py spoken                       the shipped hint, and none
    python scripts/measure_words.py spoken --hint "Exam: cornea, stifle."

Numbers are brought to words before they are compared. Trade words: those of five letters and more in the names of the
lexicon's sites and findings. Only narrations for work may be named here.
"""

from __future__ import annotations

import argparse
import csv
import json
import re
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

NARRATIONS = HERE.parent / "tests" / "narrations"


def normal(text: str) -> str:
    """Lower case words alone, numbers written out."""
    from num2words import num2words

    def spelt(match: re.Match[str]) -> str:
        whole, _, part = match[0].partition(".")
        said = num2words(int(whole)).replace("-", " ").replace(" and ", " ")
        return said + (" point " + " ".join(num2words(int(d)) for d in part) if part else "")

    text = re.sub(r"\d+(?:\.\d+)?", spelt, text.lower().replace("-", " "))
    text = re.sub(r"\bcm\b", "centimeter", re.sub(r"\bkg\b", "kilos", text))
    return " ".join(re.findall(r"[a-z']+", text))


def stem(word: str) -> str:
    return re.sub(r"(ies|es|s|ae)$", "", word)


def trade_words() -> set[str]:
    """The stems of the longer words in the names of sites and findings."""
    found = set()
    for table in ("sites", "findings"):
        with (HERE.parent / "lexicon" / f"{table}.csv").open(encoding="utf-8", newline="") as f:
            for row in csv.reader(f):
                found |= {stem(w) for w in re.findall(r"[a-z]+", row[0].lower()) if len(w) > 4}
    return found


def main(arguments: Sequence[str] | None = None) -> int:
    """Print one line for each hint; the exit status."""
    import jiwer

    from dictate.speech import SpeechSettings, transcribe
    from dictate.speech.context import hint_words

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--hint", action="append", help="a hint of your own, beside the shipped one and none")
    parser.add_argument("--model", default="base")
    options = parser.parse_args(arguments)
    sounds = sorted(p for p in options.folder.iterdir() if (NARRATIONS / f"{p.stem}.json").exists())
    if not sounds:
        print(f"{options.folder}: no sound named after a narration", file=sys.stderr)
        return 2
    truths = [json.loads((NARRATIONS / f"{p.stem}.json").read_text(encoding="utf-8"))["text"] for p in sounds]
    trade = trade_words()
    for hint in ("", hint_words(), *(options.hint or ())):
        settings = SpeechSettings(model=options.model, hotwords=hint)
        heard = [transcribe(p, settings=settings).text for p in sounds]
        found = jiwer.process_words([normal(t) for t in truths], [normal(t) for t in heard])
        said, right = 0, 0
        for truth, text in zip(truths, heard, strict=True):
            a, b = (
                Counter(w for w in map(stem, re.findall(r"[a-z]+", t.lower())) if w in trade) for t in (truth, text)
            )
            said, right = said + sum(a.values()), right + sum((a & b).values())
        print(
            f"{hint[:40] or 'no hint':42s} word errors {found.wer:.3f}, left out {found.deletions}, added "
            f"{found.insertions}, trade words right {right} of {said} ({right / max(1, said):.3f})",
            flush=True,
        )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
