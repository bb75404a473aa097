"""The speech step: a sound file in, its words out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dictate.errors import InputError
from dictate.sound.sound import Sound, decode, file_hash
from dictate.speech.cache import cache_file, keep_transcript, kept_transcript
from dictate.speech.context import hint_words, named
from dictate.speech.guard import Kept, kept
from dictate.speech.memory import keep, memory_file, remembered
from dictate.speech.models import TAUGHT, model_folder
from dictate.speech.readings import calibrated, weights
from dictate.speech.recogniser import Recogniser, loaded
from dictate.speech.settings import SpeechSettings
from dictate.speech.voice import (
    Stretch,
    chunks,
    gain_for,
    original_time,
    passages,
    silences,
    speech_probabilities,
)
from dictate.speech.words import Transcript, Unheard, Word

# Changes whenever the same sound under the same settings may give other words than before: old results are passed over.
RULES = "3"
_THIS_LANGUAGE = 0.3  # measured on synthetic voices: English 0.86 and more, French, German and Spanish 0.04 and less
_TOO_POOR = 0.2  # share of words likely to be wrong
_FEW = 10  # words from which a share of them means something
_WORDLESS = 1.0  # seconds of speech without a word from which they are listed

Progress = Callable[[float], None]


def transcribe(
    path: Path | str, *, settings: SpeechSettings | None = None, progress: Progress | None = None
) -> Transcript:
    """The words of a sound file with start, end and probability, from the cache where they were recognised before.

    Memory stays bounded for hours of sound. Stretches that gave no words stand in `unheard`, damage in `sound`.

    Args:
        path: a file that `dictate.sound.decode` reads.
        settings: see `SpeechSettings`; the shipped model on whatever device there is by default.
        progress: called with the fraction done, 0 to 1, never falling.

    Raises:
        InputError: the sound cannot be read, the model is not there, or a setting cannot be followed.
    """
    settings = settings or SpeechSettings()
    _check(settings)
    settings = _with_hint(settings)
    told = _rising(progress)
    source_hash = file_hash(path)
    if Path(path).stat().st_size == 0:
        raise InputError("the file is empty (0 bytes)", where=str(path))
    recogniser, effective = _ready(settings)
    place = cache_file(settings.cache_folder, source_hash, effective)
    if settings.use_cache and (found := kept_transcript(place, source_hash)) is not None:
        told(1.0)
        return found
    sound = decode(path, progress=lambda done: told(0.05 * done))
    heard = memory_file(settings.cache_folder, source_hash, effective)
    if settings.use_cache:
        recogniser = replace(recogniser, memory=remembered(heard, source_hash))
    result = _recognised(sound, settings, recogniser, effective, lambda done: told(0.05 + 0.95 * done))
    if settings.use_cache:
        keep_transcript(place, result)
        keep(heard, recogniser.memory)
    told(1.0)
    return result


def transcribe_sound(
    sound: Sound, *, settings: SpeechSettings | None = None, progress: Progress | None = None
) -> Transcript:
    """The same for a sound that is in memory already; nothing is read from or written to the cache.

    Raises:
        InputError: the model is not there, or a setting cannot be followed.
    """
    settings = settings or SpeechSettings()
    _check(settings)
    settings = _with_hint(settings)
    recogniser, effective = _ready(settings)
    return _recognised(sound, settings, recogniser, effective, _rising(progress))


def _with_hint(settings: SpeechSettings) -> SpeechSettings:
    """The settings with the hint filled in: none for the model that was taught the trade's words (it needs none, and a
    hint makes it write more than was said), the lexicon's for every other."""
    if settings.hotwords is not None:
        return settings
    taught = settings.model == TAUGHT and not settings.plain
    return replace(settings, hotwords="" if taught else hint_words())


def _check(settings: SpeechSettings) -> None:
    if not 1 <= settings.beam <= 10:
        raise InputError(f"must be from 1 to 10, not {settings.beam}", where="beam")
    if not 10 <= settings.chunk_seconds <= 30:
        raise InputError(f"must be from 10 to 30 seconds, not {settings.chunk_seconds}", where="chunk_seconds")
    if not 0 < settings.speech_threshold < 1:
        raise InputError(f"must lie between 0 and 1, not {settings.speech_threshold}", where="speech_threshold")


def _ready(settings: SpeechSettings) -> tuple[Recogniser, dict[str, str]]:
    """The loaded recogniser, and everything that decides about the words, by name. The hint is filled in already."""
    model = model_folder(settings)
    recogniser = loaded(model.folder, settings.device, settings.precision, settings.threads)
    if settings.language != "en" and not recogniser.model.model.is_multilingual:
        raise InputError(f"this model knows English alone, not {settings.language!r}", where=f"model {model.name!r}")
    if settings.language not in recogniser.model.supported_languages:
        raise InputError(f"no language of this model: {settings.language!r}", where="language")
    return recogniser, {
        "model": model.name if model.shipped else str(model.folder.name),
        "weights": model.weights,
        "device": recogniser.device,
        "precision": recogniser.precision,
        "language": settings.language,
        "beam": str(settings.beam),
        "chunk_seconds": f"{settings.chunk_seconds:g}",
        "speech_threshold": f"{settings.speech_threshold:g}",
        "prompt": named(settings.prompt),
        "hotwords": named(settings.hotwords or ""),
        "recogniser": recogniser.versions,
        "readings": settings.proposer.name if settings.proposer else "",
        "rules": RULES,
    }


def _recognised(
    sound: Sound, settings: SpeechSettings, recogniser: Recogniser, effective: dict[str, str], told: Progress
) -> Transcript:
    gain = gain_for(sound)
    probabilities = speech_probabilities(sound, gain=gain, progress=lambda done: told(0.05 * done))
    speech = passages(probabilities, threshold=settings.speech_threshold, seconds=sound.seconds)
    words: list[Word] = []
    unheard = list(silences(sound, speech))
    note = sound.note
    rows = chunks(speech, probabilities, longest=settings.chunk_seconds)
    for i, row in enumerate(rows):
        samples = _samples(sound, row, gain)
        if i == 0 and (strange := _strange(recogniser.languages(samples), settings.language)):
            note = replace(note, warnings=(*note.warnings, strange))
        result = _heard(recogniser, samples, row, settings)
        words.extend(_moved(word, row) for word in result.words)
        unheard.extend(
            replace(u, start=round(original_time(row, u.start), 2), end=round(original_time(row, u.end), 2))
            for u in result.dropped
        )
        told(0.05 + 0.95 * (i + 1) / len(rows))
    in_order = _in_order(calibrated_words(words, settings), sound.seconds)
    unheard.extend(_wordless(speech, in_order, unheard))
    note = replace(note, warnings=(*note.warnings, *too_poor(in_order)))
    return Transcript(
        in_order,
        " ".join(w.text for w in in_order),
        sound.source_hash,
        note,
        effective,
        tuple(sorted(unheard, key=lambda u: (u.start, u.end))),
    )


def _heard(
    recogniser: Recogniser, samples: NDArray[np.float32], row: tuple[Stretch, ...], settings: SpeechSettings
) -> Kept:
    """What is heard in a chunk; heard again without the hint where that left speech without words, and the fuller of
    the two kept: a hint makes rare words come out right, and now and then makes the recogniser skip a sentence."""
    first = kept(recogniser.hear(samples, settings))
    silent = _wordless_seconds(first, row)
    if not silent or not (settings.hotwords or settings.prompt):
        return first
    second = kept(recogniser.hear(samples, replace(settings, hotwords="", prompt="")))
    return second if _wordless_seconds(second, row) < silent - 0.5 else first


def _wordless_seconds(result: Kept, row: tuple[Stretch, ...]) -> float:
    """Seconds of speech in a chunk that have no word; times in the chunk."""
    whole = (Stretch(0.0, sum(s.length for s in row)),)
    return sum(u.end - u.start for u in _wordless(whole, result.words, list(result.dropped)))


def _strange(languages: dict[str, float], wanted: str) -> str:
    """A warning where the first speech is hardly in the language that was asked for, else an empty text. The words are
    kept all the same: a recogniser told to hear English makes English of anything."""
    if languages.get(wanted, 0.0) >= _THIS_LANGUAGE:
        return ""
    likely = max(languages, key=lambda code: languages[code])
    return f"the speech does not sound like language {wanted!r} (more like {likely!r}): the words may mean nothing"


def _samples(sound: Sound, row: tuple[Stretch, ...], gain: float) -> NDArray[np.float32]:
    parts = [sound.stretch(s.start, s.end) for s in row]
    return np.clip(np.concatenate(parts) * np.float32(gain), -1.0, 1.0)


def _moved(word: Word, row: tuple[Stretch, ...]) -> Word:
    """The word with its times in the whole sound, both ends in the stretch in which its middle lies."""
    middle = (word.start + word.end) / 2
    at = 0.0
    for stretch in row:
        if middle <= at + stretch.length or stretch is row[-1]:
            start = min(max(word.start - at, 0.0), stretch.length) + stretch.start
            end = min(max(word.end - at, 0.0), stretch.length) + stretch.start
            return replace(word, start=round(start, 3), end=round(max(start, end), 3))
        at += stretch.length
    return word


def calibrated_words(words: Sequence[Word], settings: SpeechSettings) -> list[Word]:
    """The words with probabilities that mean something; those weighed with other readings have them already."""
    if settings.proposer is not None:
        return list(words)
    w = weights()
    return [replace(word, probability=calibrated(word.probability, w)) for word in words]


def too_poor(words: Sequence[Word]) -> tuple[str, ...]:
    """A warning where so many words are likely to be wrong that the talk cannot be relied on."""
    wrong = sum(1 - w.probability for w in words)
    if len(words) < _FEW or wrong < _TOO_POOR * len(words):
        return ()
    return (f"too poor to be relied on: about one word in {max(2, round(len(words) / wrong))} was likely misheard",)


def _in_order(words: list[Word], seconds: float) -> tuple[Word, ...]:
    """The words with starts that never go back and ends inside the sound; as they come they may cross a little."""
    result: list[Word] = []
    last = 0.0
    for word in words:
        start = min(max(word.start, last), round(seconds, 3))
        end = min(max(word.end, start), round(seconds, 3))
        # Rounded as the file of words is, so that words from the cache are the same ones.
        sure = round(word.probability, 4)
        result.append(replace(word, start=round(start, 3), end=round(end, 3), probability=sure))
        last = start
    return tuple(result)


def _wordless(speech: tuple[Stretch, ...], words: tuple[Word, ...], unheard: list[Unheard]) -> list[Unheard]:
    """Stretches of speech of a second and more, pads left off, in which there is no word and that are not listed."""
    taken = sorted([(w.start, w.end) for w in words] + [(u.start, u.end) for u in unheard if u.kind == "not kept"])
    found = []
    for passage in speech:
        at = passage.start
        for start, end in [
            *(t for t in taken if t[1] > passage.start and t[0] < passage.end),
            (passage.end, passage.end),
        ]:
            if start - at >= _WORDLESS + 0.6:  # the pads on both sides
                found.append(Unheard(round(at, 2), round(start, 2), "no words"))
            at = max(at, end)
    return found


def _rising(progress: Progress | None) -> Progress:
    best = -1.0

    def told(done: float) -> None:
        nonlocal best
        if progress is not None and done > best:
            best = min(1.0, done)
            progress(best)

    return told
