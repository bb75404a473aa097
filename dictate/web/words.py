"""The lexicon that the pages use: the shipped tables with the practice's own laid over; it may grow while they run."""

from __future__ import annotations

import threading
from pathlib import Path

from dictate.exam.statements import Reading
from dictate.lexicon import Lexicon, load
from dictate.review import Offer, add_own_word
from dictate.speech.words import Transcript


class Words:
    """The lexicon, and the step that reads typed words with it. `folder` is where the practice's own tables lie."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.Lock()
        self._lexicon = load(folder if folder.is_dir() else None)

    @property
    def lexicon(self) -> Lexicon:
        return self._lexicon

    def take(self, offer: Offer) -> None:
        """Write an offered entry into the practice's own tables, and use it from now on."""
        with self._lock:
            self.folder.mkdir(parents=True, exist_ok=True)
            add_own_word(self.folder, offer)
            self._lexicon = load(self.folder)

    def read(self, transcript: Transcript, lexicon: Lexicon) -> Reading:
        """The language step on typed words; one at a time, for its models are large."""
        from dictate.language import read

        with self._lock:
            return read(transcript, lexicon)
