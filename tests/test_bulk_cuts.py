"""Recordings with several exams are cut where another patient is introduced; each cut carries a doubt."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from bulk_cases import BELLA, REX, read, said

from dictate.bulk.cuts import KIND, Piece, cut, cut_places, doubt_the_cuts
from dictate.bulk.parts import joined
from dictate.draft import Heard, Steps, draft
from dictate.exam.record import Record, Source
from dictate.exam.statements import Reading
from dictate.lexicon import load
from dictate.speech.words import Transcript, Unheard

LEXICON = load()
LONG = "The coat is fine and the skin is fine. " * 8


def talk(text: str) -> Transcript:
    return said(text.encode())


def begins(text: str) -> list[str]:
    """The first three words of every later exam in a talk."""
    transcript = talk(text)
    return [" ".join(w.text for w in transcript.words[i : i + 3]) for i in cut_places(transcript, LEXICON)]


@pytest.mark.parametrize(
    ("text", "later"),
    [
        (f"Bella, Labrador, spayed, five years old. {LONG}", []),
        (f"Bella, Labrador, spayed, five years old. {LONG} Next patient. Rex. {LONG}", ["Next patient. Rex."]),
        (
            f"Bella, Labrador, spayed, five years old. {LONG} Rex, tabby, neutered male, nine years old. {LONG}",
            ["Rex,"],
        ),
        (f"Bella, Labrador, spayed. {LONG} All done, off you go. Next up is a tabby, neutered. {LONG}", ["Next up is"]),
        (f"Bella, Labrador, spayed. {LONG} That's everything. Hello Rex, a Persian, entire. {LONG}", ["Hello Rex, a"]),
    ],
    ids=["one exam", "said so", "fully introduced", "next up", "closed and opened"],
)
def test_a_new_patient_begins_a_new_exam(text: str, later: list[str]) -> None:
    """The cut is before the words that introduce the patient."""
    found = begins(text)
    assert len(found) == len(later)
    assert all(f.startswith(wanted) for f, wanted in zip(found, later, strict=True))


@pytest.mark.parametrize(
    "text",
    [
        f"Bella, Labrador, spayed, five years old. {LONG} So, Bella, spayed Labrador, five years old. {LONG}",
        f"Bella, Labrador, spayed. {LONG} Her brother is a Labrador too, and he limps. {LONG}",
        f"Bella, Labrador, spayed. {LONG} Next we look at the left ear. {LONG} The dog is calm. {LONG}",
    ],
    ids=["told again", "a brother", "next site"],
)
def test_the_same_patient_goes_on(text: str) -> None:
    """A summary, a relative or the word "next" begins no other exam."""
    assert begins(text) == []


def test_every_word_is_in_exactly_one_exam() -> None:
    """The pieces put together are the whole talk, their times those of the whole, their sources' hashes different."""
    whole = talk(BELLA + REX)
    pieces = cut(whole, LEXICON)
    assert len(pieces) == 2
    assert tuple(w for p in pieces for w in p.transcript.words) == whole.words
    assert len({p.transcript.source_hash for p in pieces}) == 2
    assert all(p.transcript.text == " ".join(w.text for w in p.transcript.words) for p in pieces)


def drafted(piece: Piece, *, empty: bool = False) -> Record:
    source = Source(name="x.ogg", kind="sound", sha256="0" * 64, notes=piece.notes)
    steps = Steps(read=(lambda t, lexicon: Reading()) if empty else read, listen=lambda _: piece.transcript)
    now = datetime(2026, 5, 4, tzinfo=UTC)
    return doubt_the_cuts(draft(Heard(piece.transcript, source), LEXICON, steps=steps, now=now), piece)


def test_each_cut_carries_a_doubt_on_both_sides() -> None:
    """The exam before and the exam after each ask whether what stands at the cut is theirs."""
    first, second = (drafted(p) for p in cut(talk(BELLA + REX), LEXICON))
    for record in (first, second):
        doubts = [d for o in record.observations for d in o.doubts if d.kind == KIND]
        assert len(doubts) == 1
        assert doubts[0].choices
        assert "part" in record.source.notes[0]
    assert "Next patient" in first.observations[-1].doubts[-1].message


def test_a_cut_of_an_exam_without_observations_is_not_silent() -> None:
    """The doubt then stands among the unplaced phrases, with words of the piece as they stand in it."""
    for piece in cut(talk(BELLA + REX), LEXICON):
        record = drafted(piece, empty=True)
        (phrase,) = record.unplaced
        assert piece.transcript.text[phrase.char_start : phrase.char_end] == phrase.text


def test_a_recording_of_one_exam_gets_no_doubt() -> None:
    """Without a cut nothing is asked."""
    (piece,) = cut(talk(BELLA), LEXICON)
    assert piece.transcript == talk(BELLA)
    assert not any(o.doubts for o in drafted(piece).observations)


def test_joined_recordings_are_one_talk() -> None:
    """Times of the second one count from the end of the first one, and nothing of either is lost."""
    one, two = talk(BELLA), talk(REX)
    both = joined(
        [one, Transcript(two.words, two.text, "b", two.sound, {}, (Unheard(1, 2, "noise"),))], source_hash="c"
    )
    length = one.sound.seconds if one.sound else 0
    assert both.sound is not None
    assert both.sound.seconds == pytest.approx(length + (two.sound.seconds if two.sound else 0))
    assert both.text == f"{one.text} {two.text}"
    assert both.words[len(one.words)].start == pytest.approx(two.words[0].start + length)
    assert both.unheard[0].start == pytest.approx(1 + length)
