"""Loading the recogniser on the device that is there, and turning a stretch of samples into words."""

from __future__ import annotations

import functools
import itertools
import os
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dictate.errors import InputError
from dictate.speech.listening import Overheard, Window, likelihoods, noted, said_by
from dictate.speech.memory import Memory, Stretch, gain_key, key_of
from dictate.speech.readings import Candidate, candidates, gains, weighed
from dictate.speech.settings import SpeechSettings
from dictate.speech.words import Word

_DEVICES = ("auto", "cpu", "cuda")


@dataclass(frozen=True, slots=True)
class Heard:
    """A segment as the recogniser gave it; times count from the beginning of the samples that it was given.

    `compression` is Whisper's ratio of text length to its compressed length (loops are high), `score` its mean log
    probability of a token, `no_speech` its probability that nobody speaks.
    """

    words: tuple[Word, ...]
    compression: float
    score: float
    no_speech: float


@dataclass(frozen=True, slots=True)
class Recogniser:
    """A loaded model and what it really runs on."""

    model: Any
    device: str
    precision: str
    versions: str
    memory: Memory | None = None

    def hear(self, samples: NDArray[np.float32], settings: SpeechSettings) -> tuple[Heard, ...]:
        """The segments of at most 30 seconds of sound: floats from -1 to 1, 16 kHz, mono, shape (n,).

        With a proposer in the settings other readings are weighed, and the words' probabilities are calibrated. What
        the memory holds is not heard again.
        """
        key = key_of(samples, settings.prompt, settings.hotwords or "") if self.memory else ""
        known = self.memory.stretches.get(key) if self.memory else None
        window = None
        if known is None:
            segments, windows = self.first(samples, settings)
            # A stretch that was heard in several windows, or at a second try, has no one encoding to ask.
            window = windows[0] if len(windows) == 1 else None
            ends = None if window is None else [said_by(self.model, end) for end in window.ends[1:]]
            known = Stretch([packed(segment) for segment in segments], ends)
            if self.memory:
                self.memory.stretches[key] = known
                self.memory.changed = True
        segments = tuple(map(unpacked, known.segments))
        words = tuple(word for segment in segments for word in segment.words)
        if settings.proposer is None or not words:
            return segments
        found: tuple[Candidate, ...] = ()
        if known.ends is not None:
            found = candidates(words, known.ends, settings.proposer(words))
            found = tuple(c for c in found if _in_one(c, segments))
        new = [c for c in found if gain_key(c.first, c.last, c.words) not in known.gains]
        if new:
            window = window or self.encoded(samples)
            start, frames = first_tokens(self.model, settings.language), len(samples) // 160
            ask = functools.partial(likelihoods, self.model, window, start=start, frames=frames)
            for c, gain in zip(new, gains(words, new, ask), strict=True):
                known.gains[gain_key(c.first, c.last, c.words)] = gain
            if self.memory:
                self.memory.changed = True
        return _with(segments, weighed(words, found, [known.gains[gain_key(c.first, c.last, c.words)] for c in found]))

    def encoded(self, samples: NDArray[np.float32]) -> Window:
        """The sound encoded, as `first` does it for a stretch of one window; nothing is recognised."""
        from faster_whisper.audio import pad_or_trim

        features = self.model.feature_extractor(samples)
        return Window(self.model.encode(pad_or_trim(features[:, : min(3000, features.shape[-1] - 1)])), ())

    def first(
        self, samples: NDArray[np.float32], settings: SpeechSettings
    ) -> tuple[tuple[Heard, ...], tuple[Window, ...]]:
        """The segments as the recogniser has them first, and the windows that they were heard in.

        Each stretch stands alone (`condition_on_previous_text` off): a slip cannot be carried on into the next, and
        Whisper's loops end with the stretch.
        """
        import ctranslate2

        ctranslate2.set_random_seed(1)  # Whisper's second tries draw lots: the same sound shall give the same words
        with noted(self.model) as windows:
            segments, _ = self.model.transcribe(
                samples,
                language=settings.language,
                beam_size=settings.beam,
                condition_on_previous_text=False,
                word_timestamps=True,
                vad_filter=False,
                initial_prompt=settings.prompt or None,
                hotwords=settings.hotwords or None,
            )
            heard = tuple(
                Heard(
                    whole_words((w.word, w.start, w.end, w.probability) for w in segment.words or ()),
                    float(segment.compression_ratio),
                    float(segment.avg_logprob),
                    float(segment.no_speech_prob),
                )
                for segment in segments
            )
        return heard, tuple(windows)

    def languages(self, samples: NDArray[np.float32]) -> dict[str, float]:
        """The probability of each language, by its code, in at most 30 seconds of sound; of English alone for a model
        that knows no other."""
        if not self.model.model.is_multilingual:
            return {"en": 1.0}
        if self.memory and self.memory.languages:
            return self.memory.languages
        *_, found = self.model.detect_language(samples)
        shares = {code: float(share) for code, share in found}
        if self.memory:
            self.memory.languages, self.memory.changed = shares, True
        return shares


def _with(segments: Sequence[Heard], places: Sequence[Word | None]) -> tuple[Heard, ...]:
    """The segments with the words that stand in the places of theirs."""
    read, at = [], 0
    for segment in segments:
        here = places[at : at + len(segment.words)]
        at += len(segment.words)
        read.append(replace(segment, words=tuple(word for word in here if word is not None)))
    return tuple(read)


def packed(segment: Heard) -> list[Any]:
    """A segment as plain values, for the memory."""
    words = [[w.text, w.start, w.end, w.probability] for w in segment.words]
    return [words, segment.compression, segment.score, segment.no_speech]


def unpacked(row: Sequence[Any]) -> Heard:
    """The segment that these plain values are of."""
    words, compression, score, no_speech = row
    return Heard(tuple(Word(*w) for w in words), compression, score, no_speech)


def first_tokens(model: Any, language: str) -> tuple[int, ...]:
    """The tokens that every text begins with: the start, the language and the task."""
    from faster_whisper.tokenizer import Tokenizer

    many = model.model.is_multilingual
    return tuple(
        Tokenizer(
            model.hf_tokenizer, many, task="transcribe" if many else None, language=language if many else None
        ).sot_sequence
    )


def _in_one(candidate: Candidate, segments: Sequence[Heard]) -> bool:
    """Whether the words that a candidate takes the place of are of one segment."""
    ends = list(itertools.accumulate(len(s.words) for s in segments))
    return bisect_right(ends, candidate.first) == bisect_right(ends, candidate.last - 1)


def whole_words(pieces: Iterable[tuple[str, float, float, float]]) -> tuple[Word, ...]:
    """Words from the recogniser's pieces (text, start, end, probability): a piece that does not begin with a space
    belongs to the one before, as in " 38" ".9". The probability of a word is that of its least likely piece."""
    words: list[Word] = []
    for text, start, end, probability in pieces:
        shown, sure = text.strip(), float(min(1.0, max(0.0, probability)))
        if not shown:
            continue
        if words and not text[:1].isspace():
            last = words.pop()
            words.append(Word(last.text + shown, last.start, max(last.end, float(end)), min(last.probability, sure)))
        else:
            words.append(Word(shown, float(start), max(float(start), float(end)), sure))
    return tuple(words)


def usable_threads() -> int:
    """Processor threads this process may use, at most 8; more do not help models of this size."""
    count = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, min(8, count))


@functools.lru_cache(maxsize=2)
def loaded(folder: Path, device: str, precision: str, threads: int) -> Recogniser:
    """Load a model; `auto` looks for what is there. The last two stay loaded.

    Raises:
        InputError: the device or precision cannot be had, or the folder holds no model that can be loaded.
    """
    import ctranslate2
    from faster_whisper import WhisperModel

    if device not in _DEVICES:
        raise InputError(f"must be one of {', '.join(_DEVICES)}, not {device!r}", where="device")
    tries = ["cuda", "cpu"] if device == "auto" and ctranslate2.get_cuda_device_count() else [device]
    tries = ["cpu" if t == "auto" else t for t in tries]
    last = ""
    for place in tries:
        wanted = precision if precision != "auto" else ("float16" if place == "cuda" else "int8")
        try:
            model = WhisperModel(
                str(folder),
                device=place,
                compute_type=wanted,
                cpu_threads=threads or usable_threads(),
                local_files_only=True,
            )
            model.model = Overheard(model.model)
            if place == "cuda":  # libraries of the card are looked for when it first works, not when it loads
                list(model.transcribe(np.zeros(16000, dtype=np.float32), language="en")[0])
        except Exception as e:  # CTranslate2 and tokenizers raise bare RuntimeError, ValueError and Exception
            last = " ".join(str(e).split())[:200]
            continue
        return Recogniser(model, place, wanted, _versions())
    raise InputError(f"this speech model cannot be loaded on {' or '.join(tries)}: {last}", where=str(folder))


def _versions() -> str:
    found = []
    for name in ("faster-whisper", "ctranslate2"):
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            found.append(name)
    return ", ".join(found)
