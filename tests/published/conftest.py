"""The main job as one function for the outside checks: a spoken exam as text in, a drafted record out."""

from collections.abc import Callable
from pathlib import Path

import pytest

from dictate.cli.steps import read
from dictate.draft import Steps, draft, hear
from dictate.exam.record import Record
from dictate.lexicon import load
from dictate.speech.words import Transcript


def _no_sound(file: Path) -> Transcript:
    raise AssertionError(f"{file} is no text")


@pytest.fixture
def drafted(tmp_path: Path) -> Callable[[str], Record]:
    """A function from what was said to the drafted record."""
    lexicon = load()
    steps = Steps(read=read, listen=_no_sound)

    def make(text: str) -> Record:
        file = tmp_path / "exam.txt"
        file.write_text(text, encoding="utf-8")
        return draft(hear(file, lexicon, listen=steps.listen), lexicon, steps=steps)

    return make
