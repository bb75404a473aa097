"""Options of `dictate exam` and `dictate microphones`. Only the standard library is imported here."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

PORT = 8740
NOTICE = "This exam is recorded. Ask for a pause at any time."


def add_parser(commands: Any) -> None:
    """The options of both commands, added to those of `dictate`."""
    exam: argparse.ArgumentParser = commands.add_parser(
        "exam", help="record an exam as it is spoken, and show the room what was understood", allow_abbrev=False
    )
    exam.add_argument("--out", type=Path, default=Path("exams"), metavar="DIR", help="where recordings and drafts go")
    exam.add_argument("--name", default="", metavar="NAME", help="name of the recording; else the day and time")
    exam.add_argument("--resume", action="store_true", help="go on with the exam that broke off (the last, or --name)")
    sound = exam.add_mutually_exclusive_group()
    sound.add_argument("--microphone", default="", metavar="NAME", help="a part of its name, or its number")
    sound.add_argument("--phone", action="store_true", help="sound from the browser of a phone or tablet in the room")
    sound.add_argument(
        "--from-file",
        metavar="FILE",
        help="a sound file played at real speed; - for a pipe of 16 bit samples, 16 kHz, mono",
    )
    exam.add_argument("--model", default="base", metavar="MODEL", help="speech model, as in `dictate draft`")
    exam.add_argument("--lexicon", type=Path, metavar="FOLDER", help="tables of your own, laid over the shipped ones")
    exam.add_argument("--wake-word", default="", metavar="WORD", help="the word before an order; else the table's")
    exam.add_argument("--speak", action="store_true", help="say aloud what is asked for, with the system's voice")
    exam.add_argument("--day-list", type=Path, metavar="CSV", help="the day list to take the patient from")
    exam.add_argument("--patient", default="", metavar="WORDS", help="name or number of the patient in the day list")
    exam.add_argument("--store", metavar="PLACE", help="the store that the draft goes into")
    exam.add_argument("--visit", type=int, metavar="NUMBER", help="the visit of the store that this exam is")
    exam.add_argument("--host", default="127.0.0.1", help="where the room display answers; 0.0.0.0 for the network")
    exam.add_argument("--port", type=int, default=PORT, help=f"its port ({PORT})")
    exam.add_argument("--host-name", action="append", default=[], metavar="NAME", help="another name of this machine")
    exam.add_argument("--certificates", type=Path, metavar="FOLDER", help="where the room's certificates are kept")
    exam.add_argument("--screen", type=float, default=0.0, metavar="INCHES", help="diagonal of the room's screen")
    exam.add_argument("--distance", type=float, default=2.0, metavar="METRES", help="from how far it is read")
    exam.add_argument("--notice", default=NOTICE, metavar="TEXT", help="what the display says about the recording")
    exam.add_argument("--no-browser", action="store_true", help="open no browser; the address is printed")
    exam.add_argument("--no-review", action="store_true", help="end with the draft; open no review")

    microphones: argparse.ArgumentParser = commands.add_parser(
        "microphones", help="list the microphones, and say whether one is fit", allow_abbrev=False
    )
    microphones.add_argument("name", nargs="?", default=None, metavar="NAME", help="try this one: speak for 5 seconds")
    microphones.add_argument("--seconds", type=float, default=5.0, help="how long it is tried")
