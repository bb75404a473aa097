"""The options of `dictate export`. Only the standard library is imported here."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

FORMS = "text, html, pdf, owner-pdf, anaesthesia-pdf (and -text, -html), fhir, csv, parquet"


def add_parser(commands: Any) -> None:
    """Add the command and its options."""
    parser: ArgumentParser = commands.add_parser("export", help="hand records on in another form", allow_abbrev=False)
    parser.add_argument("files", type=Path, nargs="*", metavar="FILE", help="records (NAME.record.json)")
    parser.add_argument("--as", dest="kind", required=True, metavar="FORM", help=FORMS)
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="the folder that exports are written to")
    parser.add_argument("--store", metavar="PLACE", help="take visits from this store instead of files")
    parser.add_argument(
        "--visit", type=int, action="append", metavar="NUMBER", help="a visit of the store (repeatable)"
    )
    parser.add_argument("--since", type=date.fromisoformat, metavar="DAY", help="visits from this day on (2026-05-04)")
    parser.add_argument("--until", type=date.fromisoformat, metavar="DAY", help="visits up to this day")
    parser.add_argument("--practice", default="", metavar="NAME", help="printed at the top of text, pages and PDF")
    parser.add_argument("--lexicon", type=Path, metavar="FOLDER", help="tables of your own, laid over the shipped ones")
