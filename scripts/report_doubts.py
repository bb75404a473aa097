#!/usr/bin/env python3
"""Whether doubts are worth their time: risk and coverage, calibration, and which kinds of doubt make the burden.

    python scripts/report_doubts.py --part choosing
    python scripts/report_doubts.py --part held

Everything is counted over the observations of the drafted records, each side by itself. Wrong is what no fact of the
truth bears out (`scoring.py`). All figures are totals of the part; nothing of a single narration is printed.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from drafted import ASK, READERS, Drafted, drafted
from parts import PARTS
from scoring import Synonyms, bears_out, detail_match, expand, placed_by, score_one, shown_as, site_match

BY_PROBABILITY = "reading"  # the kind of doubt that the threshold makes
THRESHOLDS = (0.0, 0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 1.01)
BINS = 10
UNPLACED = "unplaced phrase"
VERDICTS = ("wrong", "inexact", "for review", "needless")


@dataclass(frozen=True, slots=True)
class Judged:
    """One observation: its probability, its kinds of doubt, and what the truth says of it.

    `verdict` is "wrong" (no fact bears it out), "inexact" (one does, but its finding, value, grade or tooth differs),
    "for review" (the truth too leaves it to a person), or "right".
    """

    probability: float
    doubts: tuple[str, ...]
    verdict: str

    @property
    def wrong(self) -> bool:
        return self.verdict == "wrong"


@dataclass(frozen=True, slots=True)
class Total:
    """What was found in one part. `unplaced` counts phrases by whether they show a fact that no observation places."""

    exams: int
    judged: tuple[Judged, ...]
    unplaced: Counter
    counts: Counter


def judge(one: dict, facts: Sequence[dict], synonyms: Synonyms) -> str:
    """The verdict on one observation."""
    if not any(bears_out(f, one, synonyms) for f in facts):
        return "wrong"
    if any(f.get("certainty") == "needs_review" and site_match(f, one, synonyms) for f in facts):
        return "for review"
    placed = [f for f in facts if placed_by(f, one, synonyms)]
    return "right" if any(detail_match(f, one, synonyms) for f in placed) else "inexact"


def collect(narrations: Iterable[Drafted]) -> Total:
    synonyms = Synonyms(None)
    judged: list[Judged] = []
    unplaced: Counter = Counter()
    counts: Counter = Counter()
    for one in narrations:
        facts = expand(one.truth["facts"])
        counts += score_one(one.truth, one.record, synonyms, lambda *_: None)
        for observation, p in zip(one.observations, one.probabilities, strict=True):
            kinds = tuple(d["kind"] for d in observation["doubts"])
            judged.append(Judged(p, kinds, judge(observation, facts, synonyms)))
        open_facts = [f for f in facts if not any(placed_by(f, o, synonyms) for o in one.observations)]
        for phrase in one.record["unplaced"]:
            unplaced["useful" if any(shown_as(f["quote"], phrase["text"]) for f in open_facts) else "needless"] += 1
    return Total(counts["exams"], tuple(judged), unplaced, counts)


def is_asked(j: Judged, threshold: float) -> bool:
    """Whether an observation is asked about at a threshold: for its probability, or for a doubt of another kind."""
    return j.probability < threshold or any(kind != BY_PROBABILITY for kind in j.doubts)


def risk_and_coverage(total: Total) -> list[str]:
    """For each threshold: what is asked about, and how much of the rest is wrong."""
    out = ["asked below   asked about   asked, per exam   wrong among the rest   wrong and not asked, per exam"]
    for threshold in THRESHOLDS:
        asked = [is_asked(j, threshold) for j in total.judged]
        out.append(_risk_line(f"{threshold:.2f}", asked, total))
    return [*out, _risk_line(f"shipped {ASK:g}", [bool(j.doubts) for j in total.judged], total)]


def _risk_line(name: str, asked: Sequence[bool], total: Total) -> str:
    rest = [j for j, is_one in zip(total.judged, asked, strict=True) if not is_one]
    wrong = sum(j.wrong for j in rest)
    share = f"{wrong / len(rest):.4f}" if rest else "-"
    n = sum(asked)
    return f"{name:<12}{n / len(asked):13.3f}{n / total.exams:18.1f}{share:>23}{wrong / total.exams:32.2f}"


def calibration(judged: Sequence[Judged]) -> tuple[float, list[str]]:
    """The expected calibration error over ten bins of equal width, and their table."""
    error = 0.0
    rows = ["probability   statements   said    right"]
    for b in range(BINS):
        held = [j for j in judged if min(int(j.probability * BINS), BINS - 1) == b]
        if not held:
            continue
        said = sum(j.probability for j in held) / len(held)
        right = sum(not j.wrong for j in held) / len(held)
        error += len(held) / len(judged) * abs(said - right)
        rows.append(f"{b / BINS:.1f} to {(b + 1) / BINS:.1f}   {len(held):10d}   {said:.3f}   {right:.3f}")
    return error, rows


def burden(total: Total) -> list[str]:
    """Each kind of doubt: how many, and on what kind of observation it stands."""
    out = [f"{'kind of doubt':<22}{'per exam':>9}" + "".join(f"{v:>12}" for v in VERDICTS) + f"{'needless share':>16}"]
    kinds = Counter(kind for j in total.judged for kind in j.doubts)
    rows = []
    for kind, n in kinds.items():
        on = Counter(j.verdict for j in total.judged for k in j.doubts if k == kind)
        rows.append((n, kind, on["wrong"], on["inexact"], on["for review"], on["right"]))
    n = sum(total.unplaced.values())
    rows.append((n, UNPLACED, total.unplaced["useful"], 0, 0, total.unplaced["needless"]))
    for n, kind, *on in sorted(rows, reverse=True):
        share = f"{on[-1] / n:.2f}" if n else "-"
        out.append(f"{kind:<22}{n / total.exams:9.2f}" + "".join(f"{v:12d}" for v in on) + f"{share:>16}")
    everything = sum(r[0] for r in rows)
    needless = sum(r[-1] for r in rows)
    share = f"{needless / everything:.2f}" if everything else "-"
    out.append(f"{'all':<22}{everything / total.exams:9.2f}" + f"{needless:48d}{share:>16}")
    return out


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--part", choices=PARTS, default="choosing")
    ap.add_argument("--plain", action="store_true", help="text without punctuation and capitals")
    ap.add_argument("--reader", choices=tuple(READERS), default="both")
    a = ap.parse_args()
    total = collect(drafted(a.part, reader=a.reader, bare=a.plain))
    c, n = total.counts, len(total.judged)
    error, bins = calibration(total.judged)
    print(f"{a.part}: {total.exams} exams, {n} observations, {sum(j.wrong for j in total.judged)} wrong")
    print(f"flagged {c['flagged']}/{c['review']}, burden {c['doubts'] / total.exams:.1f} per exam\n")
    print("\n".join(risk_and_coverage(total)), "\n")
    print(f"expected calibration error {error:.4f}")
    print("\n".join(bins), "\n")
    print("\n".join(burden(total)))
    print(
        f"({UNPLACED}: under 'wrong' those that show a fact that no observation places;\n"
        " needless: on an observation that is right in all and that the truth leaves to nobody's eye)"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
