"""The review by keyboard: a whole sitting typed into a real terminal application, and what it leaves in the file."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest
from exam_cases import LEXICON, said
from prompt_toolkit.application import create_app_session
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output import DummyOutput
from review_cases import NOW, READING, REPAIRED, SIDE, UNSURE, WHO, drafted, phrase, seen
from rich.console import Console

from dictate.errors import InputError
from dictate.exam.record import Patient, Record, SpokenAnswer, to_json
from dictate.exam.statements import Reading
from dictate.lexicon.tables import Lexicon
from dictate.review import blocks, load_review
from dictate.review.files import add_decisions
from dictate.review.terminal.desk import Desk
from dictate.review.terminal.screen import Screen
from dictate.review.terminal.sitting import sit
from dictate.speech.words import Transcript

ENTER, ESCAPE, END = "\r", "\x1b", "\x05"


@dataclass
class Seat:
    """A draft in a file, a keyboard, and what was shown."""

    file: Path
    keyboard: PipeInput
    shown: io.StringIO

    def type(self, keys: str, *, read: Sequence[str] = ()) -> Desk:
        """Sit down, type, and stay until the sitting ends. `read` are the sites that typed words are read as."""

        def reader(transcript: Transcript, lexicon: Lexicon) -> Reading:
            return Reading(statements=tuple(said(transcript.text, transcript.text, site, "left") for site in read))

        console = Console(file=self.shown, width=100)
        desk = Desk(load_review(self.file), Screen(console), LEXICON, WHO, reader)
        self.keyboard.send_text(keys)
        sit(desk)
        return desk


@pytest.fixture
def seat(tmp_path: Path) -> Iterator[Seat]:
    with create_pipe_input() as keyboard, create_app_session(input=keyboard, output=DummyOutput()):
        yield Seat(tmp_path / "exam.record.json", keyboard, io.StringIO())


def write(seat: Seat, record: Record) -> str:
    text = to_json(record)
    seat.file.write_text(text, encoding="utf-8")
    return text


DONE = "v" + ENTER  # from the record to the summary, and out


def test_whole_review_by_keyboard(seat: Seat) -> None:
    """One key a doubt, and two phrases: the record is ready to be signed, and the draft's file is untouched."""
    draft = write(
        seat,
        drafted(
            seen("a", "elbow", status="abnormal", finding="mass", doubts=(SIDE,)),
            seen("b", "lung", "lungs clear", side="left", doubts=(REPAIRED,)),
            seen("c", "skin", "no pain", doubts=(READING,)),
            unplaced=(phrase("something odd"), phrase("today")),
        ),
    )
    desk = seat.type("1" + "1" + "n" + "d" + "2" + DONE)
    assert desk.screen.presses == 5 + 2
    assert not blocks(desk.record)
    assert seat.file.read_text(encoding="utf-8") == draft
    kept = json.loads(seat.file.with_name("exam.review.json").read_text(encoding="utf-8"))
    assert [d["kind"] for d in kept["decisions"]] == ["settle", "settle", "remove", "dismiss", "place in section"]
    assert {d["by"] for d in kept["decisions"]} == {WHO}
    assert "BEFORE YOU SIGN" in seat.shown.getvalue()


def test_words_before_and_after_are_shown(seat: Seat) -> None:
    """A doubt stands with the talk around its words."""
    write(seat, drafted(seen("c", "skin", "no pain", doubts=(READING,))))
    seat.type("1" + DONE)
    assert "… left elbow thick and no pain and the weight is" in " ".join(seat.shown.getvalue().split())


def test_free_correction_takes_three_presses(seat: Seat) -> None:
    """A wrong word: its other reading, then Enter on the words, then Enter on what was understood."""
    write(seat, drafted(seen("a", "elbow", doubts=(UNSURE,))))
    desk = seat.type("2" + ENTER + ENTER + DONE, read=["skin"])
    assert desk.screen.presses == 3 + 2
    (one,) = desk.record.observations
    assert (one.site, one.evidence[-1].text) == ("skin", "left elbow sick")


def test_phrase_is_placed_by_letters(seat: Seat) -> None:
    """A phrase is placed by a few letters of a site, its side, and that it is normal."""
    write(seat, drafted(unplaced=(phrase("something odd"),)))
    desk = seat.type("f" + "elb" + ENTER + "r" + "n" + DONE)
    (one,) = desk.record.observations
    assert (one.site, one.side, one.status) == ("elbow", "right", "normal")
    assert desk.record.unplaced == ()


def test_undo_and_later(seat: Seat) -> None:
    """What was answered comes back with "u"; what was put off is asked again when the reviewer goes back."""
    write(seat, drafted(seen("a", "elbow", doubts=(SIDE,)), seen("b", "skin", "no pain", doubts=(READING,))))
    desk = seat.type("1" + "u" + "s" + "1" + "d" + "2" + DONE)
    assert [o.side for o in desk.record.observations] == ["right", None]
    assert len(desk.review.decisions) == 4


def test_line_of_the_record_is_edited_in_place(seat: Seat) -> None:
    """A line is chosen by its number; its side is changed with one key, another line taken out, a site marked."""
    write(seat, drafted(seen("a", "eye", side="left"), seen("b", "skin")))
    desk = seat.type("1" + ENTER + "r" + "2" + ENTER + "n" + "a" + "gai" + ENTER + "e" + "lame" + ENTER + DONE)
    assert [(o.site, o.side, o.status) for o in desk.record.observations] == [
        ("eye", "right", "normal"),
        ("gait", None, "not_examined"),
    ]


def test_patient_and_sections_are_edited(seat: Seat) -> None:
    """Fields of the patient and parts of a section are typed; Enter leaves a field as it is."""
    write(seat, drafted())
    patient = "i" + ENTER * 3 + "female" + ENTER + "yes" + ENTER + "3 years" + ENTER
    desk = seat.type(patient + "w" + "2" + "rest a week" + ENTER + DONE)
    p = desk.record.patient
    assert (p.name, p.species, p.sex, p.neutered) == ("Moss", "dog", "female", True)
    assert p.age is not None and (p.age.number, p.age.unit) == (3, "a")
    assert [e.text for e in desk.record.other.plan] == ["rest a week"]


def test_review_is_taken_up_again(seat: Seat) -> None:
    """A review that was stopped goes on where it was left."""
    write(seat, drafted(seen("a", "elbow", doubts=(SIDE,)), seen("b", "skin", "no pain", doubts=(READING,))))
    seat.type("1" + "q")
    desk = seat.type("1" + DONE)
    assert not blocks(desk.record) and len(desk.review.decisions) == 2


def test_two_sittings_lose_no_decision(seat: Seat) -> None:
    """Who decides on an old state of the file is told, and nothing is written over the other's decision."""
    write(seat, drafted(seen("a", "elbow", doubts=(SIDE,))))
    stale = load_review(seat.file)
    other = seat.type("1" + DONE).review
    with pytest.raises(InputError, match="somebody else"):
        add_decisions(stale, other.decisions)
    assert load_review(seat.file).decisions == other.decisions


def test_review_of_another_draft_is_refused(seat: Seat) -> None:
    """Decisions are never laid over a draft that they were not made about; files that are none are named."""
    write(seat, drafted(seen("a", "elbow", doubts=(SIDE,))))
    seat.type("1" + DONE)
    write(seat, drafted(seen("a", "skin")))
    with pytest.raises(InputError, match="another draft"):
        load_review(seat.file)
    seat.file.with_name("exam.review.json").write_text("[]")
    with pytest.raises(InputError, match="no review"):
        load_review(seat.file)
    seat.file.write_text("{}")
    with pytest.raises(InputError, match="no drafted record"):
        load_review(seat.file)
    with pytest.raises(InputError, match="drafted record is wanted"):
        load_review(seat.file.with_name("exam.txt"))


def test_markup_in_words_is_shown_as_it_is(seat: Seat) -> None:
    """Brackets and escape codes in a name or phrase are printed, not obeyed."""
    write(seat, drafted(unplaced=(phrase("today"),), patient=Patient(name="[red]Moss[/red]\x1b[2J")))
    seat.type("d" + DONE)
    assert "[red]Moss[/red][2J" in seat.shown.getvalue() and "\x1b" not in seat.shown.getvalue()


def test_answer_spoken_during_the_exam_is_undone_with_the_same_key(seat: Seat) -> None:
    """An answer that was heard aloud is taken back with "u" like any other, and what it took out is asked again."""
    one = seen("c", "skin", "no pain", doubts=(READING,))
    aloud = SpokenAnswer(
        does="remove", observations=("c",), doubt=READING, choice="not meant", start=1.0, end=1.5, time=NOW
    )
    write(seat, drafted(one, seen("d", "eye", side="left"), spoken=(aloud,)))
    desk = seat.type("u" + "d" + "1" + DONE)
    assert [o.site for o in desk.record.observations] == ["skin", "eye"]
    assert not blocks(desk.record)
