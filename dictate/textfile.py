"""A talk given as a text file: its bytes read as text, or one clear line that says why they cannot be."""

from __future__ import annotations

import codecs
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from dictate.errors import InputError
from dictate.lexicon.tables import Lexicon
from dictate.speech.words import Transcript
from dictate.usual_words import usual_words

MOST_BYTES = 20_000_000
MOST_WORDS = 60_000  # some six hours of talk without a pause; no exam is longer
LEAST_SHARE = 0.5  # of words that are known as English; below it a text is taken for another language
FEWEST_WORDS = 8
CONTROL = re.compile(r"[\x00-\x08\x0e-\x1a\x1c-\x1f]")
MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


@dataclass(frozen=True, slots=True)
class TextFile:
    """The text of a file and what a reader must know of how it was read."""

    transcript: Transcript
    notes: tuple[str, ...] = ()


def read_text_file(file: Path) -> TextFile:
    """The talk in `file`, with line ends as "\\n".

    UTF-8 (with or without a mark) and marked UTF-16 are read as such; other bytes as Windows-1252, and a note says so.

    Raises:
        InputError: the file cannot be read, is empty, too long, or holds no text.
    """
    content = read_bytes(file)
    if not content:
        raise InputError("the file is empty (zero bytes)", where=str(file))
    text, notes = decode(content, where=str(file))
    if CONTROL.search(text):
        raise InputError("the file holds binary content and is no text", where=str(file))
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    words = len(text.split())
    if not any(c.isalnum() for c in text):
        raise InputError("the file holds no words", where=str(file))
    if words > MOST_WORDS:
        raise InputError(
            f"{words:,} words are more than any exam has (limit {MOST_WORDS:,}); split the file", where=str(file)
        )
    return TextFile(Transcript((), text, hashlib.sha256(content).hexdigest()), notes)


def read_bytes(file: Path) -> bytes:
    """The bytes of `file`; InputError where there is none, it is a folder, cannot be read, or is far too large."""
    try:
        if file.is_dir():
            raise InputError("this is a folder; name the files in it", where=str(file))
        if file.stat().st_size > MOST_BYTES:
            raise InputError(f"more than {MOST_BYTES // 1_000_000} MB are no text of an exam", where=str(file))
        return file.read_bytes()
    except FileNotFoundError:
        raise InputError("there is no such file", where=str(file)) from None
    except OSError as error:
        raise InputError(f"the file cannot be read ({error.strerror})", where=str(file)) from None


def decode(content: bytes, *, where: str) -> tuple[str, tuple[str, ...]]:
    """The text of these bytes, and a note where its encoding had to be guessed. InputError where a mark is belied."""
    for mark, encoding in MARKS:
        if content.startswith(mark):
            try:
                return content.decode(encoding), ()
            except UnicodeDecodeError:
                raise InputError(
                    f"the file is marked as {encoding} but is not valid; save it anew", where=where
                ) from None
    try:
        return content.decode("utf-8"), ()
    except UnicodeDecodeError:
        note = "The text is not UTF-8; it was read as Windows-1252 (Latin-1)."
        try:
            return content.decode("cp1252"), (note,)
        except UnicodeDecodeError:
            return content.decode("latin-1"), (note,)


def check_english(text: str, lexicon: Lexicon, *, where: str) -> None:
    """Raise InputError for a text that does not read as English.

    Counted is the share of words that are English function words or stand in the lexicon. In the project's narrations
    it is 0.78 at the least, in German, French, Spanish and Dutch talk 0.32 at the most. A few words say too little.
    """
    letters = [c for c in text if c.isalpha()]
    words = re.findall(r"[^\W\d_]+(?:'[^\W\d_]+)?", text.lower().replace("’", "'"))
    known = usual_words(lexicon)
    foreign_script = sum(c.isascii() for c in letters) < len(letters) / 2
    too_few = len(words) >= FEWEST_WORDS and sum(w in known for w in words) < LEAST_SHARE * len(words)
    if foreign_script or too_few:
        raise InputError("the text does not read as English; only English talk can be drafted", where=where)
