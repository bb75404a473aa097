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


@pytest.fixture(scope="session")
def drafted(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Record]:
    """A function from what was said to the drafted record; one talk is drafted once, however many checks ask for it."""
    lexicon = load()
    steps = Steps(read=read, listen=_no_sound)
    file = tmp_path_factory.mktemp("talk") / "exam.txt"
    known: dict[str, Record] = {}

    def make(text: str) -> Record:
        if text not in known:
            file.write_text(text, encoding="utf-8")
            known[text] = draft(hear(file, lexicon, listen=steps.listen), lexicon, steps=steps)
        return known[text]

    return make
