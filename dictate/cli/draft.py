"""`dictate draft`: a record and a readable page for each file."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import Any

from dictate.cli.batch import Within, run_over
from dictate.cli.steps import steps_for
from dictate.draft import draft, hear
from dictate.exam.page import page
from dictate.exam.record import Record, is_untouched, to_json
from dictate.files import check_writable, find_place, write
from dictate.lexicon import Lexicon, load


def run(options: Namespace) -> int:
    """Draft every file into the folder; the exit status. The lexicon and the folder are checked before any work."""
    lexicon = load(options.lexicon)
    check_writable(options.out)

    def work(file: Path, within: Within) -> str:
        steps = steps_for(options.model, plain=options.plain, way=options.way, lexicon=options.lexicon, within=within)
        heard = hear(file, lexicon, listen=steps.listen)
        return write_draft(draft(heard, lexicon, steps=steps), lexicon, folder=options.out, stem=file.stem)

    return run_over(options.files, work)


def write_draft(record: Record, lexicon: Lexicon, *, folder: Path, stem: str) -> str:
    """Write NAME.record.json and NAME.record.txt; what the user must be told about their place, or "".

    A draft beside which a review lies (NAME.review.json) is kept: its decisions are about this very draft. The page is
    written first: where the record stands, its page stands too.
    """
    place = find_place(
        folder, stem, record.source.sha256, ending=".record.json", hash_of=source_hash, may_replace=is_untouched
    )
    if place.kept or place.file(".review.json").exists():
        return f"{place.file('.record.json')}: was reviewed or changed since it was drafted; it is kept as it is"
    write(place.file(".record.txt"), page(record, lexicon))
    write(place.file(".record.json"), to_json(record))
    return place.note


def source_hash(data: Any) -> str | None:
    """The hash of the source that a written record was drafted from; None where the file is no such record."""
    source = data.get("source") if isinstance(data, dict) else None
    return source.get("sha256") if isinstance(source, dict) else None
