"""What the speech step can be told. One frozen value instead of a long list of arguments."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from dictate.speech.readings import Proposer

Way = Literal["quick", "default", "thorough"]
PACKAGED = ("base", "tiny.en")  # models that come as installed packages


def default_cache() -> Path:
    """`$DICTATE_CACHE`, else `dictate` in the user's cache (`$XDG_CACHE_HOME`, `%LOCALAPPDATA%` or `~/.cache`)."""
    if named := os.environ.get("DICTATE_CACHE"):
        return Path(named)
    above = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(above) if above else Path.home() / ".cache") / "dictate"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeechSettings:
    """How speech is recognised.

    Args:
        model: "base" (the shipped default), "tiny.en" (shipped, faster and poorer), a folder with a CTranslate2 Whisper
            model, or the name of one that lies in the local Hugging Face cache.
        plain: the shipped base model as packaged, without what it was taught of the trade; other models always are.
        device: "auto", "cpu" or "cuda". `auto` takes a graphics card that CTranslate2 can use, else the processor.
        precision: "auto" (float16 on a card, int8 on the processor) or a CTranslate2 compute type.
        language: the language spoken, as an ISO 639-1 code.
        beam: width of the beam search, 1 to 10.
        chunk_seconds: longest stretch given to the recogniser at once, 10 to 30 (Whisper's window).
        prompt: text put before each stretch as if it had just been said; empty for none.
        hotwords: words put before each stretch as a hint; empty for none. None: none for the taught model, and the
            lexicon's own list for every other.
        speech_threshold: probability of speech, 0 to 1, above which 32 ms of sound count as speech.
        proposer: thinks of other readings, which are weighed by the sound; None: the first reading is taken as it is.
        threads: processor threads; 0 for all that this process may use, at most 8.
        allow_network: whether a model name may be fetched from the hub. Off: nothing is ever fetched.
        use_cache: whether results are read from and written to the cache folder.
        cache: the cache folder, or None for the user's own (`default_cache`).
    """

    model: str = "base"
    plain: bool = False
    device: str = "auto"
    precision: str = "auto"
    language: str = "en"
    beam: int = 5
    chunk_seconds: float = 30.0
    prompt: str = ""
    hotwords: str | None = None
    speech_threshold: float = 0.35
    proposer: Proposer | None = None
    threads: int = 0
    allow_network: bool = False
    use_cache: bool = True
    cache: Path | None = None

    @property
    def cache_folder(self) -> Path:
        return self.cache if self.cache is not None else default_cache()
