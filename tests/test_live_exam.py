"""The exam as it runs, with stand-ins for everything heavy: what is kept, obeyed, answered and shown."""

from __future__ import annotations

import errno
import threading
import time
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from live_cases import Nothing, Told, noise

from dictate.draft import Steps
from dictate.exam.statements import Doubt, Evidence, Reading, Statement
from dictate.lexicon import load
from dictate.live import recording as recordings
from dictate.live.board import Board
from dictate.live.capture import Capture
from dictate.live.ear import Ear
from dictate.live.events import EventLog, read_events, stretches_to_us
from dictate.live.exam import Exam, Parts
from dictate.live.orders import order_table
from dictate.live.sources import Block, FileSource, MicrophoneSource, QueueSource, find_microphone
from dictate.live.talk import Talk, read_growing, spread
from dictate.live.utterances import Segmenter
from dictate.live.watching import LevelWatch, fitness
from dictate.sound import decode
from dictate.sound.sound import RATE
from dictate.speech.words import Transcript, Word

LEXICON = load()
QUIET, LOUD = np.zeros(RATE // 2, dtype=np.int16), noise(0.5)


def read(transcript: Transcript, lexicon: object = None) -> Reading:
    """Every "elbow" is a doubtful statement."""
    doubt = Doubt("side", "The side was not said.", ("left", "right", "both"))
    found, at = [], -1
    while (at := transcript.text.find("elbow", at + 1)) >= 0:
        evidence = Evidence("elbow", at, at + 5)
        found.append(Statement("elbow", None, "abnormal", "thickened", doubts=(doubt,), evidence=(evidence,)))
    return Reading(statements=tuple(found))


class Script:
    """Utterances by turns: half a second of noise, then so many seconds of quiet."""

    name = "script"

    def __init__(self, *quiet: float) -> None:
        self._quiet = quiet

    def blocks(self, stop: threading.Event) -> Iterator[Block]:
        yield Block(np.zeros(RATE, dtype=np.int16))
        for seconds in self._quiet:
            for part in (LOUD, np.zeros(round(seconds * RATE), dtype=np.int16)):
                for at in range(0, len(part), RATE // 10):
                    if stop.is_set():
                        return
                    yield Block(part[at : at + RATE // 10])
                    time.sleep(0.002)
            time.sleep(0.12)  # what was said is taken in before the next utterance


class LoudIsSpeech:
    """Stands for the voice model: loud frames are speech."""

    gain = 1.0

    def __init__(self) -> None:
        self._rest = np.zeros(0, dtype=np.int16)

    def more(self, samples: Any) -> Any:
        waiting = np.concatenate([self._rest, samples])
        whole = len(waiting) // 512 * 512
        self._rest = waiting[whole:]
        frames = np.abs(waiting[:whole].reshape(-1, 512).astype(np.float32)).mean(axis=1)
        return (frames > 200).astype(np.float32)


@pytest.fixture(autouse=True)
def light(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dictate.live.ear.VoiceActivity", LoudIsSpeech)
    monkeypatch.setattr(Ear, "provisional", lambda self: None)


def run(folder: Path, source: Any, *texts: str) -> tuple[Board, Path, list[tuple[str, dict[str, Any]]]]:
    """Run an exam to the end of its source; the board, the recording, and what was told of it."""
    file = folder / "a.wav"
    recording, log, board = recordings.begin(file), EventLog(file), Board()
    seen: list[tuple[str, dict[str, Any]]] = []
    capture = Capture(source, recording, log, board)
    parts = Parts(
        Told(*texts), Nothing(), Steps(read=read, listen=None), LEXICON, order_table(LEXICON),
        told=lambda kind, what: seen.append((kind, what)),
    )  # type: ignore[arg-type]  # fmt: skip
    exam = Exam(recording, capture, board, parts)
    exam.start()
    assert exam.join(60), "the exam has no end"
    assert exam.fault is None
    recording.finish()
    log.close()
    return board, file, seen


def words(seen: list[tuple[str, dict[str, Any]]]) -> str:
    return [what["record"].talk for kind, what in seen if kind == "read"][-1]


def test_what_is_said_is_shown_and_asked_about(tmp_path: Path) -> None:
    """Words, the observation and its numbered question stand on the display when the utterance has ended."""
    board, file, _ = run(tmp_path, Script(1.0), "The elbow is thick.")
    assert board.view.heard == "The elbow is thick."
    assert [(q.number, q.choices) for q in board.view.questions] == [(1, ("left", "right", "both"))]
    assert decode(file).seconds == pytest.approx(2.5, abs=0.01)


def test_an_answer_settles_the_question_and_is_no_part_of_the_talk(tmp_path: Path) -> None:
    """The answer is an event with its time, the question goes, and the words do not enter the talk."""
    board, file, seen = run(tmp_path, Script(1.2, 1.2, 1.0), "The elbow is thick.", "Left.", "Tail is fine.")
    assert board.view.questions == ()
    (answer,) = [e for e in read_events(file) if e.kind == "answer"]
    assert answer.told["choice"] == "left"
    assert words(seen) == "The elbow is thick. Tail is fine."
    ((start, end),) = stretches_to_us(read_events(file))
    assert 2.2 < start < 3.0 and 3.1 < end < 3.6


def test_speech_that_goes_on_is_no_answer(tmp_path: Path) -> None:
    """A side that is followed by more words within a moment was the beginning of a sentence."""
    board, _, seen = run(tmp_path, Script(1.2, 0.4, 1.0), "The elbow is thick.", "Left.", "ear is clean.")
    assert [q.number for q in board.view.questions] == [1]
    assert words(seen) == "The elbow is thick. Left. ear is clean."


def test_during_a_pause_nothing_is_recorded_or_understood(tmp_path: Path) -> None:
    """Between the orders to pause and to resume nothing is written; only the wake word is listened for."""
    board, file, seen = run(
        tmp_path, Script(0.8, 1.0, 1.0, 1.0, 1.0),
        "Heart is fine.", "Notebook, pause.", "This is nobody's business.", "Notebook, carry on.", "Tail is fine.",
    )  # fmt: skip
    kinds = [e.kind for e in read_events(file)]
    assert kinds == ["order", "paused", "resumed"]
    assert words(seen) == "Heart is fine. Tail is fine."
    assert decode(file).seconds < 1.0 + 5 * 0.5 + 4.8 + 0.7 - 2.0  # a seam of silence stands where the pause was
    assert board.view.state == "listening"


def test_what_is_said_before_a_pause_is_understood_is_blanked(tmp_path: Path) -> None:
    """From the end of the order on the recording is silent, though its sound was written already; it is not heard."""
    samples = np.concatenate([LOUD, QUIET, LOUD])
    file = tmp_path / "a.wav"
    recording, log, board = recordings.begin(file), EventLog(file), Board()
    capture = Capture(QueueSource("none"), recording, log, board)
    parts = Parts(
        Told("Notebook, pause.", "Nobody's business."), Nothing(), Steps(read=read, listen=None), LEXICON,
        order_table(LEXICON),
    )  # type: ignore[arg-type]  # fmt: skip
    exam = Exam(recording, capture, board, parts)
    capture._take(samples)  # all of it is written before any is heard
    exam.step()
    capture._take(LOUD)
    exam.step()
    assert capture.paused
    kept = decode(file).samples
    assert len(kept) == len(samples)
    assert kept[: RATE // 2].any() and not kept[RATE:].any()
    assert exam._talk.words == ()
    recording.close()
    log.close()


def test_what_is_said_right_after_a_pause_is_kept(tmp_path: Path) -> None:
    """However late the order to resume is heard, the recording goes on behind it, and nothing before it is kept."""
    file = tmp_path / "a.wav"
    recording, log = recordings.begin(file), EventLog(file)
    capture = Capture(QueueSource("none"), recording, log, Board())
    parts = Parts(
        Told("Private.", "Notebook, carry on.", "Tail is", "Tail is fine."), Nothing(), Steps(read=read, listen=None),
        LEXICON, order_table(LEXICON),
    )  # type: ignore[arg-type]  # fmt: skip
    exam = Exam(recording, capture, Board(), parts)
    capture.paused = True
    for part in (LOUD, np.zeros(30 * RATE, dtype=np.int16), LOUD, QUIET, LOUD, QUIET, QUIET):
        capture._take(part)
    exam.step()
    exam.step()
    assert not capture.paused
    assert decode(file).seconds == pytest.approx(0.7 + 0.5 + 0.5 + 1.0, abs=0.1)  # the seam, and what followed
    assert [w.text for w in exam._talk.words] == ["Tail", "is", "fine."]
    recording.close()
    log.close()


def test_a_fault_of_the_program_is_told_and_orders_are_still_obeyed(tmp_path: Path) -> None:
    """Where a talk cannot be read, the display says so; the exam still pauses and finishes by voice."""
    file = tmp_path / "a.wav"
    recording, log, board = recordings.begin(file), EventLog(file), Board()
    capture = Capture(Script(0.8, 0.8, 5.0, 5.0, 5.0), recording, log, board)

    def failing(transcript: Transcript, lexicon: object = None) -> Reading:
        raise RuntimeError("cannot be read")

    parts = Parts(
        Told("Heart is fine.", "Notebook, finish."), Nothing(), Steps(read=failing, listen=None), LEXICON,
        order_table(LEXICON),
    )  # type: ignore[arg-type]  # fmt: skip
    exam = Exam(recording, capture, board, parts)
    exam.start()
    assert exam.join(60)
    assert isinstance(exam.fault, RuntimeError)
    assert board.view.troubles[0].startswith("program: a fault of the program")
    assert [e.told["order"] for e in read_events(file) if e.kind == "order"] == ["finish"]
    recording.close()
    log.close()


def test_our_own_voice_is_neither_talk_nor_answer(tmp_path: Path) -> None:
    """What is said aloud by the program is no part of the talk, and its stretch is left out of the draft."""
    file = tmp_path / "a.wav"
    recording, log = recordings.begin(file), EventLog(file)
    capture = Capture(QueueSource("none"), recording, log, Board())
    texts = ("The elbow is thick.", "Notebook, read back.", "Left.", "Tail is fine.")
    spoken: list[str] = []

    def speak(text: str) -> None:
        spoken.append(text)
        capture._take(np.concatenate([QUIET, LOUD, QUIET, QUIET]))  # the microphone hears us

    parts = Parts(
        Told(*texts), Nothing(), Steps(read=read, listen=None), LEXICON, order_table(LEXICON), speak=speak
    )  # type: ignore[arg-type]  # fmt: skip
    exam = Exam(recording, capture, Board(), parts)
    for _ in range(3):
        capture._take(np.concatenate([QUIET, LOUD, QUIET, QUIET]))
        exam.step()
    exam.step()
    assert spoken == ["no values yet"]
    assert " ".join(w.text for w in exam._talk.words) == "The elbow is thick. Tail is fine."
    assert [e.kind for e in read_events(file)] == ["order", "order"]
    recording.close()
    log.close()


def test_going_back_takes_the_last_statement_only(tmp_path: Path) -> None:
    """The order takes back the last thing said before it; what was said earlier stays."""
    _, _, seen = run(
        tmp_path, Script(0.8, 0.8, 0.8, 0.8),
        "The elbow is thick.", "Another elbow is thick.", "Notebook, take that back.", "Go on.",
    )  # fmt: skip
    last = [what["record"] for kind, what in seen if kind == "read"][-1]
    assert [o.evidence[0].char_start for o in last.observations] == [4]


def test_finish_ends_the_exam(tmp_path: Path) -> None:
    """What would have been said after it is not recorded."""
    _, file, seen = run(tmp_path, Script(0.8, 0.8, 5.0, 5.0, 5.0), "Heart is fine.", "Notebook, finish.", "Too late.")
    assert decode(file).seconds < 12
    assert ("order", {"order": "finish", "said": "finish"}) in seen


def test_a_full_disk_is_said_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The display says that the sound is not kept, and takes it back when there is room again."""
    recording, board = recordings.begin(tmp_path / "a.wav"), Board()
    capture = Capture(QueueSource("none"), recording, EventLog(tmp_path / "a.wav"), board)
    capture._take(LOUD)
    monkeypatch.setattr(recording, "append", lambda samples: (_ for _ in ()).throw(OSError(errno.ENOSPC, "no space")))
    capture._take(LOUD)
    assert "NOT being kept" in board.view.troubles[0]
    monkeypatch.undo()
    capture._take(LOUD)
    assert board.view.troubles == ()
    assert read_events(tmp_path / "a.wav")[-1].told["what"].startswith("the disk was full")
    recording.close()


def test_a_silent_and_a_clipping_microphone_are_told() -> None:
    """Digital silence for five seconds, and flat tops at full level; ordinary sound is neither."""
    watch = LevelWatch()
    assert {watch.more(noise(0.5)) for _ in range(10)} == {""}
    assert [watch.more(QUIET) for _ in range(10)][-1] == "silent"
    assert watch.more(np.full(RATE // 4, 32767, dtype=np.int16)) == "clipping"


def test_fitness_says_why_a_microphone_is_not_fit() -> None:
    """Muted, too loud, or speech that hardly rises above the room."""
    assert fitness(np.zeros(RATE, dtype=np.int16))[0] is False
    assert "noise" in fitness(noise(3.0))[1]
    talk = np.concatenate([noise(1.0), noise(1.0, 0.005), noise(1.0)])
    assert fitness(talk)[0] is True


class Device:
    """Stands for sounddevice: one microphone that is pulled out after two blocks, then is back."""

    class default:
        device = (0, 0)

    def __init__(self) -> None:
        self.opened = 0

    def query_devices(self) -> list[dict[str, Any]]:
        if self.opened == 1:
            self.opened = 2
            return []
        return [{"name": "Lapel", "max_input_channels": 1, "default_samplerate": 16000.0}]

    def InputStream(self, **settings: Any) -> Any:
        self.opened += 1
        for _ in range(2):
            settings["callback"](np.ones((1600, 1), dtype=np.int16), 1600, None, None)
        return threading.Lock()  # a context that does nothing


def test_a_microphone_that_is_pulled_out_is_told_and_found_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sound, then a trouble in words, then sound again with the time that was lost."""
    monkeypatch.setattr("dictate.live.sources.MISSED_AFTER", 0.05)
    stop, seen = threading.Event(), []
    for block in MicrophoneSource("lapel", portaudio=Device()).blocks(stop):
        seen.append((len(block.samples), block.trouble, block.late > 0))
        if block.late:
            stop.set()
    assert seen[0] == (1600, "", False)
    assert any("lost" in trouble for _, trouble, _ in seen)
    assert seen[-1] == (1600, "", True)


def test_a_microphone_is_found_by_part_of_its_name() -> None:
    """Letters of the name or its number; one that is not there is no fault of the program."""
    assert find_microphone("LAP", Device()).name == "Lapel"
    assert find_microphone("0", Device()).number == 0
    with pytest.raises(LookupError):
        find_microphone("desk", Device())


def test_a_file_is_played_from_where_the_recording_broke_off(tmp_path: Path) -> None:
    """Going on with an exam from a file gives the samples behind those that were recorded."""
    made = recordings.begin(tmp_path / "s.wav")
    made.append(np.arange(8000, dtype=np.int16))
    made.finish()
    source = FileSource(tmp_path / "s.wav", begin=0.25, speed=0)
    got = np.concatenate([b.samples for b in source.blocks(threading.Event())])
    assert np.array_equal(got, np.arange(4000, 8000, dtype=np.int16))


def test_a_long_utterance_is_cut_where_speech_is_least_likely() -> None:
    """Whoever speaks without a pause is heard in parts; no part is lost."""
    row = [0.9] * 1000
    row[230] = row[231] = row[232] = 0.3
    segmenter = Segmenter()
    found = [*segmenter.more(row), *segmenter.end()]
    assert found[0].cut and found[0].end == pytest.approx(231 * 0.032, abs=0.1)
    assert all(a.end == b.start for a, b in pairwise(found))


def test_a_long_talk_is_read_in_parts_and_says_the_same() -> None:
    """What lies far back is read once; statements, places and words are those of reading the whole at once."""
    text = " ".join(f"w{i}" if i % 17 else "elbow" for i in range(1500))
    whole = tuple(Word(w, float(i), i + 0.5, 0.9) for i, w in enumerate(text.split()))
    longest = 0

    def counted(transcript: Transcript) -> Reading:
        nonlocal longest
        longest = max(longest, len(transcript.words))
        return read(transcript)

    talk = Talk()
    for n in range(50, 1501, 50):
        talk = talk.heard_carefully(whole[:n], float(n))
        talk, transcript, reading = read_growing(talk, counted, "x")
    assert transcript.text == text
    assert reading.statements == read(transcript).statements
    assert longest < 600


def test_careful_words_take_the_place_of_quick_ones() -> None:
    """Up to where the careful hearing reaches its words count; behind it the quick ones stay."""
    talk = Talk().settled(spread("water terrier", 0.0, 2.0, -0.2)).settled(spread("heart fine", 5.0, 6.0, -0.2))
    talk = talk.heard_carefully((Word("border", 0.0, 0.9, 0.9), Word("terrier", 1.0, 1.9, 0.9)), 3.0)
    assert [w.text for w in talk.words] == ["border", "terrier", "heart", "fine"]
