"""The options of `dictate store ...` and `dictate verify`. Only the standard library is imported here."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

PLACE = "DICTATE_STORE"
Commands = Any  # argparse has no public name for what add_subparsers gives


def add_parser(commands: Commands) -> None:
    """Add `store` and `verify`."""
    verify = commands.add_parser("verify", help="look whether anything that was kept was changed", allow_abbrev=False)
    _place(verify)
    verify.add_argument("--sound", action="store_true", help="hash the kept recordings too")
    verify.add_argument(
        "--head", action="append", default=[], metavar="NUMBER:HASH", help="a chain's head that must still be there"
    )
    store = commands.add_parser("store", help="keep records: people, patients, visits, backup", allow_abbrev=False)
    parts = store.add_subparsers(dest="part", required=True, metavar="WHAT", help="what to do; each has its own --help")

    def part(name: str, about: str) -> argparse.ArgumentParser:
        parser: argparse.ArgumentParser = parts.add_parser(name, help=about, description=about, allow_abbrev=False)
        _place(parser)
        return parser

    _whole(part)
    _people(part)
    _patients(part)
    _visits(part)


def _whole(part: Callable[[str, str], argparse.ArgumentParser]) -> None:
    new_key = part("make-key", "write a new key file, for a store that is encrypted")
    new_key.add_argument("file", type=Path, metavar="FILE", help="the file; keep a copy of it away from the store")
    part("make", "make a new store (with --key an encrypted one)")
    part("upgrade", "bring an older store to the present form; make a backup before")
    part("head", "print the chain's head: number and hash of its newest entry")
    backup = part("backup", "back everything up into a folder on another disk")
    backup.add_argument("folder", type=Path, metavar="FOLDER", help="the folder of backups")
    backup.add_argument("--keep", type=int, metavar="N", help="delete all but the newest N backups there")
    restore = part("restore", "make a new store from a backup, and verify it")
    drill = part("drill", "restore a backup into a folder that is thrown away, to see that it can be done")
    for parser in (restore, drill):
        parser.add_argument("file", type=Path, metavar="BACKUP", help="the .json file of a backup")
    restore.add_argument("--backup-key", type=Path, metavar="FILE", help="the backup's key file, if it is another one")
    keep = part("retention", "how long sound and words are kept; show, state or follow the rule")
    keep.add_argument("--days", type=int, metavar="N", help="state that they are kept N days after the last signature")
    keep.add_argument("--apply", action="store_true", help="erase what the rule lets go today")
    _as(keep)


def _people(part: Callable[[str, str], argparse.ArgumentParser]) -> None:
    part("people", "list the practice's people")
    add = part("add-person", "add a person; the first one is the administrator")
    change = part("change-person", "give other roles or another title, close or reopen an account")
    for parser in (add, change):
        parser.add_argument("name", metavar="NAME", help="the person's name")
        parser.add_argument("--roles", metavar="ROLES", help="reviewer, signer, administrator, with commas between")
        parser.add_argument("--title", metavar="TITLE", help="what is printed beside a signature")
        _as(parser)
    change.add_argument("--close", action="store_true", help="close the account; nothing it signed changes")
    change.add_argument("--reopen", action="store_true", help="open it again")
    password = part("set-password", "set one's own password, or as administrator another person's")
    password.add_argument("name", metavar="NAME", help="whose password")
    _as(password)
    _as(part("set-pin", "set one's own PIN, by which one signs"))


def _patients(part: Callable[[str, str], argparse.ArgumentParser]) -> None:
    find = part("patients", "list the patients that words fit: name, owner, number or microchip")
    find.add_argument("words", nargs="*", metavar="WORD", help="beginnings of words")
    add = part("add-patient", "add a patient")
    change = part("change-patient", "change what is known of a patient; the older states stay")
    add.add_argument("name", metavar="NAME", help="the patient's name")
    change.add_argument("patient", metavar="PATIENT", help="practice number, words that fit one patient, or id:N")
    change.add_argument("--name", help="another name")
    change.add_argument("--why", default="", metavar="TEXT", help="the reason of the change")
    _as(change)
    for parser in (add, change):
        parser.add_argument("--species", help="dog or cat")
        parser.add_argument("--breed", help="the breed")
        parser.add_argument("--sex", help="male or female")
        parser.add_argument("--neutered", help="yes or no")
        parser.add_argument("--born", metavar="YYYY-MM-DD", help="birth date")
        parser.add_argument("--number", help="the practice's own number of the patient")
        parser.add_argument("--microchip", help="microchip number")
        parser.add_argument("--owner", help="the owner's name")


def _visits(part: Callable[[str, str], argparse.ArgumentParser]) -> None:
    drafts = part("import", "bring drafts in, with their sound; restartable, nothing comes in twice")
    drafts.add_argument("files", type=Path, nargs="+", metavar="FILE", help="drafts: NAME.record.json")
    drafts.add_argument("--sound", type=Path, metavar="FOLDER", help="where their sound lies, if not beside them")
    drafts.add_argument("--visit", type=int, metavar="VISIT", help="the visit that the one draft is of")
    day = part("day", "the visits of a day")
    day.add_argument("date", nargs="?", metavar="YYYY-MM-DD", help="the day, today by default")
    days = part("import-day-list", "bring planned visits in from a CSV file, all rows or none")
    days.add_argument(
        "file", type=Path, metavar="FILE", help="CSV with the columns date, patient and what else is known"
    )
    waiting = part("waiting", "drafts that nobody has signed yet")
    waiting.add_argument("--limit", type=int, default=50, metavar="N", help="at most N lines")
    visits = part("visits", "the visits of a patient")
    visits.add_argument("patient", metavar="PATIENT", help="practice number, words that fit one patient, or id:N")
    visit = part("visit", "a visit: patient, state, signatures, and all that happened to it")
    consent = part("consent", "keep whether the owner consents to recording; refused, sound and words are erased")
    tell = part("tell-patient", "tell whose visit it is, while it has no patient")
    move = part("move-visit", "move a visit to another patient: signed, with the reason")
    for parser in (visit, consent, tell, move):
        parser.add_argument("visit", type=int, metavar="VISIT", help="number of the visit")
    consent.add_argument("answer", choices=("given", "refused"), help="the answer")
    for parser in (tell, move):
        parser.add_argument("patient", metavar="PATIENT", help="practice number, words that fit one patient, or id:N")
    for parser in (consent, tell, move):
        parser.add_argument("--why", default="", metavar="TEXT", help="the reason")
        _as(parser)
    join = part("join-planned", "a drafted visit is the planned one: take its patient, time and consent over")
    join.add_argument("visit", type=int, metavar="VISIT", help="number of the drafted visit")
    join.add_argument("planned", type=int, metavar="PLANNED", help="number of the planned visit")
    _as(join)
    search = part("search", "visits by patient, day, site and finding")
    search.add_argument("--patient", default="", metavar="WORDS", help="words of the patient's name, owner or number")
    search.add_argument("--since", metavar="YYYY-MM-DD", help="first day")
    search.add_argument("--until", metavar="YYYY-MM-DD", help="last day")
    search.add_argument("--site", default="", help="name of a site; its abnormal observations count")
    search.add_argument("--finding", default="", help="name of a finding that is present")
    search.add_argument("--limit", type=int, default=50, metavar="N", help="at most N visits")


def _place(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--store",
        default=os.environ.get(PLACE),
        metavar="PLACE",
        help=f"a folder, or postgresql://USER@HOST/DATABASE?sound=FOLDER; else ${PLACE}",
    )
    parser.add_argument(
        "--key", type=Path, metavar="FILE", help="key file of an encrypted store; else $DICTATE_STORE_KEY"
    )


def _as(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--as", dest="acting", metavar="NAME", help="who does it; the password is asked for")
