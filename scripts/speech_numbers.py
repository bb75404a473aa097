"""Numbers both ways for the speech adapter's texts: as a recogniser writes them, and as people say them."""

from __future__ import annotations

import random
import re

from num2words import num2words

from dictate.language.numbers import numbers, tokens

_NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.]*\d)")
_KEPT_AS_WORDS = 10  # whole numbers below it stay words, as recognisers write them


def written(text: str) -> str:
    """The text with number words as digits from ten on ("thirty-eight point four": "38.4"); all else as it was."""
    words = tokens(text)
    out, at = [], 0
    for n in numbers(words):
        first, last = words[n.first], words[n.last - 1]
        # "thirty-eight nine" has no point in it: what a recogniser would write is not ours to say.
        if n.numeral or n.form in ("joined", "ordinal") or (n.value < _KEPT_AS_WORDS and n.form != "point"):
            continue
        shown = f"{n.value:.10g}"
        out += [text[at : first.start], shown]
        at = last.end
    return "".join((*out, text[at:]))


def said_aloud(text: str, rng: random.Random) -> str:
    """The text with its digits as words, each number in one of the ways people say it."""
    return _NUMBER.sub(lambda m: _said(m[0], rng), text.replace("%", " percent"))


def _said(number: str, rng: random.Random) -> str:
    whole, _, part = number.partition(".")
    if len(whole) > 4 or (len(whole) > 1 and whole[0] == "0"):
        return " ".join(map(_digit, whole))
    if part:
        tail = " ".join(_digit(d) for d in part) if len(part) < 3 or rng.random() < 0.8 else num2words(int(part))
        return f"{_whole(int(whole), rng)} point {tail}"
    return _whole(int(whole), rng)


def _digit(d: str) -> str:
    return num2words(int(d))


def _whole(value: int, rng: random.Random) -> str:
    if 100 <= value < 1000:
        hundreds, rest = divmod(value, 100)
        head = num2words(hundreds)
        way = rng.random()
        if rest == 0:
            return "a hundred" if hundreds == 1 and way < 0.4 else f"{head} hundred"
        if rest < 10:
            if way < 0.6:
                return f"{head} {'oh' if way < 0.45 else 'zero'} {num2words(rest)}"
        elif way < 0.55:
            return f"{head} {num2words(rest)}"
        head = "a" if hundreds == 1 and way > 0.85 else head
        return f"{head} hundred {'and ' if rng.random() < 0.6 else ''}{num2words(rest)}"
    if 1000 <= value < 10000 and value % 1000 and rng.random() < 0.4:
        return (
            f"{num2words(value // 100)} {num2words(value % 100) if value % 100 > 9 else 'oh ' + num2words(value % 100)}"
        )
    return num2words(value)
