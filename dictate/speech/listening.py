"""A loaded Whisper model that can tell, besides the words it chose, what else it thought of, and that can be asked how
well other words fit the sound it heard last.

faster-whisper gives the likeliest words alone; CTranslate2, beneath it, returns the other ends of the same beam search
for nothing, and its `align` gives the probability of any text for a sound that is encoded already.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np

TEXTS_AT_ONCE = 4  # asked together: each takes a copy of the encoded sound


@dataclass(frozen=True, slots=True)
class Window:
    """A window of the sound as it was encoded, and what the beam search ended with, as tokens, likeliest first."""

    encoded: Any
    ends: tuple[tuple[int, ...], ...]


class Overheard:
    """CTranslate2's model in front of faster-whisper, with all its attributes. While `windows` is a list, every
    encoding and every ending of a beam search is noted in it."""

    def __init__(self, model: Any) -> None:
        self._model = model
        self.windows: list[Window] | None = None

    def __getattr__(self, name: str) -> Any:
        return getattr(self._model, name)

    def generate(self, encoded: Any, prompts: Any, **options: Any) -> Any:
        """As the model's own, with every end of the beam returned while notes are taken."""
        if self.windows is None or "sampling_temperature" in options or len(prompts) > 1:
            return self._model.generate(encoded, prompts, **options)
        results = self._model.generate(encoded, prompts, **{**options, "num_hypotheses": options.get("beam_size", 5)})
        self.windows.append(Window(encoded, tuple(tuple(ids) for ids in results[0].sequences_ids)))
        return results


@contextmanager
def noted(model: Any) -> Iterator[list[Window]]:
    """The windows that a faster-whisper model hears meanwhile, where it is one that takes notes."""
    windows: list[Window] = []
    takes_notes = isinstance(getattr(model, "model", None), Overheard)
    if takes_notes:
        model.model.windows = windows
    try:
        yield windows
    finally:
        if takes_notes:
            model.model.windows = None


def said_by(model: Any, tokens: Sequence[int]) -> str:
    """The text of tokens, marks of time and the like left out."""
    return str(model.hf_tokenizer.decode([t for t in tokens if t < model.hf_tokenizer.token_to_id("<|endoftext|>")]))


def likelihoods(
    model: Any, window: Window, texts: Sequence[Sequence[str]], *, start: Sequence[int], frames: int
) -> list[tuple[float, ...]]:
    """For each text, given as its written words, the log probability of each of its words, if it were what was said.

    Args:
        model: a faster-whisper model.
        start: the tokens that a text begins with (language and task).
        frames: hundredths of a second of the window that hold sound.
    """
    import ctranslate2

    tokens = [[model.hf_tokenizer.encode(f" {w}", add_special_tokens=False).ids for w in text] for text in texts]
    once = np.asarray(window.encoded)
    found: list[tuple[float, ...]] = []
    for at in range(0, len(tokens), TEXTS_AT_ONCE):
        part = tokens[at : at + TEXTS_AT_ONCE]
        many = ctranslate2.StorageView.from_array(np.ascontiguousarray(np.repeat(once, len(part), axis=0)))
        flat = [[t for word in text for t in word] for text in part]
        for text, result in zip(part, model.model.align(many, list(start), flat, frames), strict=True):
            found.append(_by_word(text, result.text_token_probs))
    return found


def _by_word(words: Sequence[Sequence[int]], probabilities: Sequence[float]) -> tuple[float, ...]:
    sums, at = [], 0
    for word in words:
        sums.append(sum(math.log(max(p, 1e-9)) for p in probabilities[at : at + len(word)]))
        at += len(word)
    return tuple(sums)
