"""`dictate exam`: an exam recorded, shown to the room as it is understood, drafted, and handed to the review."""

from __future__ import annotations

import contextlib
import os
import secrets
import threading
import webbrowser
from argparse import Namespace
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from dictate.cli import DONE, SOME_FAILED, say
from dictate.cli.batch import quiet
from dictate.cli.draft import write_draft
from dictate.cli.steps import read
from dictate.draft import Steps, draft, hear
from dictate.errors import InputError
from dictate.exam.record import Record
from dictate.files import check_writable
from dictate.lexicon import Lexicon, load

KEY_FILE = ".room-key"


@dataclass(frozen=True, slots=True)
class Begun:
    """An exam that is set up: where it is recorded, and what the day list says of the patient."""

    file: Path
    resumed: bool
    told: dict[str, Any]


def run(options: Namespace) -> int:
    """Record until the exam is finished (by order, by the end of the file, or Ctrl-C), draft it, open the review."""
    from dictate.live import recording as recordings
    from dictate.live.board import Board
    from dictate.live.capture import Capture
    from dictate.live.careful import CarefulProcess
    from dictate.live.events import EventLog, event_now, is_paused, read_events
    from dictate.live.exam import Exam, Parts
    from dictate.live.hearing import QuickEar
    from dictate.live.orders import order_table
    from dictate.live.questions import AT_ONCE, AT_ONCE_SMALL, SMALL
    from dictate.live.view import View
    from dictate.live.voice_out import speaker
    from dictate.ways import speech_settings

    quiet()
    lexicon = load(options.lexicon)
    check_writable(options.out)
    settings = speech_settings(options.model, lexicon=options.lexicon)
    begun = _begin(options)
    orders = order_table(lexicon, options.wake_word)
    if not orders.wake:
        raise InputError("the wake word needs a letter", where="--wake-word")
    board = Board(View(wake=" ".join(orders.wake), notice=options.notice, patient=_patient_words(begun.told)))
    with serving(options, board) as room:
        careful = CarefulProcess(settings)
        hearer = QuickEar(settings)
        warm_up(hearer, lexicon)
        recording = recordings.resume(begun.file) if begun.resumed else recordings.begin(begun.file)
        log = EventLog(begun.file)
        source = _source(options, room.phone, recording.seconds)
        board.show(source=source.name)
        capture = Capture(source, recording, log, board)
        capture.events = read_events(begun.file)
        capture.paused = is_paused(capture.events)
        capture.note(event_now("broken off" if begun.resumed else "begun", recording.seconds, **begun.told))
        parts = Parts(
            hearer=hearer,
            careful=careful,
            steps=Steps(read=read, listen=lambda file: careful.finish(file, (), lambda done: None)),
            lexicon=lexicon,
            orders=orders,
            speak=speaker() if options.speak else None,
            questions=AT_ONCE_SMALL if 0 < options.screen < SMALL else AT_ONCE,
        )
        exam = Exam(recording, capture, board, parts)
        exam.start()
        say(f"dictate: recording to {begun.file}; “{' '.join(orders.wake)}, finish” or Ctrl-C ends the exam")
        _wait(exam)
        capture.join()
        capture.note(event_now("finished", recording.seconds))
        recording.finish()
        log.close()
        board.show(state="finishing", provisional="")
        try:
            note, file = _drafted(options, begun.file, careful, lexicon)
        except InputError as error:
            board.show(state="failed")
            board.trouble("draft", f"{error.what}; the recording is kept")
            raise
        finally:
            careful.close()
        if note:
            say(f"dictate: {note}")
        board.show(state="finished", review=file.name)
        say(f"dictate: {file}: drafted; a licensed veterinarian reviews and signs it")
        if capture.fault:
            say(f"dictate: {capture.fault}")
    _hand_over(options, file, begun)
    return SOME_FAILED if capture.fault or exam.fault else DONE


def warm_up(hearer: Any, lexicon: Lexicon) -> None:
    """Load everything before the sound begins: loading would hold it up."""
    import numpy as np

    from dictate.live.hearing import VoiceActivity
    from dictate.live.talk import transcript_of
    from dictate.speech.words import Word

    silence = np.zeros(16000, dtype=np.int16)
    VoiceActivity().more(silence)
    hearer.hear(silence.astype(np.float32))
    read(transcript_of([Word("hello", 0.0, 1.0, 1.0)], ""), lexicon)


def _begin(options: Namespace) -> Begun:
    from dictate.live import recording as recordings

    told = _told(options)
    if options.resume:
        open_ones = sorted(f for f in options.out.glob("*.wav") if recordings.is_open(f))
        named = [options.out / f"{options.name}.wav"] if options.name else open_ones[-1:]
        if not named:
            raise InputError("no exam here broke off", where=str(options.out))
        return Begun(named[0], True, {})
    name = options.name or f"exam-{datetime.now():%Y-%m-%d-%H%M%S}"
    if Path(name).name != name or name.startswith("."):
        raise InputError("must be a plain name, without folders", where=f"--name {name}")
    return Begun(options.out / f"{name}.wav", False, told)


def _told(options: Namespace) -> dict[str, Any]:
    from dictate.live.patients import from_day_list, from_visit

    if options.visit is not None and not options.store:
        raise InputError("a visit is one of a store: name it with --store", where="--visit")
    if options.visit is not None:
        from dictate import store as s

        with s.open_store(options.store) as store:
            if s.consent(store, options.visit) is False:
                raise InputError("consent to record was refused", where=f"visit {options.visit}")
            return from_visit(s.visit(store, options.visit))
    if options.day_list is not None:
        return from_day_list(options.day_list, options.patient)
    return {}


def _patient_words(told: dict[str, Any]) -> str:
    patient = told.get("patient") or {}
    return ", ".join(p for p in (patient.get("name"), patient.get("breed") or patient.get("species")) if p)


def _source(options: Namespace, phone: Any, begin: float) -> Any:
    from dictate.live.sources import FileSource, MicrophoneSource, PipeSource

    if options.phone:
        return phone
    if options.from_file == "-":
        return PipeSource()
    if options.from_file:
        return FileSource(Path(options.from_file), begin=begin)
    return MicrophoneSource(options.microphone)


def _wait(exam: Any) -> None:
    while True:
        try:
            if exam.join(0.2):
                return
        except KeyboardInterrupt:
            exam.finish()


def _drafted(options: Namespace, file: Path, careful: Any, lexicon: Lexicon) -> tuple[str, Path]:
    """Draft the finished recording, as `dictate draft` would, and write the draft beside it."""
    from dictate.cli.progress import progress
    from dictate.live.events import read_events, stretches_to_us

    with progress(1) as tell:
        hidden = stretches_to_us(read_events(file))
        steps = Steps(read=read, listen=lambda f: careful.finish(f, hidden, lambda done: tell(f.name, done)))
        record: Record = draft(hear(file, lexicon, listen=steps.listen), lexicon, steps=steps)
    note = write_draft(record, lexicon, folder=options.out, stem=file.stem)
    return note, options.out / f"{file.stem}.record.json"


def _hand_over(options: Namespace, file: Path, begun: Begun) -> None:
    """Into the store, and on to the review."""
    visit = begun.told.get("visit")
    if options.store:
        from dictate import store as s
        from dictate.cli.store import read_draft

        with s.open_store(options.store) as store:
            added = s.add_draft(store, read_draft(file), visit_id=visit, sound=begun.file)
            say(f"dictate: visit {added.visit.id}{': ' + added.note if added.note else ''}")
    if options.no_review:
        return
    from dictate.web import serve

    serve(
        () if options.store else (file,),
        store=options.store,
        lexicon=options.lexicon,
        open_browser=not options.no_browser,
    )


@contextlib.contextmanager
def serving(options: Namespace, board: Any) -> Iterator[Any]:
    """The room's pages, in a thread of their own, for as long as the exam and what follows it run."""
    from dictate.live.phone import PhoneSource
    from dictate.live.room import Room
    from dictate.live.serving import RoomServer, certificates_for

    key = room_key(options.out)
    made, names = certificates_for(options.host, options.host_name, options.certificates, phone=options.phone)
    room = Room(
        board=board,
        key=key,
        phone=PhoneSource() if options.phone else None,
        secure=made is not None,
        authority=made.authority if made else None,
        inches=options.screen,
        distance=options.distance,
    )
    server = RoomServer(room, options.host, options.port, names=names, certificates=made)
    with server:
        say(f"dictate: room display {server.address()}")
        if options.phone and made:
            say(f"dictate: on the phone {server.address('/microphone')}")
            say(f"dictate: it must know the room's authority once: {server.address('/authority')}")
            say(f"dictate: fingerprint of the authority {made.fingerprint}")
        if not options.no_browser:
            threading.Timer(0.5, webbrowser.open, [server.address(local=True)]).start()
        yield replace(room)


def room_key(folder: Path) -> str:
    """The key of the room's pages; kept in the folder, so that open pages still know it after a restart."""
    file = folder / KEY_FILE
    with contextlib.suppress(OSError):
        if len(kept := file.read_text(encoding="ascii").strip()) >= 20:
            return kept
    key = secrets.token_urlsafe(18)
    try:
        with os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as f:
            f.write(key)
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror or error})", where=str(file)) from None
    return key
