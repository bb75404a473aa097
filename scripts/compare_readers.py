#!/usr/bin/env python3
"""What each reader is worth: figures of the rules alone, the second reader alone, and both.

    python scripts/compare_readers.py --part held
    python scripts/compare_readers.py --part choosing --plain       without punctuation and capitals

What the figures mean stands in scoring.py, how one reader reads alone in drafted.py.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterable

from critical import critical_errors
from drafted import READERS, Drafted, drafted
from parts import PARTS
from scoring import Synonyms, report, score_one


def figures(narrations: Iterable[Drafted]) -> Counter:
    """The counts of `scoring.py` over some narrations, and the critical errors that no doubt warns of."""
    synonyms, total = Synonyms(None), Counter()
    for one in narrations:
        total += score_one(one.truth, one.record, synonyms, lambda *_: None)
        found = critical_errors(one, synonyms)
        total += Counter(critical=len(found), exams_critical=1 if found else 0)
    return total


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--part", choices=PARTS, default="choosing")
    ap.add_argument("--plain", action="store_true", help="text without punctuation and capitals")
    a = ap.parse_args()
    for reader in READERS:
        count = figures(drafted(a.part, reader=reader, bare=a.plain))
        print(
            f"{report(f'{a.part}, {reader}', count)}  critical {count['critical']} in {count['exams_critical']} exams"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
