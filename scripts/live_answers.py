"""Scripted exams: findings whose side or value is in doubt, answers spoken to them in six voices, and ordinary speech
that only looks like an answer. Spoken whole by a voice, played through the live exam; the answers are counted."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from voices import missing, speak  # noqa: E402

from dictate.cli.steps import read  # noqa: E402
from dictate.draft import Steps  # noqa: E402
from dictate.exam.statements import Doubt, Evidence, Reading, Statement  # noqa: E402
from dictate.lexicon import load  # noqa: E402
from dictate.live import recording as recordings  # noqa: E402
from dictate.live.board import Board  # noqa: E402
from dictate.live.capture import Capture  # noqa: E402
from dictate.live.events import EventLog  # noqa: E402
from dictate.live.exam import Exam, Parts  # noqa: E402
from dictate.live.hearing import QuickEar  # noqa: E402
from dictate.live.orders import order_table  # noqa: E402
from dictate.live.sources import BLOCK, QueueSource  # noqa: E402
from dictate.sound.sound import RATE  # noqa: E402
from dictate.speech import SpeechSettings  # noqa: E402

VOICES = ("emma", "hank", "slt", "joe", "rupert", "kal16")
SIDE = Doubt("side", "The side was not said.", ("left", "right", "both"))
VALUE = Doubt("value", "384 Cel is implausible.", ("384 Cel", "38.4 Cel"))
# What stands in doubt, what is said to it, and the choice that settles it; None: ordinary speech settles nothing.
EXAMS: tuple[tuple[Doubt, str, str | None], ...] = (
    (SIDE, "Left.", "left"),
    (SIDE, "The right one.", "right"),
    (SIDE, "Both sides.", "both"),
    (SIDE, "Second one.", "right"),
    (SIDE, "Number one, left.", "left"),
    (VALUE, "Thirty-eight point four.", "38.4 Cel"),
    (VALUE, "The second one.", "38.4 Cel"),
    (SIDE, "Left elbow fine.", None),
    (SIDE, "Right, what is next.", None),
    (SIDE, "The left ear is clean.", None),
    (VALUE, "Eight point four kilos.", None),
)


class Silent:
    def look(self, *_: Any) -> None: ...

    def reply(self) -> None:
        return None


def answers() -> None:
    """Print how many answers settled their question, how many settled it wrongly, and what ordinary speech settled."""
    hearer, lexicon = QuickEar(SpeechSettings()), load()
    right = asked = wrong = false = ordinary = 0
    for voice in (v for v in VOICES if not missing(v)):
        for n, (doubt, said, wanted) in enumerate(EXAMS):
            made = settled(hearer, lexicon, voice, doubt, said, n)
            if wanted is None:
                ordinary += 1
                false += made is not None
            else:
                asked += 1
                right += made == wanted
                wrong += made not in (None, wanted)
            if made != wanted:
                print(f"    {voice}: {said!r}: {made}", flush=True)
    print(f"answers: {asked}, settled {right}, settled wrongly {wrong}; ordinary speech: {ordinary}, settled {false}")


def settled(hearer: QuickEar, lexicon: Any, voice: str, doubt: Doubt, said: str, seed: int) -> str | None:
    """What one scripted exam settles: a finding is spoken, then the answer; None where nothing is settled."""
    gap = np.zeros(round(1.2 * RATE), dtype=np.float32)
    first = speak("Here is a finding to be asked about.", voice, seed=seed)
    sound = np.concatenate([first, gap, speak(said, voice, seed=seed), gap])
    samples = (np.clip(sound, -1, 1) * 32767).astype(np.int16)

    def doubtful(transcript: Any, lexicon: Any) -> Reading:
        """The first words stand for the finding in doubt, whatever was heard of them; the rest is read as it is."""
        end = transcript.text.find(" ") if " " in transcript.text else len(transcript.text)
        evidence = Evidence(transcript.text[:end], 0, end)
        site = "elbow" if doubt is SIDE else "temperature"
        status = "abnormal" if doubt is SIDE else "normal"
        return Reading(statements=(Statement(site, None, status, doubts=(doubt,), evidence=(evidence,)),))  # type: ignore[arg-type]

    choices: list[str] = []
    texts: list[str] = []

    def told(kind: str, what: dict[str, Any]) -> None:
        if kind == "utterance":
            texts.append(what["text"])
        if kind == "answer" and what["does"] == "settle":
            choices.append(what["choice"])

    with tempfile.TemporaryDirectory(prefix="answers-") as place:
        file = Path(place) / "a.wav"
        recording, log, board = recordings.begin(file), EventLog(file), Board()
        capture = Capture(QueueSource("none"), recording, log, board)
        steps = Steps(read=doubtful, listen=read)  # type: ignore[arg-type]
        parts = Parts(hearer, Silent(), steps, lexicon, order_table(lexicon), told=told)  # type: ignore[arg-type]
        exam = Exam(recording, capture, board, parts)
        for at in range(0, len(samples), BLOCK):
            capture._take(samples[at : at + BLOCK])
            exam.step()
        exam._end()
        recording.close()
        log.close()
    if not choices:
        print(f"    heard: {texts[-1:]}", flush=True)
    return choices[0] if choices else None
