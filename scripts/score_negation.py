"""Score the negation rules on sentences that physicians marked, and list the misses.

    python scripts/score_negation.py [TSV] [--quiet]

The sentences are the NegEx/ConText test annotations of W. W. Chapman and B. E. Chapman (repository chapmanbe/negex,
Apache-2.0). The table has the columns report, concept, sentence and label (Affirmed or Negated); the concept stands in
capitals in its sentence.
"""

from __future__ import annotations

import argparse
import csv
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SENTENCES = ROOT.parent / "shared" / "published" / "negation.tsv"


@dataclass(frozen=True, slots=True)
class Case:
    """One marked concept: its place in the sentence (half-open) and whether physicians called it negated."""

    row: int
    sentence: str
    start: int
    end: int
    negated: bool


def read_cases(path: Path) -> tuple[list[Case], list[int]]:
    """The cases of the table, and the rows whose concept does not stand in its sentence."""
    cases, lost = [], []
    with path.open(encoding="utf-8", newline="") as lines:
        for number, row in enumerate(csv.DictReader(lines, delimiter="\t", quoting=csv.QUOTE_NONE), start=2):
            concept = " ".join(row["concept"].split()).upper()
            at = row["sentence"].find(concept)
            if at < 0:
                at = row["sentence"].upper().find(concept)
            if at < 0:
                lost.append(number)
                continue
            cases.append(Case(number, row["sentence"], at, at + len(concept), row["label"] == "Negated"))
    return cases, lost


def as_spoken(case: Case) -> str:
    """The sentence with its concept in small letters, so that the capitals do not give it away."""
    return case.sentence[: case.start] + case.sentence[case.start : case.end].lower() + case.sentence[case.end :]


def judged(cases: Iterable[Case]) -> Iterator[tuple[Case, bool]]:
    """Each case with what the rules of the language step say of it."""
    from dictate.language.negation import negated

    for case in cases:
        yield case, negated(as_spoken(case), case.start, case.end)


def figures(results: Iterable[tuple[Case, bool]]) -> dict[str, float]:
    """Precision, recall and F1 for `negated`, and the counts they come from."""
    hits = false = missed = right = 0
    for case, said in results:
        hits += case.negated and said
        false += said and not case.negated
        missed += case.negated and not said
        right += said == case.negated
    precision, recall = hits / max(1, hits + false), hits / max(1, hits + missed)
    f1 = 2 * precision * recall / max(1e-9, precision + recall)
    return {
        "right": right,
        "hits": hits,
        "false": false,
        "missed": missed,
        "precision": precision,
        "recall": recall,
        "f1": f1,
    }


def main() -> int:
    parser = argparse.ArgumentParser(description="Score the negation rules on sentences that physicians marked.")
    parser.add_argument("table", nargs="?", type=Path, default=SENTENCES)
    parser.add_argument("--quiet", action="store_true", help="figures only, no misses")
    options = parser.parse_args()
    if not options.table.exists():
        print(f"{options.table}: no such table of marked sentences", file=sys.stderr)
        return 2
    cases, lost = read_cases(options.table)
    results = list(judged(cases))
    if not options.quiet:
        for case, said in results:
            if said != case.negated:
                kind = "MISSED" if case.negated else "FALSE "
                print(f"{kind} row {case.row}: {case.sentence}")
    sums = figures(results)
    print(f"{len(cases)} sentences, {sum(c.negated for c in cases)} negated, {len(lost)} rows without their concept")
    print("  ".join(f"{name} {value:.3f}" if value < 1 else f"{name} {value:g}" for name, value in sums.items()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
