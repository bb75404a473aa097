"""`dictate compare`: this visit beside the earlier ones."""

from __future__ import annotations

import argparse
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dictate.errors import InputError

if TYPE_CHECKING:
    from dictate.exam.record import Record

HELP = "compare the visits of a patient: what is new, gone, changed or the same, and values over time"


def add_parser(commands: Any) -> None:
    """The options of this command, added to those of `dictate`."""
    parser: argparse.ArgumentParser = commands.add_parser("compare", help=HELP, allow_abbrev=False)
    parser.add_argument(
        "patient",
        nargs="+",
        metavar="PATIENT",
        help="with --store the patient's name, practice number or microchip; without it the records of the visits "
        "(NAME.record.json, with the decisions beside them), in any order",
    )
    parser.add_argument("--store", metavar="PLACE", help="the store to look in: a folder, or a database's URL")
    parser.add_argument("--lexicon", type=Path, metavar="FOLDER", help="tables of your own, laid over the shipped ones")


def run(options: Namespace) -> int:
    """Print the comparison."""
    from dictate.lexicon import load
    from dictate.review.comparing import compare
    from dictate.review.comparing_text import comparison_text

    visits = _of_store(options) if options.store else _of_files(options.patient)
    print(comparison_text(compare(visits, load(options.lexicon))), end="")
    return 0


def _of_store(options: Namespace) -> Sequence[Record]:
    from dictate import store

    return store.records_of(options.store, " ".join(options.patient))


def _of_files(names: Sequence[str]) -> Sequence[Record]:
    """The records of files, oldest first. InputError where one is missing, or where they tell different patients."""
    from dictate.review.comparing import visit_time
    from dictate.review.files import load_review

    missing = next((name for name in names if not Path(name).is_file()), None)
    if missing is not None:
        raise InputError("there is no such file; to look a patient up, name the store (--store)", where=missing)
    visits = sorted((load_review(Path(name)).record for name in names), key=visit_time)
    told = {v.patient.name.casefold() for v in visits if v.patient.name}
    if len(told) > 1:
        raise InputError(f"these are different patients ({', '.join(sorted(told))})", where="dictate compare")
    return visits
