"""Narrations as text, played through the live exam sentence by sentence: what ordinary speech settles or orders there,
and whether the display's last state and the final draft say the same.

Every sentence is an utterance of its own with silence on either side, so each could be an answer to the questions that
stand; none is meant as one. `clauses` cuts at every comma too, far more often than people fall silent.
"""

from __future__ import annotations

import json
import re
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from live_long import Loud  # noqa: E402
from parts import part_of  # noqa: E402

from dictate.cli.steps import read  # noqa: E402
from dictate.draft import Steps, draft, hear  # noqa: E402
from dictate.exam.record import Record  # noqa: E402
from dictate.lexicon import load  # noqa: E402
from dictate.live import ear as ears  # noqa: E402
from dictate.live import recording as recordings  # noqa: E402
from dictate.live.board import Board  # noqa: E402
from dictate.live.capture import Capture  # noqa: E402
from dictate.live.events import EventLog, events_file  # noqa: E402
from dictate.live.exam import Exam, Parts  # noqa: E402
from dictate.live.hearing import QuickWords  # noqa: E402
from dictate.live.orders import order_table  # noqa: E402
from dictate.live.sources import QueueSource  # noqa: E402
from dictate.review import apply  # noqa: E402
from dictate.sound.sound import RATE  # noqa: E402
from dictate.speech.words import SoundNote, Transcript, Word  # noqa: E402

SENTENCE, CLAUSE = r"(?<=[.!?])\s+", r"(?<=[.!?,;:])\s+"
# Utterances for the stand-in of the voice model: loud is speech. The silence is longer than `ANSWER_PAUSE`.
TURN = np.concatenate([np.full(3 * RATE // 2, 3000, dtype=np.int16), np.zeros(RATE, dtype=np.int16)])


class Given:
    """A hearer that gives set utterances, and no order any likelihood."""

    def __init__(self, texts: list[str]) -> None:
        self._texts = list(texts)

    def hear(self, samples: Any) -> QuickWords:
        return QuickWords(self._texts.pop(0), -0.2)

    def likelihoods(self, phrases: Any) -> tuple[tuple[float, ...], ...]:
        return tuple((-9.0, -9.0) for _ in phrases)

    def begins(self, text: str, word: int) -> float:
        return 0.0


class Confirming:
    """A careful ear that confirms, forty seconds behind, the words that were heard at once."""

    def __init__(self) -> None:
        self.words: list[Word] = []
        self._made: Any = None

    def look(self, file: Path, samples: int, hidden: Any) -> None:
        reach = samples / RATE - 40
        self._made = (tuple(w for w in self.words if w.end < reach), reach) if reach > 0 else None

    def reply(self) -> Any:
        made, self._made = self._made, None
        return made


@dataclass
class Played:
    """What one narration did: orders and answers that were found in it, and the records that were made of it."""

    found: list[str] = field(default_factory=list)
    asked: int = 0
    shown: Record | None = None
    final: Record | None = None
    batch: Record | None = None


def play(texts: list[str], lexicon: Any, folder: Path) -> Played:
    """Play utterances through a live exam; draft the recording with its events, and once without any."""
    out, careful = Played(), Confirming()
    file = folder / "a.wav"
    recording, log, board = recordings.begin(file), EventLog(file), Board()
    capture = Capture(QueueSource("none"), recording, log, board)
    known: set[int] = set()

    def told(kind: str, what: dict[str, Any]) -> None:
        if kind == "read":
            out.shown = what["record"]
        elif kind in ("order", "answer"):
            out.found.append(f"{kind} {what} after {texts[n]!r}")

    def listen(f: Path) -> Transcript:
        words = tuple(careful.words)
        return Transcript(words, " ".join(w.text for w in words), "f" * 64, SoundNote(recording.seconds))

    steps = Steps(read=read, listen=listen)
    parts = Parts(Given(texts), careful, steps, lexicon, order_table(lexicon), told=told)  # type: ignore[arg-type]
    exam = Exam(recording, capture, board, parts)
    for n in range(len(texts)):
        at = recording.seconds
        capture._take(TURN)
        spoken = texts[n].split()
        each = 1.5 / max(1, len(spoken))
        careful.words += [Word(w, at + i * each, at + (i + 1) * each, 0.95) for i, w in enumerate(spoken)]
        exam.step()
        known |= {a.number for a in exam._asking.shown}
    exam._end()
    if exam.fault:
        raise exam.fault
    recording.close()
    log.close()
    out.asked = len(known)
    out.final = draft(hear(file, lexicon, listen=listen), lexicon, steps=steps)
    events_file(file).unlink(missing_ok=True)
    out.batch = draft(hear(file, lexicon, listen=listen), lexicon, steps=steps)
    return out


def said(record: Record) -> Counter[Any]:
    """What the observations of a record say, their doubts and places in the sound included."""
    return Counter(
        (o.model_dump_json(exclude={"id", "evidence"}), tuple((e.char_start, e.char_end) for e in o.evidence))
        for o in record.observations
    )


def replay(*, every: int = 1, clauses: bool = False) -> None:
    """Print what all narrations (of the part for work every so many) settle, order, and draft when played live."""
    ears.VoiceActivity = Loud  # type: ignore[assignment, misc]
    ears.Ear.provisional = lambda self: None  # type: ignore[method-assign]
    lexicon = load()
    counts: Counter[str] = Counter()
    work = 0
    for file in sorted((HERE.parent / "tests" / "narrations").glob("*.json")):
        held = part_of(file.stem) == "held"
        if part_of(file.stem) == "work":
            work += 1
            if work % every:
                continue
        text = json.loads(file.read_text(encoding="utf-8"))["text"]
        texts = [t for t in re.split(CLAUSE if clauses else SENTENCE, text) if t.strip()]
        with tempfile.TemporaryDirectory(prefix="replay-") as place:
            out = play(texts, lexicon, Path(place))
        assert out.final is not None and out.batch is not None and out.shown is not None
        bare = {"drafted"}
        counts["narrations"] += 1
        counts["utterances"] += len(texts)
        counts["questions"] += out.asked
        counts["found"] += len(out.found)
        counts["equal"] += out.final.model_dump(exclude=bare) == out.batch.model_dump(exclude=bare)
        shown, final = said(out.shown), said(apply(out.final, ()))
        counts["shown alike"] += shown == final
        counts["observations"] += final.total()
        counts["observations shown"] += (shown & final).total()
        if not held:  # of held ones only the totals are told
            for found in out.found:
                print(f"    {file.stem}: {found}", flush=True)
    print(f"{counts['narrations']} narrations, {counts['utterances']} utterances, {counts['questions']} questions: "
          f"{counts['found']} orders and answers found, where there are none")  # fmt: skip
    print(f"final drafts equal to those of the same words without a live exam: {counts['equal']}; the display's last "
          f"state says the same as the final draft in {counts['shown alike']}, "
          f"{counts['observations shown']} of {counts['observations']} observations")  # fmt: skip
