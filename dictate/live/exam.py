"""The exam as it runs: what was said becomes orders, answers, or words of the talk; the room is shown the result."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dictate.draft import Heard, Steps, draft
from dictate.exam.record import Record, Source
from dictate.lexicon.tables import Lexicon
from dictate.live import view as views
from dictate.live.board import Board
from dictate.live.capture import Came, Capture
from dictate.live.careful import Careful
from dictate.live.ear import Ear, HeardUtterance, Hearer
from dictate.live.events import event_now, stretches_to_us
from dictate.live.orders import Order, OrderTable, order_at_end, order_heard
from dictate.live.questions import AT_ONCE, Answered, Asking, Unclear, answer_heard, answer_table, ask, leave
from dictate.live.recording import Recording
from dictate.live.replay import question_told
from dictate.live.talk import Talk, read_growing, spread
from dictate.review import apply
from dictate.sound.sound import RATE

ANSWER_PAUSE = 0.6  # seconds of silence before and behind an answer
AROUND_ORDER = 0.15  # seconds on either side of an order that are left out with it
LOOK_EVERY, LOOK_BEHIND = 20.0, 6.0  # seconds
SAID_FOR = 20.0  # seconds that an answer of ours stays on the display


@dataclass(slots=True)
class Waiting:
    """An utterance that may be an answer, until the silence behind it says so."""

    heard: HeardUtterance
    means: Answered | Unclear


@dataclass(frozen=True, slots=True)
class Parts:
    """What an exam runs with; tests give light ones."""

    hearer: Hearer
    careful: Careful
    steps: Steps
    lexicon: Lexicon
    orders: OrderTable
    speak: Callable[[str], None] | None = None
    told: Callable[[str, dict[str, Any]], None] = field(default=lambda kind, what: None)
    clock: Callable[[], float] = time.monotonic
    questions: int = AT_ONCE


class Exam:
    """Runs in one thread of its own until it is finished; `Capture` feeds it."""

    def __init__(self, recording: Recording, capture: Capture, board: Board, parts: Parts) -> None:
        self._recording, self._capture, self._board, self._parts = recording, capture, board, parts
        self._ear = Ear(parts.hearer, begin=recording.seconds, clock=parts.clock)
        self._aside: Ear | None = None
        self._talk = Talk()
        self._asking = Asking()
        self._shown_at: dict[int, float] = {}
        self._may_answer: Waiting | None = None
        self._looked = 0.0
        self._said_until = 0.0
        self._record: Record | None = None
        self._answers = answer_table(parts.lexicon)
        self._private = 0  # samples of the recording up to which nothing more is heard: they belong to a pause
        self._own_voice: list[tuple[float, float]] = []  # seconds of the recording in which we spoke
        self._thread = threading.Thread(target=self._run, name="exam", daemon=True)
        self.fault: BaseException | None = None

    def start(self) -> None:
        self._capture.start()
        self._thread.start()

    def join(self, timeout: float | None = None) -> bool:
        """Whether the exam has come to its end."""
        self._thread.join(timeout)
        return not self._thread.is_alive()

    def finish(self) -> None:
        self._capture.stop.set()

    # -- the loop

    def _run(self) -> None:
        state = "paused" if self._capture.paused else "listening"
        self._board.show(state=state, wake=" ".join(self._parts.orders.wake))
        if self._recording.samples:
            self._guarded(lambda: self._look(force=True))
        while self.step():
            pass
        self._guarded(self._end)

    def _guarded(self, work: Callable[[], None]) -> None:
        """Do some work. A fault of the program is told, and the exam goes on: orders are still obeyed."""
        try:
            work()
        except Exception as fault:
            self.fault = fault
            self._board.trouble("program", f"a fault of the program ({type(fault).__name__}); the sound is kept")

    def step(self) -> bool:
        """Hear what has come, and do what it asks for. False at the end of the sound."""
        try:
            came = [self._capture.inbox.get(timeout=0.1)]
        except queue.Empty:
            came = []
        while came and not self._capture.inbox.empty():
            came.append(self._capture.inbox.get())
        sound = [c for c in came if c is not None]
        for work in (lambda: self._take(sound), self._settle_answer, self._listen_in, self._look):
            self._guarded(work)
        if None in came:
            return False
        self._board.show(seconds=float(int(self._recording.seconds)))
        if self._said_until and self._parts.clock() > self._said_until:
            self._said_until = 0.0
            self._board.show(said=())
        return True

    def _end(self) -> None:
        for heard in self._ear.end():
            self._utterance(heard)
        self._settle_answer(now=True)
        self._understand()

    def _take(self, came: Sequence[Came]) -> None:
        """Hear what has come."""
        kept = [c.samples for c in came if c.kept and c.at >= self._private]
        aside = [c.samples for c in came if not c.kept]
        if kept:
            for heard in self._ear.more(np.concatenate(kept)):
                self._utterance(heard)
                if self._capture.paused:
                    break
        if aside:
            self._hear_aside(np.concatenate(aside))

    def _hear_aside(self, samples: NDArray[np.int16]) -> None:
        """During a pause: for the wake word only. Nothing is kept, nothing else is looked at."""
        if self._aside is None:
            self._aside = Ear(self._parts.hearer, provisional=False)
        for heard in self._aside.more(samples):
            if not self._capture.paused:
                break
            order = self._order_of(heard)
            if order is not None and order.order in ("resume", "finish"):
                self._obey(order, heard.utterance.end)

    # -- what an utterance is

    def _utterance(self, heard: HeardUtterance) -> None:
        self._drop_waiting()
        text, start, end = heard.words.text, heard.utterance.start, heard.utterance.end
        self._parts.told("utterance", {"text": text, "start": start, "end": end})
        if not text or any(start < until and begin < end for begin, until in self._own_voice):
            return
        order = self._order_of(heard)
        if order is not None:
            self._ordered(order, start, end)
            return
        if (tail := order_at_end(text, self._parts.orders)) is not None:
            place, order = tail
            begins = heard.from_second + self._parts.hearer.begins(text, place)
            before = " ".join(text.split()[:place])
            self._talk = self._talk.settled(spread(before, start, begins, heard.words.score))
            self._ordered(order, begins, end)
            return
        means = self._answer_of(heard)
        if means is not None:
            self._may_answer = Waiting(heard, means)
            return
        self._add(heard)

    def _order_of(self, heard: HeardUtterance) -> Order | None:
        words = heard.words
        return order_heard(words.text, self._parts.orders, self._parts.hearer.likelihoods)

    def _answer_of(self, heard: HeardUtterance) -> Answered | Unclear | None:
        u = heard.utterance
        if u.cut or u.before < ANSWER_PAUSE:
            return None
        known = [a for a in self._asking.shown if self._shown_at.get(a.number, u.start) <= u.start]
        return answer_heard(heard.words.text, known, self._answers)

    def _drop_waiting(self) -> None:
        """Somebody spoke on: what might have been an answer was part of the talk."""
        if self._may_answer is not None:
            waiting, self._may_answer = self._may_answer, None
            self._add(waiting.heard)

    def _settle_answer(self, *, now: bool = False) -> None:
        if self._may_answer is None:
            return
        if self._ear.speaking and not now:
            return  # decided when that utterance ends
        if self._ear.silence < ANSWER_PAUSE and not now:
            return
        waiting, self._may_answer = self._may_answer, None
        u = waiting.heard.utterance
        if isinstance(waiting.means, Unclear):
            numbers = " or ".join(str(n) for n in waiting.means.numbers)
            self._say((f"Which question? Say “number {waiting.means.numbers[0]}, …” ({numbers})",))
            return
        self._answer(waiting.means, u.start, u.end, waiting.heard.words.text)

    def _add(self, heard: HeardUtterance) -> None:
        u = heard.utterance
        self._talk = self._talk.settled(spread(heard.words.text, u.start, u.end, heard.words.score))
        self._understand()

    # -- what is done

    def _answer(self, answered: Answered, start: float, end: float, text: str) -> None:
        asked = answered.asked
        self._capture.note(
            event_now(
                "answer",
                max(0.0, start - AROUND_ORDER),
                end + AROUND_ORDER,
                number=asked.number,
                question=question_told(asked.question),
                does=answered.does,
                choice=answered.choice,
            )
        )
        self._parts.told("answer", {"number": asked.number, "does": answered.does, "choice": answered.choice})
        if answered.does == "leave":
            self._asking = leave(self._asking, asked.key)
        self._understand()

    def _ordered(self, order: Order, start: float, end: float) -> None:
        at, until = max(0.0, start - AROUND_ORDER), end + AROUND_ORDER
        self._capture.note(event_now("order", at, until, order=order.order))
        self._talk = replace(self._talk, provisional=())
        self._obey(order, until)

    def _obey(self, order: Order, until: float = 0.0) -> None:
        """`until` is the second at which the order was spoken out."""
        self._parts.told("order", {"order": order.order, "said": order.said})
        match order.order:
            case "pause" if not self._capture.paused:
                self._pause(until)
            case "resume" if self._capture.paused:
                at, aside, self._aside = self._recording.seconds, self._aside, None
                self._capture.resume(aside.since(until) if aside else np.zeros(0, dtype=np.int16))
                self._capture.note(event_now("resumed", at))
                self._board.show(state="listening")
            case "finish":
                self.finish()
            case "go back":
                self._say(("Taken back: the last statement.",))
                self._understand()
            case "read back" if self._record is not None:
                self._say(views.values_said(self._record), aloud=True)
            case "missing" if self._record is not None:
                self._say(views.missing_said(self._record, self._parts.lexicon), aloud=True)
            case "ask":
                asked = tuple(
                    f"Number {a.number}: {a.question.title}? {a.question.message}" for a in self._asking.shown
                )
                self._say(asked or ("There are no questions.",), aloud=True)

    def _pause(self, since: float) -> None:
        """What was said between the order and now is private already: it is blanked on disk, and no longer heard."""
        self._capture.pause(since)
        self._private = self._recording.samples
        self._ear = Ear(self._parts.hearer, begin=self._recording.seconds, clock=self._parts.clock)
        self._capture.note(event_now("paused", self._recording.seconds))
        self._board.show(state="paused", heard="", provisional="")

    def _say(self, lines: tuple[str, ...], *, aloud: bool = False) -> None:
        self._board.show(said=lines)
        self._said_until = self._parts.clock() + SAID_FOR
        if aloud and self._parts.speak is not None:
            begin = self._recording.seconds
            self._parts.speak(". ".join(lines))  # our own voice is no part of the talk
            own = (begin, self._recording.seconds + 0.3)
            self._own_voice = [*self._own_voice[-8:], own]
            self._capture.note(event_now("order", *own, order="our voice"))

    # -- what is understood

    def _listen_in(self) -> None:
        """Hear the utterance that is being spoken, as far as it goes."""
        found = self._ear.provisional()
        if found is None:
            return
        words = spread(found.words.text, found.start, found.end, found.words.score)
        if self._parts.orders.begins_like_one(found.words.text):
            self._board.show(provisional=found.words.text)
            return
        before = len(self._talk.shown)
        self._talk = replace(self._talk, provisional=words)
        self._board.show(provisional=found.words.text)
        if len(self._talk.shown) > before:
            self._understand()

    def _look(self, *, force: bool = False) -> None:
        """Have the careful hearing follow; take in what it has heard."""
        careful = self._parts.careful
        if (reply := careful.reply()) is not None:
            self._talk = self._talk.heard_carefully(*reply)
            self._understand()
        now = self._recording.seconds
        if force or now - self._looked >= LOOK_EVERY:
            self._looked = now
            samples = max(0, self._recording.samples - round(LOOK_BEHIND * RATE))
            careful.look(self._recording.file, samples, stretches_to_us(self._capture.events))

    def _understand(self) -> None:
        """Read the talk so far, and show what it says."""
        parts, name = self._parts, self._recording.file.name
        self._talk, transcript, reading = read_growing(self._talk, lambda t: parts.steps.read(t, parts.lexicon), name)
        ready = Steps(read=lambda t, lexicon: reading, listen=parts.steps.listen, exam=parts.steps.exam)
        heard = Heard(transcript, Source(name=name, kind="sound", sha256=name), self._capture.events)
        record = apply(draft(heard, parts.lexicon, steps=ready), ())
        self._record = record
        self._asking = ask(self._asking, record, most=self._parts.questions)
        for asked in self._asking.shown:
            self._shown_at.setdefault(asked.number, self._recording.seconds)
        self._show(record)

    def _show(self, record: Record) -> None:
        lexicon = self._parts.lexicon
        self._board.show(
            patient=views.patient_of(record),
            heard=views.last_words(self._talk.words),
            provisional=" ".join(w.text for w in self._talk.provisional),
            lines=views.lines_of(record),
            values=views.values_of(record),
            regions=views.regions_of(record, lexicon),
            here=views.here_of(record, lexicon),
            questions=views.questions_of(self._asking),
            waiting=self._asking.waiting,
        )
        self._parts.told("read", {"record": record})
