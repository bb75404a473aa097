#!/usr/bin/env python3
"""Run the outside checks and write tests/published/README.md: each fact, its source, cases, agreements, what is open.

python scripts/published_page.py            run everything and write the page
python scripts/published_page.py --check    only say whether facts and sources of the page are those of the tests
"""

from __future__ import annotations

import argparse
import ast
import csv
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
CHECKS = ROOT / "tests" / "published"
PAGE = CHECKS / "README.md"
SHOWN = 3  # cases named with each reason
OPENING = """# What the tool knows, and where it comes from

Written by `scripts/published_page.py` from the tests of this folder and one run of them. Every fact is checked against
the source that stands beside it; what comes from memory or from common practice says so. A case that does not agree
is counted, and stands under "Open" with its reason. Run them with `python -m pytest tests/published`.
"""


KNOWN = (  # what no case of these tests shows
    "Words for numbers, units, scales and teeth that a practice lays over the shipped ones (`--lexicon`) do not reach "
    "the reading of numbers: it reads the shipped tables.",
    "In a dental chart told tooth by tooth at speed a finding may be put at the tooth before or after its own.",
    "The distance of sounds is checked against the dictionary by itself, not through repaired mis-hearings.",
)


@dataclass(frozen=True, slots=True)
class Fact:
    """One test: what holds, in a sentence."""

    name: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Subject:
    """One test file: its subject, its sources and its facts."""

    file: str
    title: str
    sources: str
    facts: tuple[Fact, ...]


def subjects() -> list[Subject]:
    """What the test files say of themselves."""
    found = []
    for file in sorted(CHECKS.glob("test_*.py")):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        title, _, sources = (ast.get_docstring(tree) or "").partition("\n\n")
        facts = tuple(
            Fact(node.name, " ".join((ast.get_docstring(node) or "").split()))
            for node in tree.body
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
        )
        found.append(Subject(file.stem, " ".join(title.split()), sources.strip(), facts))
    return found


def run() -> tuple[Counter[tuple[str, str]], Counter[tuple[str, str]], list[str]]:
    """Cases and agreements of each test, and a line for each reason why cases do not agree or were skipped."""
    cases: Counter[tuple[str, str]] = Counter()
    agreed: Counter[tuple[str, str]] = Counter()
    open_: dict[tuple[str, str], list[str]] = {}
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.xml"
        command = [sys.executable, "-m", "pytest", "-q", str(CHECKS), f"--junitxml={report}"]
        subprocess.run(command, cwd=ROOT, check=False, stdout=subprocess.DEVNULL)
        for case in ElementTree.parse(report).iter("testcase"):
            name = case.get("name", "")
            key = (case.get("classname", "").rpartition(".")[2], re.sub(r"\[.*", "", name, flags=re.DOTALL))
            cases[key] += 1
            bad = [child for child in case if child.tag in ("failure", "error", "skipped")]
            if not bad:
                agreed[key] += 1
            else:
                message = " ".join((bad[0].get("message") or bad[0].tag).split())
                open_.setdefault((f"{key[0]}::{key[1]}", message[:160]), []).append(name.removeprefix(key[1]))
    lines = []
    for (test, message), names in sorted(open_.items()):
        some = ", ".join(f"`{n}`" for n in names[:SHOWN] if n) + (", ..." if len(names) > SHOWN else "")
        lines.append(f"`{test}`, {len(names)} of its cases: {message}" + (f" ({some})" if some else ""))
    return cases, agreed, lines


def facts_part(subject: Subject) -> str:
    """The title and sources of one subject, which do not change from run to run."""
    return f"## {subject.title}\n\n" + (f"{subject.sources}\n\n" if subject.sources else "")


def heard_part() -> list[str]:
    """The kept run of recorded numbers (`scripts/measure_human_numbers.py --write`) as a table."""
    with (CHECKS / "human_numbers.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    outcomes = ("right", "right, asked about", "wrong, asked about", "wrong", "not recorded")
    lines = ["", "| numbers spoken by | values | " + " | ".join(outcomes) + " |", "| --- |" + " ---: |" * 6]
    for name in (*dict.fromkeys(row["speaker"] for row in rows), "all"):
        counts = Counter(row["outcome"] for row in rows if name in (row["speaker"], "all"))
        lines.append(f"| {name} | {counts.total()} | " + " | ".join(str(counts[o]) for o in outcomes) + " |")
    return lines


def page() -> str:
    """The whole page."""
    cases, agreed, open_ = run()
    parts = [OPENING, f"{sum(cases.values())} cases, {sum(agreed.values())} agree.\n"]
    for subject in subjects():
        parts.append(facts_part(subject) + "| fact | cases | agree |\n| --- | ---: | ---: |")
        for fact in subject.facts:
            key = (subject.file, fact.name)
            parts.append(f"| {fact.sentence} | {cases[key]} | {agreed[key]} |".replace("{score}", "`{score}`"))
        if subject.file == "test_human_speech":
            parts += heard_part()
        parts.append("")
    parts.append("## Open\n")
    parts += [f"- {line}" for line in (*KNOWN, *open_)]
    return "\n".join(parts) + "\n"


def main() -> int:
    parser = argparse.ArgumentParser(description="Write the page of the outside checks.")
    parser.add_argument("--check", action="store_true", help="only compare the page's facts and sources with the tests")
    options = parser.parse_args()
    if not options.check:
        PAGE.write_text(page(), encoding="utf-8")
        return 0
    text = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""
    missing = [s.file for s in subjects() if facts_part(s) not in text or any(f.sentence not in text for f in s.facts)]
    for file in missing:
        print(f"tests/published/README.md: {file} has changed; run python scripts/published_page.py", file=sys.stderr)
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
