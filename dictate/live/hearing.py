"""All that the live exam asks of the speech step, in one file.

Two ways of hearing the same sound with the same model:

- `QuickEar` hears one utterance at once. Whisper is padded to half a minute by the usual way; here the encoder is given
  no more than the utterance, which takes a fifth of the time and costs some accuracy (`scripts/bench_live.py`).
- `heard_recording` is the whole speech step over a recording, as `dictate draft` runs it. Its recogniser remembers what
  it heard in each chunk, so a chunk that was heard while the exam went on is not heard again at its end.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dictate.live.masked import Stretches, masked
from dictate.live.spoken import told_once
from dictate.sound.levels import Levels, loudness, with_samples
from dictate.sound.sound import RATE, Sound, decode, file_hash
from dictate.speech import listen, voice
from dictate.speech.cache import cache_file, keep_transcript, kept_transcript
from dictate.speech.guard import without_loops
from dictate.speech.recogniser import Heard, Recogniser
from dictate.speech.settings import SpeechSettings
from dictate.speech.words import Transcript, Word

FRAME = voice.FRAME
FRAME_SECONDS = FRAME / RATE
RULES = "left out 1"  # changes whenever leaving stretches out may give other words than before
_RUN_IN = 64 * FRAME  # samples that the voice model hears before those that it judges
_ROOM = 0.6  # seconds of silence behind an utterance that the encoder is given
_LEAST = 2.0  # seconds that it is given at least
_NOBODY, _UNLIKELY = 0.6, -1.0  # Whisper's own limits for text where nobody speaks
_TOKENS_A_SECOND = 9
_BEST_LEVEL = -26.0  # dB below full scale: `voice.gain_for` raises quiet sound to it


class VoiceActivity:
    """The probability that somebody speaks, for each 32 ms of growing sound."""

    def __init__(self) -> None:
        self._before = np.zeros(0, dtype=np.int16)
        self._rest = np.zeros(0, dtype=np.int16)
        self._levels = Levels()

    @property
    def gain(self) -> float:
        """By what factor the sound so far is raised before it is judged, as `voice.gain_for` has it."""
        below = _BEST_LEVEL - loudness(self._levels)
        return float(np.clip(10 ** (below / 20), 1.0, 32.0)) if self._levels.samples else 1.0

    def more(self, samples: NDArray[np.int16]) -> NDArray[np.float32]:
        """The probabilities of the frames that these samples, shape (n,), make whole."""
        from faster_whisper.vad import get_vad_model

        self._levels = with_samples(self._levels, samples)
        waiting = np.concatenate([self._rest, samples])
        whole = len(waiting) // FRAME * FRAME
        self._rest = waiting[whole:]
        if not whole:
            return np.zeros(0, dtype=np.float32)
        block = np.concatenate([self._before, waiting[:whole]])
        raised = np.clip(block.astype(np.float32) * np.float32(self.gain / 32768), -1.0, 1.0)
        found = np.asarray(get_vad_model()(raised), dtype=np.float32).reshape(-1)[len(self._before) // FRAME :]
        self._before = block[-_RUN_IN:]
        return found


@dataclass(frozen=True, slots=True)
class QuickWords:
    """What was heard in one utterance: its text, and the mean log probability of a token."""

    text: str
    score: float


class QuickEar:
    """A loaded model that hears utterances one by one, without words' times."""

    def __init__(self, settings: SpeechSettings) -> None:
        from faster_whisper.tokenizer import Tokenizer

        self._settings = listen._with_hint(settings)
        recogniser, self.effective = listen._ready(self._settings)
        self._model = recogniser.model
        many = self._model.model.is_multilingual
        self._tokens: Any = Tokenizer(
            self._model.hf_tokenizer, many, task="transcribe" if many else None, language=settings.language
        )
        self._encoded: Any = None
        self._frames = 0

    def hear(self, samples: NDArray[np.float32]) -> QuickWords:
        """The words of an utterance of at most 28 seconds: floats from -1 to 1, 16 kHz, mono."""
        seconds = min(30.0, max(_LEAST, len(samples) / RATE + _ROOM))
        self._frames = round(seconds * 50) * 2
        padded = np.pad(samples, (0, max(0, self._frames * 160 - len(samples))))
        features = self._model.feature_extractor(padded, padding=0)[:, : self._frames]
        self._encoded = self._model.encode(np.ascontiguousarray(features))
        prompt = self._model.get_prompt(
            self._tokens, [], without_timestamps=True, hotwords=self._settings.hotwords or None
        )
        most = len(prompt) + 12 + round(_TOKENS_A_SECOND * len(samples) / RATE)
        made = self._model.model.generate(
            self._encoded,
            [prompt],
            beam_size=1,
            max_length=min(448, most),
            return_scores=True,
            return_no_speech_prob=True,
        )[0]
        score = float(made.scores[0])
        text = self._tokens.decode([t for t in made.sequences_ids[0] if t < self._tokens.eot]).strip()
        if made.no_speech_prob > _NOBODY and score < _UNLIKELY:
            return QuickWords("", score)
        words = tuple(Word(w, 0.0, 0.0, 1.0) for w in told_once(text).split())
        return QuickWords(" ".join(w.text for w in without_loops(words)[0]), score)

    def begins(self, text: str, word: int) -> float:
        """The second of the utterance heard last at which word number `word` of its text begins."""
        parts = text.split()
        lead = len(self._tokens.encode(" " + " ".join(parts[:word]))) if word else 0
        tokens = self._tokens.encode(" " + " ".join(parts))
        found = self._model.model.align(self._encoded, self._tokens.sot_sequence, [tokens], self._frames)[0]
        return min((t for i, t in found.alignments if i >= lead), default=0) / 50

    def likelihoods(self, phrases: Sequence[str]) -> tuple[tuple[float, ...], ...]:
        """For each phrase the log probability of each of its tokens, if it were what was said in the utterance that
        was heard last."""
        import ctranslate2

        texts = [self._tokens.encode(" " + phrase) for phrase in phrases]
        once = np.asarray(self._encoded)
        many = ctranslate2.StorageView.from_array(np.ascontiguousarray(np.repeat(once, len(texts), axis=0)))
        found = self._model.model.align(many, self._tokens.sot_sequence, texts, self._frames)
        return tuple(tuple(math.log(max(p, 1e-9)) for p in f.text_token_probs) for f in found)


@dataclass(frozen=True, slots=True)
class Remembering:
    """A recogniser that hears each chunk once: the same samples under the same settings give what they gave before."""

    inner: Recogniser
    known: dict[str, Any] = field(default_factory=dict)

    @property
    def model(self) -> Any:
        return self.inner.model

    def hear(self, samples: NDArray[np.float32], settings: SpeechSettings) -> tuple[Heard, ...]:
        return self._once("words", samples, settings, lambda: self.inner.hear(samples, settings))

    def languages(self, samples: NDArray[np.float32]) -> dict[str, float]:
        return self._once("languages", samples, None, lambda: self.inner.languages(samples))

    def _once(
        self, what: str, samples: NDArray[np.float32], settings: SpeechSettings | None, work: Callable[[], Any]
    ) -> Any:
        key = f"{what} {hashlib.sha256(samples.tobytes()).hexdigest()} {settings}"
        if key not in self.known:
            self.known[key] = work()
        return self.known[key]

    def __getattr__(self, name: str) -> Any:
        return getattr(object.__getattribute__(self, "inner"), name)


def heard_recording(
    file: Path,
    hidden: Stretches,
    settings: SpeechSettings,
    *,
    known: dict[str, Any] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Transcript:
    """The words of a finished recording, as `dictate.speech.transcribe` gives them, `hidden` stretches left out.

    `known` is what a `Remembering` recogniser of the same process has heard already. The result goes into the cache.

    Raises:
        InputError: the recording cannot be read, the model is not there, or a setting cannot be followed.
    """
    listen._check(settings)
    settings = listen._with_hint(settings)
    source_hash = file_hash(file)
    recogniser, effective = listen._ready(settings)
    if hidden:
        named = hashlib.sha256(json.dumps([RULES, *hidden]).encode()).hexdigest()[:12]
        effective = {**effective, "left out": f"{len(hidden)} stretches, {named}"}
    place = cache_file(settings.cache_folder, source_hash, effective)
    if settings.use_cache and (found := kept_transcript(place, source_hash)) is not None:
        return found
    sound = masked(decode(file), hidden)
    ear: Any = Remembering(recogniser, {} if known is None else known)
    result = listen._recognised(sound, settings, ear, effective, progress or (lambda done: None))
    if settings.use_cache:
        keep_transcript(place, result)
    return result


class CarefulEar:
    """Hears the chunks of a growing recording as `heard_recording` will, once no later sound can move their borders."""

    def __init__(self, settings: SpeechSettings) -> None:
        self.settings = listen._with_hint(settings)
        recogniser, self.effective = listen._ready(self.settings)
        self.known: dict[str, Any] = {}
        self._ear: Any = Remembering(recogniser, self.known)
        self._minutes: list[NDArray[np.float32]] = []
        self._levels = Levels()
        self._leveled = 0
        self._gain = 0.0

    def look(self, sound: Sound) -> tuple[tuple[Word, ...], float]:
        """The words of the closed chunks of the sound so far, and the second up to which they reach."""
        probabilities, gain = self._probabilities(sound)
        done = len(probabilities) * FRAME_SECONDS
        speech = voice.passages(probabilities, threshold=self.settings.speech_threshold, seconds=done)
        rows = voice.chunks(speech[:-1], probabilities, longest=self.settings.chunk_seconds)[:-1]
        words: list[Word] = []
        for i, row in enumerate(rows):
            samples = listen._samples(sound, row, gain)
            if i == 0:
                self._ear.languages(samples)
            heard = listen._heard(self._ear, samples, row, self.settings)
            words.extend(listen._moved(word, row) for word in heard.words)
        reach = rows[-1][-1].end if rows else 0.0
        return listen._in_order(words, done), reach

    def _probabilities(self, sound: Sound) -> tuple[NDArray[np.float32], float]:
        """Those of the whole minutes so far. When the sound has grown louder or softer than it was, all anew."""
        from faster_whisper.vad import get_vad_model

        block = voice._BLOCK
        minutes = len(sound.samples) // block
        for at in range(self._leveled, minutes):
            self._levels = with_samples(self._levels, sound.block(at * block, (at + 1) * block))
        self._leveled = minutes
        gain = float(np.clip(10 ** ((_BEST_LEVEL - loudness(self._levels)) / 20), 1.0, 32.0)) if minutes else 1.0
        if gain != self._gain:
            self._gain, self._minutes = gain, []
        for at in range(len(self._minutes) * block, minutes * block, block):
            # As `voice.speech_probabilities` does for each of its blocks, so that the final draft finds the same ones.
            begin = max(0, at - voice._RUN_IN)
            samples = sound.block(begin, at + block).astype(np.float32) * np.float32(gain / 32768)
            found = np.asarray(get_vad_model()(np.clip(samples, -1.0, 1.0)), dtype=np.float32).reshape(-1)
            self._minutes.append(found[(at - begin) // FRAME :])
        return (np.concatenate(self._minutes) if self._minutes else np.zeros(0, dtype=np.float32)), gain
