#!/usr/bin/env python3
"""Measure this program on a practice's own recordings. Everything stays on this machine; only figures are printed.

    python scripts/measure_own_recordings.py FOLDER [--model MODEL] [--lexicon FOLDER]

FOLDER holds recordings, and beside each what a person made of it, one or both of:

    NAME.txt     every word that was said, typed from the recording     -> word error rate
    NAME.json    what a careful person would have put on record         -> placed, exact, precision ... (see scoring.py)

    python scripts/measure_own_recordings.py FOLDER --prepare

writes a NAME.json for each recording that has none, from its draft. Listen, correct it, add what is missing and take
out what is wrong: a file that was not corrected measures nothing. Its form stands in DEVELOPERS.md.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections import Counter
from pathlib import Path

from rapidfuzz.distance import Levenshtein

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from scoring import Synonyms, report, score_one  # noqa: E402

from dictate.cli.batch import quiet  # noqa: E402
from dictate.cli.steps import steps_for  # noqa: E402
from dictate.draft import draft, hear  # noqa: E402
from dictate.errors import InputError  # noqa: E402
from dictate.exam.record import Record, to_json  # noqa: E402
from dictate.lexicon import load  # noqa: E402

NO_SOUND = {".txt", ".json", ".csv", ".md", ".pdf", ".doc", ".docx"}


def bare_words(text: str) -> list[str]:
    """The words by which two texts are compared: lower case, no punctuation but inside numbers and words."""
    return re.findall(r"\d+(?:[.,/]\d+)*|[^\W\d_]+(?:['’][^\W\d_]+)*", text.lower().replace("’", "'"))


def word_errors(said: str, heard: str) -> tuple[int, int]:
    """How many words must be put in, left out or changed to make `heard` into `said`, and how many were said."""
    want = bare_words(said)
    return Levenshtein.distance(want, bare_words(heard)), len(want)


def truth_from(record: Record, text: str) -> dict:
    """A truth file to be corrected by a person, as the draft has it."""
    data = record.model_dump(mode="json")
    facts = [
        {
            "site": o["site"],
            "side": o["side"],
            "status": o["status"],
            "finding": o["finding"],
            "present": o["present"],
            "qualifiers": o["qualifiers"],
            "value": o["value"]["number"] if o["value"] else None,
            "unit": o["value"]["unit"] if o["value"] else None,
            "certainty": "stated" if o["stated_as"] == "certain" else "possible",
            "quote": " ".join(e["text"] for e in o["evidence"]),
        }
        for o in data["observations"]
    ]
    sections = ("history", "plan", "advice", "procedures", "laboratory")
    other = {name: [e["text"] for e in data["other"][name]] for name in sections}
    patient = data["patient"]
    return {
        "corrected": False,
        "patient": patient,
        "text": text,
        "facts": facts,
        "not_facts": [],
        "other": other,
    }


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("folder", type=Path)
    ap.add_argument("--model", default="base")
    ap.add_argument("--lexicon", type=Path)
    ap.add_argument("--prepare", action="store_true", help="write truth files to be corrected")
    a = ap.parse_args()
    quiet()
    lexicon, steps = load(a.lexicon), steps_for(a.model)
    recordings = sorted(p for p in a.folder.glob("*") if p.is_file() and p.suffix.lower() not in NO_SOUND)
    if not recordings:
        print(f"{a.folder}: no recordings here", file=sys.stderr)
        return 1
    errors = words = uncorrected = failed = 0
    total: Counter = Counter()
    for file in recordings:
        try:
            heard = hear(file, lexicon, listen=steps.listen)
            record = draft(heard, lexicon, steps=steps)
        except InputError as error:
            print(error, file=sys.stderr)
            failed += 1
            continue
        truth_file, typed = file.with_suffix(".json"), file.with_suffix(".txt")
        if typed.exists():
            wrong, said = word_errors(typed.read_text(encoding="utf-8-sig"), heard.transcript.text)
            errors, words = errors + wrong, words + said
            print(f"{file.name:<22} word error rate {wrong / max(1, said):.3f} of {said} words")
        if a.prepare and not truth_file.exists():
            sheet = truth_from(record, heard.transcript.text)
            truth_file.write_text(json.dumps(sheet, indent=1, ensure_ascii=False), encoding="utf-8")
            print(f'{truth_file.name}: written; correct it and set "corrected" to true')
        elif truth_file.exists() and not a.prepare:
            truth = json.loads(truth_file.read_text(encoding="utf-8"))
            if truth.get("corrected") is False:
                uncorrected += 1
                continue
            count = score_one(truth, json.loads(to_json(record)), Synonyms(None), lambda *_: None)
            total += count
            print(report(file.name, count))
    if words:
        print(f"ALL: word error rate {errors / words:.3f} of {words} words")
    if total["exams"]:
        print(report(f"ALL ({total['exams']})", total))
    if uncorrected:
        print(f"{uncorrected} truth files are not corrected yet and were not counted")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
