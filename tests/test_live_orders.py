"""Orders behind the wake word: as people say them, and nothing else."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import pytest
from live_cases import Told

from dictate.lexicon import load
from dictate.live.orders import order_at_end, order_heard, order_table
from dictate.live.spoken import told_once

sys.path.append(str(Path(__file__).parent.parent / "scripts"))
TABLE = order_table(load())


def heard(text: str, *likely: str) -> str | None:
    found = order_heard(text, TABLE, Told(likely=likely).likelihoods)
    return found.order if found else None


@pytest.mark.parametrize("row", [r for r in load().order_words if r.order not in ("wake", "courtesy")])
def test_every_phrase_of_the_table_is_its_order(row: object) -> None:
    """Each phrase behind the wake word is the order that its row names, with courtesies and signs or without."""
    said, order = row.said, row.order  # type: ignore[attr-defined]
    assert heard(f"Notebook, {said}.") == order
    assert heard(f"notebook {said} please") == order
    assert heard(f"Okay, Notebook. {said.capitalize()}!") == order


@pytest.mark.parametrize(
    "text",
    [
        "Pause.",
        "Notebook.",
        "Scratch that.",
        "The notebook is on the desk, carry on.",
        "Notebook, pause the drip when it beeps.",
        "Notebook, what is left is fine.",
        "My notebook, finish it.",
        "We finish with the tail.",
    ],
)
def test_ordinary_speech_is_no_order(text: str) -> None:
    """Without the wake word, without an order, or with more words behind it, nothing is obeyed."""
    assert heard(text) is None


def test_what_only_sounds_like_an_order_needs_the_sound_to_bear_it_out() -> None:
    """A mis-heard order counts only where the order's own words are likely in the sound."""
    assert heard("No book, paws.") is None
    assert heard("No book, paws.", "Notebook, pause.") == "pause"


def test_an_order_may_end_an_utterance() -> None:
    """Said in one breath with the talk before it, the order is told with the place of its wake word."""
    place, order = order_at_end("The heart is fine, notebook, read back.", TABLE) or (0, None)
    assert place == 4
    assert order is not None and order.order == "read back"
    assert order_at_end("The notebook is fine, read back the label.", TABLE) is None


def test_the_practice_chooses_the_word() -> None:
    """Another wake word takes the place of the table's; the table's own then does nothing."""
    other = order_table(load(), "lighthouse keeper")
    assert other.exact("Lighthouse keeper, pause.") is not None
    assert other.exact("Notebook, pause.") is None


def test_what_the_recogniser_says_again_is_taken_once() -> None:
    """A sentence that comes again, a little otherwise or broken off, is one; two sentences stay two."""
    assert told_once("Notebook, finish the exam. Notebook, finish the exam. Note") == "Notebook, finish the exam."
    assert told_once("Left is fine. Right is thick.") == "Left is fine. Right is thick."


def test_no_narration_holds_an_order() -> None:
    """No sentence of a narration for work or for choosing is an order, word for word, or ends with one."""
    from parts import part_of

    for file in sorted((Path(__file__).parent / "narrations").glob("*.json")):
        if part_of(file.stem) == "held":
            continue
        for piece in re.split(r"(?<=[.!?])\s+", json.loads(file.read_text(encoding="utf-8"))["text"]):
            assert TABLE.exact(piece) is None
            assert order_at_end(piece, TABLE) is None
