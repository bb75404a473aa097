"""Commands and options. Only the standard library is imported here."""

from __future__ import annotations

import argparse
from pathlib import Path

from dictate import __version__
from dictate.cli import compare, convert_arguments, exam_arguments, export_arguments, review, store_arguments
from dictate.cli.way_arguments import add_ways

ABOUT = """A spoken veterinary exam becomes a drafted record, on this machine alone.
A draft is no record until a licensed veterinarian has reviewed and signed it."""


def make_parser() -> argparse.ArgumentParser:
    """The parser of `dictate`; `command` names the command, the other attributes are its options."""
    parser = argparse.ArgumentParser(
        prog="dictate", description=ABOUT, formatter_class=argparse.RawDescriptionHelpFormatter, allow_abbrev=False
    )
    parser.add_argument("--version", action="version", version=f"dictate {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    draft = commands.add_parser("draft", help="draft a record from each sound or text file", allow_abbrev=False)
    _files_and_out(draft, "sound files of any usual kind, or talks written down (.txt)")
    _lexicon(draft)
    _model(draft)

    transcribe = commands.add_parser("transcribe", help="write down the words of each sound file", allow_abbrev=False)
    _files_and_out(transcribe, "sound files of any usual kind")
    transcribe.add_argument("--readings", action="store_true", help="print what else each unsure word may be")
    _lexicon(transcribe)
    _model(transcribe)

    explain = commands.add_parser("explain", help="show how a talk was read, clause by clause", allow_abbrev=False)
    explain.add_argument("file", type=Path, metavar="FILE", help="a sound file, or a talk written down (.txt)")
    _lexicon(explain)
    _model(explain)

    commands.add_parser("schema", help="print the JSON Schema of a drafted record", allow_abbrev=False)

    lexicon = commands.add_parser("lexicon", help="check and list the tables of words", allow_abbrev=False)
    lexicon.add_argument("--sources", action="store_true", help="list the published sources that the tables name")
    _lexicon(lexicon)
    convert_arguments.add_parser(commands)
    review.add_parser(commands)
    compare.add_parser(commands)
    export_arguments.add_parser(commands)
    store_arguments.add_parser(commands)
    exam_arguments.add_parser(commands)
    return parser


def _files_and_out(parser: argparse.ArgumentParser, kinds: str) -> None:
    parser.add_argument("files", type=Path, nargs="+", metavar="FILE", help=kinds)
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="the folder that results are written to")


def _lexicon(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--lexicon", type=Path, metavar="FOLDER", help="tables of your own, laid over the shipped ones")


def _model(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--model",
        default="base",
        metavar="MODEL",
        help="speech model: base (shipped), tiny.en (shipped, faster, poorer), or a folder with a larger one",
    )
    parser.add_argument(
        "--plain-model",
        action="store_true",
        dest="plain",
        help="the shipped model as packaged, without what it was taught of the trade",
    )
    add_ways(parser)
