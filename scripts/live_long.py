"""Memory over a long recording: the live exam's own parts fed for hours of sound, with a hearer that gives set words.

The recogniser's memory is that of its model and does not grow; what could grow is ours: what is held of the sound, of
the words, of the record. So the words come from narrations for work, one utterance after another, as fast as it goes.
"""

from __future__ import annotations

import json
import re
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from parts import part_of  # noqa: E402

from dictate.cli.steps import read  # noqa: E402
from dictate.draft import Steps  # noqa: E402
from dictate.lexicon import load  # noqa: E402
from dictate.live import recording as recordings  # noqa: E402
from dictate.live.board import Board  # noqa: E402
from dictate.live.capture import Capture  # noqa: E402
from dictate.live.events import EventLog  # noqa: E402
from dictate.live.exam import Exam, Parts  # noqa: E402
from dictate.live.hearing import QuickWords  # noqa: E402
from dictate.live.orders import order_table  # noqa: E402
from dictate.live.sources import QueueSource  # noqa: E402
from dictate.sound.sound import RATE  # noqa: E402


def sentences() -> Iterator[str]:
    """Sentences of narrations for work, again and again."""
    while True:
        for file in sorted((HERE.parent / "tests" / "narrations").glob("*.json")):
            if part_of(file.stem) == "work":
                yield from re.split(r"(?<=[.!?])\s+", json.loads(file.read_text(encoding="utf-8"))["text"])


class Reciting:
    """A hearer that gives the next sentence."""

    def __init__(self) -> None:
        self._next = sentences()

    def hear(self, samples: Any) -> QuickWords:
        return QuickWords(next(self._next), -0.2)

    def likelihoods(self, phrases: Sequence[str]) -> tuple[tuple[float, ...], ...]:
        return tuple((-9.0, -9.0) for _ in phrases)

    def begins(self, text: str, word: int) -> float:
        return 0.0


class Loud:
    """Stands for the voice model: loud frames are speech."""

    gain = 1.0

    def more(self, samples: Any) -> Any:
        whole = len(samples) // 512 * 512
        return (np.abs(samples[:whole].reshape(-1, 512).astype(np.float32)).mean(axis=1) > 200).astype(np.float32)


def memory() -> float:
    """Resident memory of this process in MB."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    return 0.0


def measure_memory(minutes: float) -> None:
    """Print memory and the time for reading anew at each sixth of so many minutes."""
    from dictate.live import ear as ears

    ears.Ear.provisional = lambda self: None  # type: ignore[method-assign]
    hearer, lexicon, board = Reciting(), load(), Board()
    # Noise of a voice's rhythm: a second and a half loud, a half quiet; judged by loudness instead of the voice model.
    rng = np.random.default_rng(1)
    loud = (rng.standard_normal(3 * RATE // 2) * 2000).astype(np.int16)
    turn = np.concatenate([loud, np.zeros(RATE // 2, dtype=np.int16)])
    ears.VoiceActivity = Loud  # type: ignore[assignment, misc]
    with tempfile.TemporaryDirectory(prefix="long-") as place:
        file = Path(place) / "a.wav"
        recording, log = recordings.begin(file), EventLog(file)
        capture = Capture(QueueSource("none"), recording, log, board)
        steps = Steps(read=read, listen=lambda f: None)  # type: ignore[arg-type, return-value]

        class Confirming:
            def look(self, f: Path, samples: int, hidden: Any) -> None:
                reach = samples / RATE - 40
                self._made = (tuple(w for w in exam._talk.words if w.end < reach), reach)

            def reply(self) -> Any:
                made = getattr(self, "_made", None)
                self._made = None
                return made if made and made[1] > 0 else None

        found: list[str] = []

        def told(kind: str, what: dict[str, Any]) -> None:
            if kind in ("order", "answer"):
                found.append(f"{kind} {what}")

        parts = Parts(hearer, Confirming(), steps, lexicon, order_table(lexicon), told=told)  # type: ignore[arg-type]
        exam = Exam(recording, capture, board, parts)
        print(f"{'minutes':>8s}{'words':>8s}{'MB':>8s}{'ms an utterance':>18s}")
        turns, begun, mark = round(minutes * 60 / 2), time.process_time(), 0
        for n in range(1, turns + 1):
            capture._take(turn)
            exam.step()
            if n % max(1, turns // 6) == 0:
                each = 1000 * (time.process_time() - begun) / (n - mark)
                print(f"{n / 30:8.0f}{len(exam._talk.words):8d}{memory():8.0f}{each:18.0f}", flush=True)
                begun, mark = time.process_time(), n
        print(f"orders and answers found in this ordinary speech: {found or 'none'}")
        recording.close()
