#!/usr/bin/env python3
"""Measure the language step on text and write the figures into README.md, between its two FIGURES TEXT comments.

    python scripts/refresh_figures.py              measure, check against score_drafts.py, write
    python scripts/refresh_figures.py --dry        the same, printed and not written
    python scripts/refresh_figures.py --no-speed   without time and memory, which want a quiet machine

Held narrations are scored in total only.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator

from compare_readers import figures
from drafted import ASK, HERE, READERS, drafted
from parts import Part
from report_doubts import Total, calibration, collect, is_asked
from scoring import share

README = HERE.parent / "README.md"
BLOCK = re.compile(r"<!-- FIGURES TEXT\b[^>]*-->(?:.*?<!-- END OF FIGURES TEXT -->)?", re.DOTALL)
OPENS = "<!-- FIGURES TEXT: what stands up to the next such comment is written by scripts/refresh_figures.py -->"
CLOSES = "<!-- END OF FIGURES TEXT -->"
MEASURED: tuple[Part, ...] = ("held", "choosing")
TITLES = {"both": "both readers", "rules": "rules alone", "second": "second reader alone"}
THRESHOLDS = sorted({0.6, 0.7, 0.8, 0.9, 0.95, ASK})


def measured(part: Part) -> tuple[dict[str, Counter], Total]:
    """The counts of every way to read a part, and its doubts as shipped."""
    shipped = list(drafted(part))
    counts = {"both": figures(shipped), "both, plain": figures(drafted(part, bare=True))}
    for reader in READERS:
        if reader != "both":
            counts[reader] = figures(drafted(part, reader=reader))
    return counts, collect(shipped)


def check(part: Part, counts: dict[str, Counter]) -> None:
    """Stop where `score_drafts.py` counts something else."""
    for name, more in (("both", []), ("both, plain", ["--plain"])):
        command = [sys.executable, str(HERE / "score_drafts.py"), "--part", part, "--json", *more]
        done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
        theirs = Counter(json.loads(done.stdout.splitlines()[-1])[part])
        ours = counts[name]
        differ = [key for key in theirs | ours if not key.endswith("critical") and theirs[key] != ours[key]]
        if differ:
            told = ", ".join(f"{key} {theirs[key]} and {ours[key]}" for key in differ)
            raise SystemExit(f"{part}, {name}: score_drafts.py and this count differently: {told}")


def figures_table(found: dict[Part, tuple[dict[str, Counter], Total]]) -> Iterator[str]:
    yield (
        "| narrations as text | placed | exact | precision | invented, per exam | unseen, per exam | flagged "
        "| burden, per exam | critical, per exam | patient | sections |"
    )
    yield "| --- " * 11 + "|"
    for part, (counts, _) in found.items():
        for name in ("both", "both, plain", "rules", "second"):
            c = counts[name]
            exams = max(1, c["exams"])
            title = TITLES[name.removesuffix(", plain")]
            if name.endswith("plain"):
                title += ", without punctuation and capitals"
            unseen = (c["silent"] + c["silent_inexact"] + c["lost"]) / exams
            cells = (
                f"{part} ({c['exams']}), {title}",
                share(c["placed"], c["facts"]),
                share(c["exact"], c["facts"]),
                share(c["borne_out"], c["observations"]),
                f"{c['invented'] / exams:.2f}",
                f"{unseen:.2f}",
                f"{c['flagged']}/{c['review']}",
                f"{c['doubts'] / exams:.1f}",
                f"{c['critical'] / exams:.2f}",
                share(c["patient_kept"], c["patient_told"]),
                share(c["other_kept"], c["other_told"]),
            )
            yield f"| {' | '.join(cells)} |"


def doubts_table(found: dict[Part, tuple[dict[str, Counter], Total]]) -> Iterator[str]:
    heads = [f"{part}: {what}" for part in found for what in ("asked, per exam", "wrong among the rest")]
    yield f"| asked below a probability of | {' | '.join(heads)} |"
    yield "| --- " * (1 + len(heads)) + "|"
    for threshold in THRESHOLDS:
        cells = []
        for _, total in found.values():
            rest = [j for j in total.judged if not is_asked(j, threshold)]
            cells.append(f"{(len(total.judged) - len(rest)) / total.exams:.1f}")
            cells.append(share(sum(j.wrong for j in rest), len(rest)))
        yield f"| {threshold:g}{' (shipped)' if threshold == ASK else ''} | {' | '.join(cells)} |"


def speed() -> str:
    """Time and memory in a sentence, from `bench_language.py` in a process of its own."""
    command = [sys.executable, str(HERE / "bench_language.py"), "--json"]
    ways = json.loads(subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True).stdout)["ways"]
    read, bare = ways["read"], ways["spaCy"]
    return (
        f"Reading a text of 300 words takes {read['clock']:.2f} s on one core"
        f" ({read['processor']:.2f} s of processor time, {read['processor'] / bare['processor']:.1f} times the bare"
        f" spaCy pipeline's, on which the step builds) and {read['peak']:.0f} MB of memory at its peak"
        f" ({read['peak'] / bare['peak']:.1f} times), the second reader included"
        " (`scripts/bench_language.py`, `--long` for longer texts)."
    )


def block(found: dict[Part, tuple[dict[str, Counter], Total]], timing: str) -> str:
    errors = ", ".join(f"{calibration(total.judged)[0]:.3f} on the {part} part" for part, (_, total) in found.items())
    struck = " and ".join(
        f"in {counts['both']['exams_critical']} of {counts['both']['exams']} {part} exams"
        for part, (counts, _) in found.items()
    )
    parts = [
        OPENS,
        "\n".join(figures_table(found)),
        "Rules and second reader read every talk together; read by one of them alone it shows what each is worth"
        " (`scripts/compare_readers.py --part held`, `--part choosing`; `--plain` for a text without punctuation and"
        " capitals). The first two rows of each part are those of `scripts/score_drafts.py --part all` (`--plain`)."
        " Critical: a wrong side, site, value, unit or tooth, or an absence for a presence or the other way round,"
        f" with no doubt to warn of it; there are some {struck} (`scripts/list_critical.py`).",
        "\n".join(doubts_table(found)),
        f"An observation is asked about where its probability is below {ASK:g} or another doubt stands at it. The"
        f" expected calibration error of the probabilities is {errors} (`scripts/report_doubts.py --part held`: curve,"
        " calibration, and which kinds of doubt make the burden).",
    ]
    return "\n\n".join([*parts, *([timing] if timing else []), CLOSES])


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--dry", action="store_true", help="print the figures and leave README.md as it is")
    ap.add_argument("--no-speed", action="store_true", help="without time and memory")
    a = ap.parse_args()
    found = {part: measured(part) for part in MEASURED}
    for part, (counts, _) in found.items():
        check(part, counts)
    text = block(found, "" if a.no_speed else speed())
    print(text)
    if not a.dry:
        old = README.read_text(encoding="utf-8")
        if len(BLOCK.findall(old)) != 1:
            raise SystemExit(f"{README}: needs one FIGURES TEXT comment")
        README.write_text(BLOCK.sub(lambda _: text, old), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
