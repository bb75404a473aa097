"""From the end of a clause to its observation on the display, and the processor's share, with time charged.

A shared machine's clock says nothing of the program. So the sound is played in a time of its own: it goes on by the
sound's seconds, and every step is charged the processor seconds that it really took, on one core (the quick hearing
runs with one thread, and no step begins before the one before it is done). The careful hearing has the other core; its
processor seconds are counted apart. With --clock the same is played at real speed instead, on a machine that is idle.
"""

from __future__ import annotations

import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from dictate.cli.steps import read  # noqa: E402
from dictate.draft import Steps, draft, hear  # noqa: E402
from dictate.exam.hearing import word_spans  # noqa: E402
from dictate.exam.record import Evidence, Record  # noqa: E402
from dictate.lexicon import load  # noqa: E402
from dictate.live import recording as recordings  # noqa: E402
from dictate.live.board import Board  # noqa: E402
from dictate.live.capture import Capture  # noqa: E402
from dictate.live.events import EventLog, read_events, stretches_to_us  # noqa: E402
from dictate.live.exam import Exam, Parts  # noqa: E402
from dictate.live.hearing import CarefulEar, QuickEar, heard_recording  # noqa: E402
from dictate.live.masked import masked  # noqa: E402
from dictate.live.orders import order_table  # noqa: E402
from dictate.live.recording import sound_so_far  # noqa: E402
from dictate.live.sources import BLOCK, FileSource  # noqa: E402
from dictate.sound import decode  # noqa: E402
from dictate.sound.sound import RATE  # noqa: E402
from dictate.speech import SpeechSettings, transcribe  # noqa: E402
from dictate.speech.words import Transcript, Word  # noqa: E402
from dictate.ways import speech_settings  # noqa: E402

Said = tuple[Any, ...]
PAUSE = 0.3  # seconds of silence that end a clause


class Charged:
    """A clock of the sound's seconds and the processor's."""

    def __init__(self) -> None:
        self.at, self._begun = 0.0, 0.0
        self.worked = 0.0

    def start(self) -> None:
        self._begun = time.process_time()

    def stop(self) -> None:
        took = time.process_time() - self._begun
        self.at, self.worked, self._begun = self.at + took, self.worked + took, 0.0

    def __call__(self) -> float:
        return self.at + (time.process_time() - self._begun if self._begun else 0.0)


class Apart:
    """The careful hearing, in this process, its processor seconds counted apart and not charged to the display."""

    def __init__(self, settings: SpeechSettings, clock: Charged) -> None:
        self._settings, self._clock = settings, clock
        self._ear = CarefulEar(settings)
        self._reply: Any = None
        self.worked = 0.0

    def look(self, file: Path, samples: int, hidden: Any) -> None:
        begun = time.process_time()
        self._reply = self._ear.look(masked(sound_so_far(file, samples), hidden))
        took = time.process_time() - begun
        self.worked += took
        self._clock._begun += took

    def reply(self) -> Any:
        made, self._reply = self._reply, None
        return made

    def finish(self, file: Path, hidden: Any, progress: Any) -> Any:
        return heard_recording(file, hidden, replace(self._settings, use_cache=False), known=self._ear.known)

    def close(self) -> None: ...


def clause_end(evidence: Evidence, words: Sequence[Word]) -> float | None:
    """The second at which the clause of some words ends: at the next sign of punctuation, or before the next pause."""
    spans = word_spans(words)
    at = next((i for i, (begin, end) in enumerate(spans) if begin < evidence.char_end <= end), None)
    if at is None:
        return evidence.end
    while at + 1 < len(words) and words[at].text[-1] not in ".,;:?!" and words[at + 1].start - words[at].end < PAUSE:
        at += 1
    return words[at].end


def said(record: Record, words: Sequence[Word] = (), *, word_for_word: bool) -> dict[Said, float]:
    """What a record's observations say, each with the second at which the first clause that says so ends; without the
    words of the talk, at which its own words end."""
    found: dict[Said, float] = {}
    for o in record.observations:
        key = (o.site, o.side, o.status)
        if word_for_word:
            key = (*key, o.finding, o.present, o.value.number if o.value else None)
        told = [clause_end(e, words) if words else e.end for e in o.evidence if e.end is not None]
        ends = [end for end in told if end is not None]
        if ends:
            found[key] = min(found.get(key, 1e9), min(ends))
    return found


def play(file: Path, folder: Path, settings: SpeechSettings, lexicon: Any) -> dict[str, Any]:
    """Play one file; when each observation was first shown, what was worked, and the final draft."""
    clock = Charged()
    board = Board()
    first: dict[Said, float] = {}
    hearer = QuickEar(replace(settings, threads=1))
    careful = Apart(settings, clock)
    name = folder / f"{file.stem}.wav"
    recording, log = recordings.begin(name), EventLog(name)
    capture = Capture(FileSource(file), recording, log, board)

    orders: list[str] = []

    def told(kind: str, what: dict[str, Any]) -> None:
        if kind in ("order", "answer"):
            orders.append(str(what))
        if kind == "read":
            for whole in (False, True):
                for key in said(what["record"], word_for_word=whole):
                    first.setdefault(key, clock())

    made: list[Transcript] = []

    def listen(f: Path) -> Transcript:
        made.append(careful.finish(f, stretches_to_us(read_events(name)), None))
        return made[-1]

    steps = Steps(read=read, listen=listen)
    parts = Parts(hearer, careful, steps, lexicon, order_table(lexicon), told=told, clock=clock)
    exam = Exam(recording, capture, board, parts)
    samples = decode(file).samples
    at = 0
    while at < len(samples):
        clock.at = max(clock.at, (at + BLOCK) / RATE)
        while at < len(samples) and at / RATE < clock.at:
            capture._take(samples[at : at + BLOCK])
            at += BLOCK
        clock.start()
        exam.step()
        clock.stop()
    clock.start()
    exam._end()
    clock.stop()
    recording.finish()
    log.close()
    begun = time.process_time()
    final = draft(hear(name, lexicon, listen=steps.listen), lexicon, steps=steps)
    ended = time.process_time() - begun
    return {
        "first": first, "final": final, "worked": clock.worked, "careful": careful.worked, "ended": ended,
        "seconds": len(samples) / RATE, "file": name, "orders": orders, "words": made[-1].words,
    }  # fmt: skip


def measure(files: list[Path]) -> None:
    """Print latency, processor's share, and whether the final draft is the one that a drafting of the file gives."""
    lexicon, settings = load(), speech_settings()
    names = (
        "end of the clause to the site, side and status",
        "end of the clause to the finding and value too, as the draft has them",
        "end of the observation's own words to the site, side and status",
        "end of the observation's own words to the finding and value too",
    )
    waits: dict[str, list[float]] = {name: [] for name in names}
    same = total = never = 0
    worked = careful = seconds = ended = 0.0
    obeyed: list[str] = []
    with tempfile.TemporaryDirectory(prefix="live-") as place:
        for file in files:
            out = play(file, Path(place), settings, lexicon)
            steps = Steps(read=read, listen=lambda f: transcribe(f, settings=replace(settings, use_cache=False)))
            batch = draft(hear(out["file"], lexicon, listen=steps.listen), lexicon, steps=steps)
            bare = {"drafted"}
            same += batch.model_dump(exclude=bare) == out["final"].model_dump(exclude=bare)
            total += 1
            for n, name in enumerate(names):
                ends = said(out["final"], out["words"] if n < 2 else (), word_for_word=n % 2 == 1)
                here = [out["first"][k] - end for k, end in ends.items() if k in out["first"]]
                waits[name] += here
                if n == 0:
                    never, shown, every = never + len(ends) - len(here), here, len(ends)
            worked, careful, seconds = worked + out["worked"], careful + out["careful"], seconds + out["seconds"]
            ended += out["ended"]
            obeyed += out["orders"]
            print(
                f"    {file.stem}: {len(shown)} of {every} live, median {statistics.median(shown or [0]):.2f} s",
                flush=True,
            )
    live = len(waits[names[0]])
    print(f"{total} recordings, {seconds / 60:.1f} minutes; {live} observations of the final drafts were shown live, "
          f"{never} came with the final draft alone")  # fmt: skip
    for name, took in waits.items():
        took.sort()
        print(
            f"{name}: median {statistics.median(took):.2f} s, 95th percentile {took[int(0.95 * (len(took) - 1))]:.2f} s"
        )
    print(f"processor: {worked / seconds:.2f} cores at once, {careful / seconds:.2f} carefully, "
          f"{ended / total:.1f} s after the end of an exam")  # fmt: skip
    print(f"final drafts equal to the drafts of their recordings: {same} of {total}")
    print(f"orders and answers found in this ordinary speech: {obeyed or 'none'}")
    print(f"peak memory of both together: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
