"""Text from outside (names, notes, heard words) made harmless for the forms that a record is handed on in."""

from __future__ import annotations

import re
import unicodedata

# Characters that show nothing and can hide or turn round what stands beside them: controls, marks that change the
# direction of writing, lone halves of characters, the byte order mark.
HIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2060\u2066-\u2069\ufeff\ufff9-\ufffb\ud800-\udfff]+"
)
# A cell that begins with one of these is run as a formula by some spreadsheet.
# Source: OWASP, "CSV Injection" (https://owasp.org/www-community/attacks/CSV_Injection), from memory.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "|", "%")
NOT_IN_NAMES = re.compile(r"[^A-Za-z0-9]+")


def clean(text: str) -> str:
    """`text` in one line: hidden characters and runs of white space are one space, none at the ends."""
    return " ".join(HIDDEN.sub(" ", text).split())


def cell(text: str) -> str:
    """`text` as a spreadsheet shows it and never runs it: a leading sign of a formula gets an apostrophe before it."""
    text = clean(text)
    return f"'{text}" if text.startswith(FORMULA) else text


def for_file_name(text: str) -> str:
    """Letters and digits of `text` for a file's name, at most 40, joined by "-"; "" where it has none."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return NOT_IN_NAMES.sub("-", plain)[:40].strip("-")
