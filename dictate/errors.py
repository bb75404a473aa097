"""Errors that a user can cause and can mend; the command line prints them as one line."""

from __future__ import annotations


class InputError(Exception):
    """Something given from outside cannot be used.

    Args:
        what: what is wrong and, where there is a way out, what to do, in plain words.
        where: the file, row, option or setting that it is about.
    """

    def __init__(self, what: str, *, where: str = "") -> None:
        self.what = what
        self.where = where
        super().__init__(f"{where}: {what}" if where else what)
