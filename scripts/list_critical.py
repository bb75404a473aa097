#!/usr/bin/env python3
"""Critical errors that no doubt warns of, one by one; of the held part only their number.

    python scripts/list_critical.py --part choosing
    python scripts/list_critical.py --part work --only k1
    python scripts/list_critical.py --part held

What counts as critical stands in critical.py.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter

from critical import KINDS, Critical, critical_errors
from drafted import READERS, drafted
from parts import PARTS
from scoring import Synonyms


def shown(item: dict) -> str:
    """An observation or a fact in one line."""
    value = item.get("value")
    number = f"{value['number']:g} {value['unit']}" if isinstance(value, dict) else value
    if number is not None and not isinstance(value, dict):
        number = f"{number} {item.get('unit')}"
    absent = "" if item.get("present", True) else "no "
    tooth = (item.get("qualifiers") or {}).get("tooth")
    words = item.get("quote") or " | ".join(e["text"] for e in item.get("evidence") or [])
    what = f"{item['site']} / {item.get('side') or '-'} / {item['status']} / {absent}{item.get('finding') or '-'}"
    return what + (f" / {number}" if number else "") + (f" / tooth {tooth}" if tooth else "") + f"  <- {words!r}"


def lines(name: str, error: Critical) -> str:
    return f"{name}  {error.kind}\n    drafted {shown(error.observation)}\n    told    {shown(error.fact)}"


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--part", choices=PARTS, default="choosing")
    ap.add_argument("--only", default="", metavar="PREFIX", help="only narrations whose name begins so")
    ap.add_argument("--plain", action="store_true", help="text without punctuation and capitals")
    ap.add_argument("--reader", choices=tuple(READERS), default="both")
    a = ap.parse_args()
    if a.part == "held" and a.only:
        ap.error("the held narrations are scored in total only")
    synonyms, kinds = Synonyms(None), Counter()
    exams = struck = 0
    for one in drafted(a.part, reader=a.reader, bare=a.plain, only=a.only):
        errors = critical_errors(one, synonyms)
        exams += 1
        struck += bool(errors)
        kinds.update(e.kind for e in errors)
        if a.part != "held":
            for error in errors:
                print(lines(one.name, error))
    if not exams:
        ap.error("no narration fits")
    total = sum(kinds.values())
    print(f"{a.part}: {total} critical errors without a doubt in {exams} exams, {total / exams:.2f} per exam")
    print(f"  exams with one or more: {struck} ({struck / exams:.2f})")
    print("  " + ", ".join(f"{kind} {kinds[kind]}" for kind in KINDS))
    return 0


if __name__ == "__main__":
    sys.exit(main())
