"""Many recordings heard one after the other, for work in bulk: the model and the values of `listen`, fewer seconds.

A recording's stretches with speech are gathered into windows, which are recognised several at a time. A window is
encoded at its own length, not padded to Whisper's thirty seconds: the encoder's cost grows faster than the length. A
window whose result looks wrong (a loop, a low score, speech without a word) is heard again alone, in the careful way.
Windows of two recordings never share a batch: what is heard in one must not hang on what else there was to do.
`scripts/bench_bulk.py --only windows` measures lengths and widths.
"""

from __future__ import annotations

import itertools
import zlib
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dictate.errors import InputError
from dictate.sound.sound import Sound, decode, file_hash
from dictate.speech import listen
from dictate.speech.cache import cache_file, keep_transcript, kept_transcript
from dictate.speech.guard import Kept, kept
from dictate.speech.recogniser import Heard, Recogniser, whole_words
from dictate.speech.settings import SpeechSettings
from dictate.speech.voice import Stretch, chunks, gain_for, original_time, passages, silences, speech_probabilities
from dictate.speech.words import Transcript, Unheard, Word

_AHEAD = 2  # recordings that are decoded while others are heard
_FRAMES = 3000  # of ten milliseconds in Whisper's window
_TAIL = 100  # frames of ten milliseconds, silent, behind the longest window of a batch
_LOOP, _UNLIKELY = 2.4, -1.0  # Whisper's own limits for a result that is tried again
_TOKENS_A_SECOND, _TOKENS_LEAST = 9, 24  # nobody speaks faster; a loop ends here


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """How windows are made and heard: the longest in seconds, how many at a time, and the width of the beam search."""

    longest: float = 20.0
    batch: int = 8
    beam: int = 2

    def told(self) -> dict[str, str]:
        return {"windows": f"packed, {self.longest:g} s", "beam": str(self.beam)}


@dataclass(frozen=True, slots=True)
class _Recording:
    """A recording made ready: its sound, the gain it needs, where somebody speaks, and its windows."""

    sound: Sound
    gain: float
    speech: tuple[Stretch, ...]
    rows: tuple[tuple[Stretch, ...], ...]


def transcribe_all(
    paths: Sequence[Path], *, settings: SpeechSettings | None = None, packing: Packing | None = None
) -> Iterator[Transcript | InputError]:
    """The words of every recording, or why it cannot be heard; in the order of `paths`.

    A recording's words do not depend on which others are heard with it. While one is heard, the next ones are decoded.
    Memory is bounded by a batch of windows and the recordings that are decoded ahead (each ten minutes of sound at
    most, the rest on disk).

    Raises:
        InputError: the model is not there, or a setting cannot be followed.
    """
    settings = listen._with_hint(settings or SpeechSettings())
    packing = packing or Packing()
    listen._check(settings)
    recogniser, effective = listen._ready(settings)
    effective = {**effective, **packing.told()}
    effective.pop("chunk_seconds", None)
    hearer = _Hearer(recogniser, settings, packing)
    for made in _ahead(paths, settings, packing, effective):
        if isinstance(made, _Recording):
            yield _finished(made, hearer.hear(made), settings, effective)
        else:
            yield made


def _ahead(
    paths: Sequence[Path], settings: SpeechSettings, packing: Packing, effective: dict[str, str]
) -> Iterator[_Recording | Transcript | InputError]:
    """Every recording made ready, a few ahead of the one that is asked for, in another thread."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        begun: deque[Future[_Recording | Transcript | InputError]] = deque()
        waiting = iter(paths)
        for path in itertools.islice(waiting, 1 + _AHEAD):
            begun.append(pool.submit(_made_ready, path, settings, packing, effective))
        while begun:
            result = begun.popleft().result()
            for path in itertools.islice(waiting, 1):
                begun.append(pool.submit(_made_ready, path, settings, packing, effective))
            yield result


def _made_ready(
    path: Path, settings: SpeechSettings, packing: Packing, effective: dict[str, str]
) -> _Recording | Transcript | InputError:
    """Decode a recording and find its speech; or its words, where the cache has them."""
    try:
        if path.stat().st_size == 0:
            return InputError("the file is empty (0 bytes)", where=str(path))
        if settings.use_cache:
            source_hash = file_hash(path)
            found = kept_transcript(cache_file(settings.cache_folder, source_hash, effective), source_hash)
            if found is not None:
                return found
        sound = decode(path)
    except InputError as e:
        return e
    except OSError as e:
        return InputError(f"cannot be read ({e.strerror or e})", where=str(path))
    gain = gain_for(sound)
    probabilities = speech_probabilities(sound, gain=gain)
    speech = passages(probabilities, threshold=settings.speech_threshold, seconds=sound.seconds)
    return _Recording(sound, gain, speech, _windows(speech, probabilities, packing))


def _windows(
    speech: tuple[Stretch, ...], probabilities: NDArray[np.float32], packing: Packing
) -> tuple[tuple[Stretch, ...], ...]:
    """The speech in windows of at most `longest` seconds, of lengths that go well together in batches."""
    lengths = [packing.longest * (1 - part) for part in (0.0, 0.05, 0.1, 0.15, 0.2, 0.25)]
    return min((chunks(speech, probabilities, longest=longest) for longest in lengths), key=lambda r: _cost(r, packing))


def _cost(rows: Sequence[tuple[Stretch, ...]], packing: Packing) -> float:
    """What windows cost, about, in seconds of one core; fitted to a few measurements of the shipped model."""
    sizes = [[_length(rows[i]) for i in batch] for batch in _batches(rows, packing.batch)]
    return sum(len(batch) * (0.05 + 0.5 * ((max(batch) + _TAIL / 100) / 20) ** 1.65) for batch in sizes)


def _length(row: tuple[Stretch, ...]) -> float:
    return sum(s.length for s in row)


def _batches(rows: Sequence[tuple[Stretch, ...]], most: int) -> list[list[int]]:
    """The numbers of windows in batches of about one size, those of like length together."""
    order = sorted(range(len(rows)), key=lambda i: -_length(rows[i]))
    count = -(-len(rows) // most)
    size = -(-len(rows) // count) if count else 1
    return [order[at : at + size] for at in range(0, len(order), size)]


class _Hearer:
    """The recogniser with what stays the same for all windows."""

    def __init__(self, recogniser: Recogniser, settings: SpeechSettings, packing: Packing) -> None:
        from faster_whisper.tokenizer import Tokenizer
        from faster_whisper.transcribe import get_suppressed_tokens

        model = recogniser.model
        self.recogniser, self.settings, self.packing = recogniser, settings, packing
        self.tokenizer = Tokenizer(
            model.hf_tokenizer, model.model.is_multilingual, task="transcribe", language=settings.language
        )
        self.suppressed = get_suppressed_tokens(self.tokenizer, [-1])
        before = self.tokenizer.encode(" " + settings.prompt.strip()) if settings.prompt else []
        self.prompt = model.get_prompt(
            self.tokenizer, before, without_timestamps=True, hotwords=settings.hotwords or None
        )

    def hear(self, recording: _Recording) -> tuple[list[Kept], str]:
        """What is heard in each window of a recording, and a warning where it is hardly in the language wanted."""
        heard: dict[int, Kept] = {}
        warning = ""
        for batch in _batches(recording.rows, self.packing.batch):
            samples = [listen._samples(recording.sound, recording.rows[i], recording.gain) for i in batch]
            segments, strange = self._batch(samples, batch.index(0) if 0 in batch else None)
            warning = warning or strange
            for i, segment, own in zip(batch, segments, samples, strict=True):
                heard[i] = self._checked(segment, own, recording.rows[i])
        return [heard[i] for i in range(len(recording.rows))], warning

    def _batch(self, samples: Sequence[NDArray[np.float32]], first: int | None) -> tuple[list[Heard], str]:
        """What is heard in windows; the warning for the recording's first window, where it is one of them."""
        model = self.recogniser.model
        features = [model.feature_extractor(s, padding=0)[..., :_FRAMES] for s in samples]
        sizes = [f.shape[-1] for f in features]
        width = min(_FRAMES, max(sizes) + _TAIL)
        encoded, one = self._encoded([np.pad(f, ((0, 0), (0, width - f.shape[-1]))) for f in features], first)
        results = model.model.generate(
            encoded,
            [self.prompt] * len(samples),
            beam_size=self.packing.beam,
            max_length=min(448, len(self.prompt) + _TOKENS_LEAST + int(width / 100 * _TOKENS_A_SECOND)),
            suppress_tokens=self.suppressed,
            return_scores=True,
            return_no_speech_prob=True,
        )
        warning = "" if one is None else self._language(*one)
        return self._segments(encoded, results, sizes), warning

    def _encoded(
        self, features: Sequence[NDArray[np.float32]], first: int | None
    ) -> tuple[Any, tuple[Any, int] | None]:
        """The windows encoded; and the first window's encoding with its place in it, where it is one of them.

        On a processor one by one: several at once fall out of its caches (a fifth slower, measured here).
        """
        import ctranslate2

        model = self.recogniser.model
        if self.recogniser.device != "cpu":
            together = model.encode(np.stack(features))
            return together, None if first is None else (together, first)
        alone = [model.encode(f[None]) for f in features]
        whole = alone[0]
        if len(alone) > 1:
            whole = ctranslate2.StorageView.from_array(np.concatenate([np.asarray(e) for e in alone]))
        return whole, None if first is None else (alone[first], 0)

    def _language(self, encoded: Any, place: int) -> str:
        """A warning where this window of a batch is hardly in the language that was asked for."""
        model = self.recogniser.model.model
        if not model.is_multilingual:
            return ""
        shares = {token[2:-2]: float(share) for token, share in model.detect_language(encoded)[place]}
        return listen._strange(shares, self.settings.language)

    def _segments(self, encoded: Any, results: Sequence[Any], sizes: Sequence[int]) -> list[Heard]:
        """What was heard in each window of a batch, with times of words."""
        rows: list[list[dict[str, Any]]] = []
        for result, size in zip(results, sizes, strict=True):
            tokens = [t for t in result.sequences_ids[0] if t < self.tokenizer.eot]
            rows.append([{"seek": 0, "start": 0.0, "end": size / 100, "tokens": tokens, "words": []}])
        self.recogniser.model.add_word_timestamps(
            rows, self.tokenizer, encoded, list(sizes), "\"'“¿([{-", "\"'.。,，!！?？:：”)]}、", 0.0
        )
        heard = []
        for (row,), result in zip(rows, results, strict=True):
            text = self.tokenizer.decode(row["tokens"]).encode()
            length = len(result.sequences_ids[0])
            heard.append(
                Heard(
                    whole_words((w["word"], w["start"], w["end"], w["probability"]) for w in row["words"]),
                    len(text) / len(zlib.compress(text)),
                    float(result.scores[0]) * length / (length + 1),
                    float(result.no_speech_prob),
                )
            )
        return heard

    def _checked(self, segment: Heard, samples: NDArray[np.float32], row: tuple[Stretch, ...]) -> Kept:
        """The words of a window; heard again with care where they look wrong, and the fuller of the two kept."""
        first = kept((segment,))
        loops = segment.compression > _LOOP
        silent = listen._wordless_seconds(first, row)
        if not loops and not silent and segment.score > _UNLIKELY:
            return first
        second = listen._heard(self.recogniser, samples, row, self.settings)
        return second if loops or listen._wordless_seconds(second, row) <= silent else first


def _finished(
    recording: _Recording, heard: tuple[list[Kept], str], settings: SpeechSettings, effective: dict[str, str]
) -> Transcript:
    """The transcript of a recording whose windows were heard; kept in the cache too."""
    sound, words = recording.sound, list[Word]()
    windows, warning = heard
    unheard = list(silences(sound, recording.speech))
    for row, window in zip(recording.rows, windows, strict=True):
        words.extend(listen._moved(word, row) for word in window.words)
        unheard.extend(
            Unheard(round(original_time(row, u.start), 2), round(original_time(row, u.end), 2), u.kind, u.text)
            for u in window.dropped
        )
    in_order = listen._in_order(listen.calibrated_words(words, settings), sound.seconds)
    unheard.extend(listen._wordless(recording.speech, in_order, unheard))
    note = sound.note
    note = replace(note, warnings=(*note.warnings, *filter(None, [warning]), *listen.too_poor(in_order)))
    result = Transcript(
        in_order,
        " ".join(w.text for w in in_order),
        sound.source_hash,
        note,
        effective,
        tuple(sorted(unheard, key=lambda u: (u.start, u.end))),
    )
    if settings.use_cache:
        keep_transcript(cache_file(settings.cache_folder, sound.source_hash, effective), result)
    return result
