"""Canonical JSON and the hashes over it.

Keys are sorted, there are no blanks, text is UTF-8, numbers are written as Python writes them (a fraction of .0 stays).
Hashes are over the text as it is kept, so another program can check them without writing JSON itself.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

Plain = (
    str | int | None
)  # what a column of the store may hold; no fractions, so that every database gives back the same

_encoder = json.JSONEncoder(sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def canonical(value: Any) -> str:
    """A JSON value in that form. Raises ValueError for NaN and infinities, TypeError for what is no JSON value."""
    return _encoder.encode(value)


def sha256(text: str) -> str:
    """The SHA-256 of a text's UTF-8 bytes, in hexadecimal digits. Half a surrogate pair counts as what it is."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
