"""What the parts of `dictate store` share: which store, who acts, and secrets, which are asked for, never options."""

from __future__ import annotations

import getpass
import sys
from argparse import Namespace

from dictate import store as s
from dictate.cli.store_arguments import PLACE
from dictate.errors import InputError


def place(options: Namespace) -> str:
    """The store that was named. InputError where none was."""
    if not options.store:
        raise InputError(f"name the store with --store, or set {PLACE} in the environment")
    return str(options.store)


def opened(options: Namespace) -> s.Store:
    return s.open_store(place(options), key=options.key)


def ask(what: str) -> str:
    """A secret: typed without being shown, or one line of what is piped in. InputError where nothing comes."""
    if sys.stdin.isatty():
        return getpass.getpass(f"{what}: ")
    line = sys.stdin.readline()
    if not line:
        raise InputError("is asked for on the terminal, or as a line of the input", where=what)
    return line.rstrip("\n")


def acting(store: s.Store, options: Namespace) -> s.Account:
    """Who does it, proved by their password. InputError where nobody was named."""
    if not options.acting:
        raise InputError("say who does this: --as NAME")
    return s.log_in(store, options.acting, ask(f"password of {options.acting}"))


def one_patient(store: s.Store, text: str) -> s.Patient:
    """The patient of a practice number, of `id:N`, or of words that fit no other. InputError where they do not."""
    if text.startswith("id:") and text[3:].isdigit():
        return s.patient(store, int(text[3:]))
    found = s.find_patients(store, text, limit=6)
    exact = [p for p in found if p.facts.practice_number == text.strip()]
    if len(exact or found) == 1:
        return (exact or list(found))[0]
    if not found:
        raise InputError("there is no such patient", where=text)
    several = "; ".join(f"id:{p.id} {p}" for p in found)
    raise InputError(f"several patients fit: {several}", where=text)
