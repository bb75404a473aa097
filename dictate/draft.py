"""One file to one drafted record: text or sound in, the language step, the exam step, the record out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from dictate import __version__
from dictate.errors import InputError
from dictate.exam.context import ExamSettings
from dictate.exam.drafting import make_record
from dictate.exam.record import MadeBy, Record, Source
from dictate.exam.statements import Reading
from dictate.lexicon.tables import Lexicon
from dictate.live.events import Event, read_events
from dictate.speech.words import Transcript
from dictate.textfile import check_english, read_text_file

TEXT_ENDINGS = (".txt", ".text")
Reader = Callable[[Transcript, Lexicon], Reading]
Listener = Callable[[Path], Transcript]


@dataclass(frozen=True, slots=True)
class Heard:
    """The words of one file, what the record says of the file, and what was ordered and answered aloud meanwhile."""

    transcript: Transcript
    source: Source
    events: tuple[Event, ...] = ()


@dataclass(frozen=True, slots=True)
class Steps:
    """The two heavy steps, as functions, so that they are loaded once for many files and only when needed.

    `listen` makes words of a sound file; `read` makes statements of words.
    """

    read: Reader
    listen: Listener
    exam: ExamSettings = field(default_factory=ExamSettings)


def is_text(file: Path) -> bool:
    """Whether a file is taken for a talk written down; every other file is taken for sound."""
    return file.suffix.lower() in TEXT_ENDINGS


def hear(file: Path, lexicon: Lexicon, *, listen: Listener) -> Heard:
    """The words of a text or sound file. InputError where it cannot be used."""
    if is_text(file):
        text = read_text_file(file)
        check_english(text.transcript.text, lexicon, where=str(file))
        source = Source(name=file.name, kind="text", sha256=text.transcript.source_hash, notes=text.notes)
        return Heard(text.transcript, source)
    transcript = listen(file)
    if not transcript.text.strip():
        raise InputError("no speech was heard in it", where=str(file))
    source = Source(name=file.name, kind="sound", sha256=transcript.source_hash)
    return Heard(transcript, source, read_events(file))


def draft(heard: Heard, lexicon: Lexicon, *, steps: Steps, now: datetime | None = None) -> Record:
    """The drafted record of what was heard. `now` is the drafting time; everything else follows from the rest."""
    settings = {**heard.transcript.settings, **steps.exam.told()}
    made_by = MadeBy(
        program="dictate-exam",
        version=__version__,
        rule_set=lexicon.rule_set,
        model=settings.pop("model", None),
        settings=settings,
    )
    reading = steps.read(heard.transcript, lexicon)
    if heard.events:
        from dictate.live.replay import replayed, taken_back

        reading = taken_back(reading, heard.transcript, heard.events)
    record = make_record(
        reading,
        heard.transcript,
        lexicon,
        source=heard.source,
        made_by=made_by,
        drafted=now or datetime.now(UTC).replace(microsecond=0),
        settings=steps.exam,
    )
    return replayed(record, heard.events) if heard.events else record
