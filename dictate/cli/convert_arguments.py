"""The options of `dictate convert`. Only the standard library is imported here."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from dictate.cli.way_arguments import add_ways


def add_parser(commands: Any) -> argparse.ArgumentParser:
    """The command and its options."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "convert", help="draft records from a whole folder of recordings, unattended", allow_abbrev=False
    )
    parser.add_argument("folder", metavar="FOLDER", help="a folder with sound and video files, or an fsspec address")
    parser.add_argument(
        "--out", type=Path, required=True, metavar="DIR", help="the folder of the drafts and drafts.csv"
    )
    parser.add_argument("--store", metavar="URL", help="put the drafts into this store, too")
    parser.add_argument("--join", action="store_true", help="join files of one exam where names or times say so")
    parser.add_argument("--watch", action="store_true", help="go on as files arrive, until Ctrl-C")
    parser.add_argument("--json", action="store_true", help="progress as lines of JSON on the output")
    parser.add_argument("--cluster", metavar="ADDRESS", help="let the workers of this Dask scheduler do the work")
    parser.add_argument(
        "--allow",
        action="append",
        default=[],
        metavar="HOST",
        help="another machine that recordings may go to or come from",
    )
    parser.add_argument("--processes", type=int, metavar="N", help="processes on this machine (default: what suits it)")
    add_ways(parser)
    parser.add_argument("--lexicon", type=Path, metavar="FOLDER", help="tables of your own, laid over the shipped ones")
    parser.add_argument("--model", default="base", metavar="MODEL", help="speech model, as `dictate draft` takes it")
    parser.add_argument("--plain-model", action="store_true", dest="plain", help="the shipped model as packaged")
    return parser
