"""Short texts that people type: cleaned, bounded, and folded for finding them again."""

from __future__ import annotations

import re
import unicodedata
from datetime import date

from dictate.errors import InputError

UNSEEN = re.compile(r"[\x00-\x1f\x7f-\x9f\u200b\u200e\u200f\u202a-\u202e\u2060-\u2069\ufeff\ud800-\udfff]")


def clean(text: str, *, what: str, longest: int = 200, needed: bool = False) -> str:
    """The text on one line, in Unicode's composed form. InputError where it is too long, empty though needed, or holds
    control characters or signs that turn the direction of writing round."""
    shown = " ".join(unicodedata.normalize("NFC", text).split())
    if UNSEEN.search(shown):
        raise InputError("holds characters that cannot be seen", where=what)
    if len(shown) > longest:
        raise InputError(f"is longer than {longest} characters", where=what)
    if needed and not shown:
        raise InputError("is missing", where=what)
    return shown


def folded(text: str) -> str:
    """The text without case, accents and punctuation: what is compared when names are looked for."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return " ".join(re.sub(r"[^\w\s]", " ", plain.casefold()).split())


def read_date(text: str, *, what: str) -> date:
    """A date as YYYY-MM-DD. InputError for any other text."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise InputError(f"{text.strip()[:40]!r} is no date; wanted YYYY-MM-DD", where=what) from None


def read_time(text: str, *, what: str) -> str:
    """A time of day as HH:MM, or "" for an empty text. InputError for any other."""
    shown = text.strip()
    if shown and not re.fullmatch(r"([01]?\d|2[0-3]):[0-5]\d", shown):
        raise InputError(f"{shown[:40]!r} is no time of day; wanted HH:MM", where=what)
    return shown.rjust(5, "0") if shown else ""
