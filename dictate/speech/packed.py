"""Many recordings heard together, for work in bulk: the same model and the same values as `listen`, fewer seconds.

The stretches with speech of all recordings at hand are gathered into windows, the windows sorted by length and
recognised several at a time. A window is encoded at its own length, not padded to Whisper's thirty seconds: the
encoder's cost grows faster than the length. A window whose result looks wrong (a loop, a low score, speech without a
word) is heard again alone, in the careful way. `scripts/bench_bulk.py --windows` measures lengths and widths.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
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
_POOL = 4  # batches of windows that are sorted by length together
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


@dataclass(slots=True)
class _Recording:
    """A recording in work: its windows, and what was heard in each so far."""

    place: int
    sound: Sound
    gain: float
    speech: tuple[Stretch, ...]
    rows: tuple[tuple[Stretch, ...], ...]
    heard: dict[int, Kept] = field(default_factory=dict)
    warning: str = ""


def transcribe_all(
    paths: Sequence[Path], *, settings: SpeechSettings | None = None, packing: Packing | None = None
) -> Iterator[tuple[int, Transcript | InputError]]:
    """The words of every recording with its number in `paths`, or why it cannot be heard; as they are ready, each once.

    Memory is bounded by the windows of a few batches and the recordings that are decoded ahead (each ten minutes of
    sound at most, the rest on disk).

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
    waiting: list[tuple[_Recording, int]] = []
    for place, made in _ahead(paths, settings, packing, effective):
        if isinstance(made, InputError | Transcript):
            yield place, made
            continue
        waiting.extend((made, i) for i in range(len(made.rows)))
        if not made.rows:
            yield place, _finished(made, settings, effective)
        if len(waiting) >= _POOL * packing.batch:
            yield from _done(hearer.hear(waiting), settings, effective)
            waiting = []
    yield from _done(hearer.hear(waiting), settings, effective)


def _done(
    recordings: Sequence[_Recording], settings: SpeechSettings, effective: dict[str, str]
) -> Iterator[tuple[int, Transcript]]:
    for recording in recordings:
        yield recording.place, _finished(recording, settings, effective)


def _ahead(
    paths: Sequence[Path], settings: SpeechSettings, packing: Packing, effective: dict[str, str]
) -> Iterator[tuple[int, _Recording | Transcript | InputError]]:
    """Every recording made ready, a few ahead of the one that is asked for, in another thread."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        begun: list[Future[_Recording | Transcript | InputError]] = []
        for place in range(len(paths)):
            while len(begun) < min(len(paths), place + 1 + _AHEAD):
                at = len(begun)
                begun.append(pool.submit(_ready, at, paths[at], settings, packing, effective))
            result = begun[place].result()
            begun[place] = Future()  # lets go of the recording
            yield place, result


def _ready(
    place: int, path: Path, settings: SpeechSettings, packing: Packing, effective: dict[str, str]
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
    return _Recording(place, sound, gain, speech, chunks(speech, probabilities, longest=packing.longest))


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

    def hear(self, waiting: Sequence[tuple[_Recording, int]]) -> list[_Recording]:
        """Hear these windows; the recordings of which every window has been heard by now."""
        lengths = [sum(s.length for s in r.rows[i]) for r, i in waiting]
        order = sorted(range(len(waiting)), key=lambda n: -lengths[n])
        for at in range(0, len(order), self.packing.batch):
            self._batch([waiting[n] for n in order[at : at + self.packing.batch]])
        recordings = {r.place: r for r, _ in waiting}
        return [r for r in recordings.values() if len(r.heard) == len(r.rows)]

    def _batch(self, windows: Sequence[tuple[_Recording, int]]) -> None:
        import ctranslate2

        ctranslate2.set_random_seed(1)
        model = self.recogniser.model
        samples = [listen._samples(r.sound, r.rows[i], r.gain) for r, i in windows]
        features = [model.feature_extractor(s, padding=0)[..., :3000] for s in samples]
        sizes = [f.shape[-1] for f in features]
        width = min(3000, max(sizes) + _TAIL)
        encoded = model.encode(np.stack([np.pad(f, ((0, 0), (0, width - f.shape[-1]))) for f in features]))
        self._languages(encoded, windows)
        results = model.model.generate(
            encoded,
            [self.prompt] * len(windows),
            beam_size=self.packing.beam,
            max_length=min(448, len(self.prompt) + _TOKENS_LEAST + int(width / 100 * _TOKENS_A_SECOND)),
            suppress_tokens=self.suppressed,
            return_scores=True,
            return_no_speech_prob=True,
        )
        segments = self._segments(encoded, results, sizes)
        for (recording, i), segment, own in zip(windows, segments, samples, strict=True):
            recording.heard[i] = self._checked(segment, own, recording.rows[i])

    def _languages(self, encoded: Any, windows: Sequence[tuple[_Recording, int]]) -> None:
        """Warn where a recording's first window is hardly in the language that was asked for."""
        model = self.recogniser.model.model
        if not model.is_multilingual or all(i for _, i in windows):
            return
        for (recording, i), found in zip(windows, model.detect_language(encoded), strict=True):
            if i == 0:
                shares = {token[2:-2]: float(share) for token, share in found}
                recording.warning = listen._strange(shares, self.settings.language)

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


def _finished(recording: _Recording, settings: SpeechSettings, effective: dict[str, str]) -> Transcript:
    """The transcript of a recording all of whose windows were heard; kept in the cache too."""
    sound, words = recording.sound, list[Word]()
    unheard = list(silences(sound, recording.speech))
    for i, row in enumerate(recording.rows):
        words.extend(listen._moved(word, row) for word in recording.heard[i].words)
        unheard.extend(
            Unheard(round(original_time(row, u.start), 2), round(original_time(row, u.end), 2), u.kind, u.text)
            for u in recording.heard[i].dropped
        )
    in_order = listen._in_order(words, sound.seconds)
    unheard.extend(listen._wordless(recording.speech, in_order, unheard))
    note = sound.note
    if recording.warning:
        note = replace(note, warnings=(*note.warnings, recording.warning))
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
