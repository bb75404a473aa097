"""The trade words that the recogniser is given as a hint, from the lexicon's list of them.

Measured with the shipped model on four narrations for work (g1_03, g4_05, h1_02, r0_04), spoken by flite's slt and
piper's joe, 27 minutes in all, clean and with room noise at 10 dB; trade words are the 160 (each way) that stand in
the names of sites and findings:

    hint                         words wrong, clean / noisy    left out       trade words right, clean / noisy
    none                         15.7 % / 35.4 %               15 / 36        68 % / 48 %
    a short list (the shipped)   15.3 % / 34.1 %               20 / 51        73 % / 54 %
    46 words                     15.6 % / 34.5 %               18 / 92        74 % / 55 %
    all names of sites           18.2 % / 48.5 %               36 / 305       73 % / 53 %
    a prompt of three sentences  17.5 % / 36.4 %               43 / 80        69 % / 53 %

So the hint is short. A chunk in which it leaves over a second of speech without words is heard again without it; on
these narrations that changed next to nothing (noisy 34.4 %), it is there for worse ones. `scripts/measure_words.py`
repeats such figures. In 12 recordings of small talk by three voices, clean to fan noise 5 dB above the voice,
a hint of 46 words put not one of them into the text.
"""

from __future__ import annotations

import hashlib
import tomllib
from pathlib import Path

import dictate
from dictate.errors import InputError

TABLE = Path(dictate.__file__).parent / "lexicon" / "heard_words.toml"


def hint_words(table: Path = TABLE) -> str:
    """The list's introduction and words as one line, "...: cornea, sclera, ..."; empty where there is no such file.

    Whisper takes in about 220 tokens of it; what is beyond is cut off by the library.

    Raises:
        InputError: the file cannot be read, or holds no list of texts named `words`.
    """
    if not table.exists():
        return ""
    try:
        value = tomllib.loads(table.read_text(encoding="utf-8"))
    except (OSError, ValueError) as e:
        raise InputError(f"the list of words cannot be read ({e})", where=str(table)) from None
    words, introduction = value.get("words"), value.get("introduction", "")
    if not isinstance(words, list) or not all(isinstance(w, str) for w in words) or not isinstance(introduction, str):
        raise InputError('wanted a list of texts named "words", and a text "introduction" or none', where=str(table))
    return f"{introduction} {', '.join(words)}.".strip() if words else ""


def named(text: str) -> str:
    """A short name for a long hint, for the settings that a draft carries: how many words, and a sum of the text."""
    if not text:
        return "none"
    return f"{len(text.split())} words, {hashlib.sha256(text.encode()).hexdigest()[:12]}"
