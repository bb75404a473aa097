"""Exam values out of numbers that real people recorded: the sounds, the values that are joined of them, the exams.

The numbers are spoken by people: three speakers of the Free Spoken Digit Dataset (single digits, 8 kHz) and the
professional speaker of Asterisk's core sounds in American English (Debian package asterisk-core-sounds-en-wav). Neither
says a word of the trade: the sound holds the numbers of one exam, one after another, and the words around them are
written. (A synthetic voice between the numbers will not do: the recogniser passes over the second speaker.)
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from speak_narrations import seed_of
from voices import RATE, Samples, active_level

from dictate.sound import decode

ROOT = Path(__file__).resolve().parents[1]
DIGITS = Path(os.environ.get("DICTATE_DIGITS", ROOT.parent / "shared" / "published" / "spoken_digits"))
NUMBERS = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
DIGIT_SPEAKERS = ("george", "jackson", "lucas")
NUMBER_SPEAKER = "allison"
SPEAKERS = (*DIGIT_SPEAKERS, NUMBER_SPEAKER)
OPENING, CLOSING = "This is Bramble, a dog.", "Ears clean."
RECORDED_FLOOR = 3e-4  # recordings have noise of their own
LEVEL = -23.0  # dB, the level to which every piece is brought
PAUSE = 2.0  # seconds between two numbers; the recordings of one number follow each other at once


@dataclass(frozen=True, slots=True)
class Value:
    """One exam value: words before the number, the recordings of the number, words after it, what must be recorded.

    `words` is the number as the recordings say it, `site` and `finding` where it belongs, `number` and `unit` the
    value; a tooth or a grade is told as text in `told`.
    """

    before: str
    pieces: tuple[str, ...]
    after: str
    words: str
    site: str
    finding: str | None = None
    number: float | None = None
    unit: str | None = None
    told: str = ""


TEENS = ("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen")
ONES = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
TEETH = (104, 105, 106, 107, 108, 109, 203, 204, 206, 207, 208, 209, 304, 305, 307, 308, 309, 401, 404, 407, 408, 409)


def missing(speaker: str) -> str:
    """Why this speaker's recordings cannot be used here, or an empty text."""
    if speaker in DIGIT_SPEAKERS:
        return "" if any(DIGITS.glob(f"*_{speaker}_*.wav")) else f"the spoken digits are not in {DIGITS}"
    if (NUMBERS / "digits" / "hundred.wav").exists():
        return ""
    return "the system's package asterisk-core-sounds-en-wav is not installed"


def digits_of(number: int) -> tuple[tuple[str, ...], str]:
    """A number digit by digit: its recordings and its words."""
    figures = str(number)
    return tuple(figures), " ".join(ONES[int(f)] for f in figures)


def spelled(number: int, *, oh: bool = False) -> tuple[tuple[str, ...], str]:
    """A number below 1000 as the recordings of numbers say it: "one hundred twenty eight"; "one oh four" with `oh`."""
    hundreds, rest = divmod(number, 100)
    if oh and hundreds and rest < 10:
        return (str(hundreds), "oh", str(rest)), f"{ONES[hundreds]} oh {ONES[rest]}"
    pieces: list[str] = []
    words: list[str] = []
    if hundreds:
        pieces, words = [str(hundreds), "hundred"], [ONES[hundreds], "hundred"]
    if rest >= 20:
        pieces.append(str(rest // 10 * 10))
        words.append(TENS[rest // 10 - 2])
        rest %= 10
        if not rest:
            return tuple(pieces), " ".join(words)
    if rest >= 10:
        pieces.append(str(rest))
        words.append(TEENS[rest - 10])
    elif rest or not pieces:
        pieces.append(str(rest))
        words.append(ONES[rest])
    return tuple(pieces), " ".join(words)


def values(speaker: str, exam: int) -> tuple[Value, ...]:
    """The values of one speaker's exam of this number; the same each time."""
    rng = np.random.default_rng(seed_of(speaker, str(exam)))
    teeth = [int(t) for t in rng.choice(TEETH, 2, replace=False)]
    small = [int(n) for n in rng.integers(1, 10, 3)]
    if speaker in DIGIT_SPEAKERS:
        heart, pressure = (int(n) for n in rng.integers(102, 180, 2))
        say = digits_of
        rest: tuple[Value, ...] = ()
    else:
        heart, pressure = int(rng.integers(61, 180)), int(rng.integers(100, 190))

        def say(number: int) -> tuple[tuple[str, ...], str]:
            return spelled(number, oh=number > 100 and number % 100 < 10)

        breaths, kilos, tears, fever = (
            int(rng.integers(*between)) for between in ((12, 60), (3, 60), (10, 26), (99, 107))
        )
        rest = (
            Value("Respiratory rate", *_split(say(breaths)), site="respiratory rate", number=breaths, unit="/min"),
            Value("Weight", *_split(say(kilos), "kilos"), site="weight", number=kilos, unit="kg"),
            Value("Tear test on the left", *_split(say(tears)), site="tear production", number=tears, unit="mm/min"),
            Value(
                "Temperature",
                *_split(say(fever), "degrees Fahrenheit"),
                site="temperature",
                number=fever,
                unit="[degF]",
            ),
        )
    fixed = (
        Value("Heart rate", *_split(say(heart)), site="heart rate", number=heart, unit="/min"),
        Value("Systolic blood pressure", *_split(say(pressure)), site="blood pressure", number=pressure, unit="mm[Hg]"),
        Value("Body condition", *_split(say(small[0]), "out of nine"), site="body condition score", number=small[0],
              unit="{score}"),
        Value("Capillary refill", *_split(say(small[1] % 3 + 1), "seconds" if small[1] % 3 else "second"),
              site="capillary refill time", number=small[1] % 3 + 1, unit="s"),
        Value("Heart murmur, grade", *_split(say(small[2] % 6 + 1), "out of six"), site="heart", finding="murmur",
              told=f"{small[2] % 6 + 1}/6"),
        *(
            Value("Tooth", *_split(say(t), "is fractured"), site="teeth", finding="fractured tooth", told=str(t))
            for t in teeth
        ),
    )  # fmt: skip
    return (*fixed, *rest)


def _split(said: tuple[tuple[str, ...], str], after: str = "") -> tuple[tuple[str, ...], str, str]:
    return said[0], after, said[1]


def written(exam: Sequence[Value], numbers: Sequence[str]) -> str:
    """The exam as a text, with these words for its numbers."""
    said = (f"{v.before} {number} {v.after}".strip() + "." for v, number in zip(exam, numbers, strict=True))
    return " ".join((OPENING, *said, CLOSING))


def _recording(speaker: str, piece: str, take: int) -> Samples:
    if speaker in DIGIT_SPEAKERS:
        takes = sorted(DIGITS.glob(f"{piece}_{speaker}_*.wav"))
        file = takes[take % len(takes)]
    else:
        file = NUMBERS / "digits" / f"{piece}.wav"
    return trimmed(decode(file).samples.astype(np.float32) / 32768, floor=RECORDED_FLOOR)


def trimmed(samples: Samples, *, floor: float = 1e-6) -> Samples:
    """Without the quiet before and after; brought to the common level. `floor` is its power as part of the loudest."""
    frames = samples[: len(samples) // 160 * 160].reshape(-1, 160)
    power = np.square(frames).mean(axis=1)
    loud = np.flatnonzero(power > power.max() * floor)
    begin, end = max(0, int(loud[0]) - 1) * 160, (int(loud[-1]) + 2) * 160
    return levelled(samples[begin:end])


def levelled(samples: Samples) -> Samples:
    return (samples * 10 ** ((LEVEL - active_level(samples)) / 20)).astype(np.float32)


def sound_of(speaker: str, exam: int) -> tuple[Samples, list[tuple[float, float]]]:
    """The numbers of an exam as sound, and where each stands in it, in seconds."""
    parts: list[Samples] = [np.zeros(int(RATE * PAUSE), dtype=np.float32)]
    places: list[tuple[float, float]] = []
    length, take = len(parts[0]), exam
    for value in values(speaker, exam):
        begin = length
        for piece in value.pieces:
            parts.append(_recording(speaker, piece, take))
            length += len(parts[-1])
            take += 1
        places.append((begin / RATE, length / RATE))
        parts.append(parts[0])
        length += len(parts[0])
    return np.concatenate(parts), places
