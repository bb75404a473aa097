"""`dictate review`: a draft's doubts settled by a person, in the browser or in the terminal."""

from __future__ import annotations

import argparse
import getpass
import sys
from argparse import Namespace
from pathlib import Path
from typing import Any

from dictate.errors import InputError

HELP = "review drafts: what is doubtful first, then the whole record"


def add_parser(commands: Any) -> None:
    """The options of this command, added to those of `dictate`."""
    parser: argparse.ArgumentParser = commands.add_parser("review", help=HELP, allow_abbrev=False)
    parser.add_argument("files", type=Path, nargs="*", metavar="FILE", help="drafted records (NAME.record.json)")
    parser.add_argument("--terminal", action="store_true", help="review in this terminal; decisions lie beside FILE")
    parser.add_argument("--by", metavar="NAME", default="", help="who reviews (with --terminal; else your user name)")
    parser.add_argument("--sound", type=Path, metavar="FOLDER", help="where the recordings lie (with --terminal)")
    parser.add_argument("--store", metavar="PLACE", help="the store that the pages show: a folder, or a database's URL")
    parser.add_argument("--host", default="127.0.0.1", help="the address to answer at; another needs a certificate")
    parser.add_argument("--port", type=int, default=0, help="the port to answer at; a free one if none is given")
    parser.add_argument("--certificate", type=Path, metavar="FILE", help="TLS certificate, for a network")
    parser.add_argument("--key", type=Path, metavar="FILE", help="its private key")
    parser.add_argument(
        "--name", action="append", default=[], metavar="HOST", help="a host name to answer to; repeatable"
    )
    parser.add_argument("--practice", default="", metavar="NAME", help="the practice's name, shown on the pages")
    parser.add_argument("--no-browser", action="store_true", help="open no browser; the address is printed")
    parser.add_argument("--lexicon", type=Path, metavar="FOLDER", help="tables of your own, laid over the shipped ones")


def run(options: Namespace) -> int:
    """Review in the terminal, or serve the pages; the exit status."""
    if options.terminal:
        return review_in_terminal(options)
    from dictate.web import serve

    return serve(
        tuple(options.files),
        store=options.store,
        lexicon=options.lexicon,
        host=options.host,
        port=options.port,
        certificate=options.certificate,
        key=options.key,
        names=tuple(options.name),
        practice=options.practice,
        open_browser=not options.no_browser,
    )


def review_in_terminal(options: Namespace) -> int:
    """Each file in turn. 0: nothing is open any more; 1: something is, in at least one of them."""
    if not options.files:
        raise InputError("name the drafted records to review (NAME.record.json)", where="dictate review --terminal")
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise InputError("this needs a terminal to type in", where="dictate review --terminal")
    from dictate.cli import DONE, SOME_FAILED, say
    from dictate.cli.steps import read
    from dictate.lexicon import load
    from dictate.review import blocks, load_review
    from dictate.review.terminal.desk import Desk
    from dictate.review.terminal.playing import find_sound
    from dictate.review.terminal.screen import Screen
    from dictate.review.terminal.sitting import sit

    lexicon = load(options.lexicon)
    reviews = [load_review(file) for file in options.files]
    status = DONE
    for review in reviews:
        folders = [f for f in (options.sound, review.file.parent) if f is not None]
        desk = Desk(
            review=review,
            screen=Screen(),
            lexicon=lexicon,
            by=options.by.strip() or getpass.getuser(),
            read=read,
            sound=find_sound(review.draft, folders),
        )
        if not sit(desk, own_words=options.lexicon):
            left = len(blocks(desk.record))
            say(f"dictate: {review.file}: {left} open; what was decided stands in {desk.review.place}")
            status = SOME_FAILED
        else:
            say(f"dictate: {review.file}: nothing is open; the decisions stand in {desk.review.place}")
    return status
