"""What every page of the review shares: the review so far, who reviews, the screen, and the tools at hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from dictate.draft import Reader
from dictate.errors import InputError
from dictate.exam.record import Evidence, Observation, Record
from dictate.lexicon.tables import Lexicon
from dictate.review.decisions import Decision, Undo, last_to_undo, now
from dictate.review.entering import read_words
from dictate.review.files import ReviewFile, add_decisions
from dictate.review.spoken import spoken_decisions
from dictate.review.terminal.playing import play
from dictate.review.terminal.screen import Screen


@dataclass
class Desk:
    """The state of one sitting. Every decision is written before the next question is asked.

    `later` holds the ids of the questions that were put off; they are asked again when asked for.
    """

    review: ReviewFile
    screen: Screen
    lexicon: Lexicon
    by: str
    read: Reader
    sound: Path | None = None
    later: set[str] = field(default_factory=set)
    note: str = ""

    @property
    def record(self) -> Record:
        return self.review.record

    def take(self, *decisions: Decision) -> None:
        """Write decisions beside the draft."""
        self.review = add_decisions(self.review, decisions)

    def undo(self) -> None:
        """Take the last decision back; when there is none left, the last answer that was spoken during the exam."""
        last = last_to_undo((*spoken_decisions(self.review.draft), *self.review.decisions))
        if last is None:
            self.note = "Nothing to undo."
            return
        self.take(Undo(by=self.by, time=now(), of=last.id))
        self.note = f"Undone: {last.kind}."

    def play(self, evidence: Sequence[Evidence]) -> None:
        """The sound of the words, or one line why there is none."""
        try:
            if self.sound is None:
                raise InputError("the recording is not at hand (--sound FOLDER)")
            for one in evidence:
                if one.start is not None:
                    play(self.sound, one)
        except InputError as error:
            self.note = f"No sound: {error}."

    def understood(self, text: str, evidence: tuple[Evidence, ...]) -> tuple[Observation, ...]:
        """The observations that the language step reads in typed words."""
        self.screen.show("Reading ...", style="dim")
        return read_words(text, self.record, self.lexicon, self.read, by=self.by, evidence=evidence)
