"""Small stand-ins for the live exam: a hearer that is told what was said, a careful ear that hears nothing more."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from dictate.exam.record import Doubt, Evidence, MadeBy, Observation, Record, Sound, Source
from dictate.live.hearing import QuickWords
from dictate.live.view import Line, Region, Shown, View
from dictate.sound.sound import RATE
from dictate.speech.words import SoundNote, Transcript, Word

NOW = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)


class Told:
    """Hears, utterance by utterance, what it was given. A phrase is likely where it stands in `likely`."""

    def __init__(self, *texts: str, likely: Sequence[str] = ()) -> None:
        self.texts, self.likely = list(texts), likely

    def hear(self, samples: Any) -> QuickWords:
        return QuickWords(self.texts.pop(0) if self.texts else "", -0.2)

    def likelihoods(self, phrases: Sequence[str]) -> tuple[tuple[float, ...], ...]:
        return tuple((-0.3, -0.3) if p in self.likely else (-5.0,) * len(p.split()) for p in phrases)

    def begins(self, text: str, word: int) -> float:
        return 0.3 * word


class Nothing:
    """A careful ear that gives a transcript that was made before."""

    def __init__(self, transcript: Transcript | None = None) -> None:
        self.transcript = transcript

    def look(self, *_: Any) -> None: ...

    def reply(self) -> None:
        return None

    def finish(self, file: Path, hidden: Any, progress: Any) -> Transcript:
        assert self.transcript is not None
        return self.transcript

    def close(self) -> None: ...


def transcript(text: str, *, seconds: float = 60.0, source: str = "a" * 64) -> Transcript:
    """A transcript whose words take a second each."""
    words = tuple(Word(w, float(i), i + 0.9, 0.95) for i, w in enumerate(text.split()))
    return Transcript(words, " ".join(w.text for w in words), source, SoundNote(seconds), {"model": "none"})


def doubtful(site: str, kind: str = "side", choices: tuple[str, ...] = ("left", "right", "both"), **more: Any) -> Any:
    """An observation with one doubt."""
    start = more.pop("start", 3.0)
    doubt = Doubt(kind=kind, message=f"The {kind} was not said.", choices=choices)
    evidence = Evidence(
        text="words", start=start, end=start + 1, char_start=int(start * 10), char_end=int(start * 10) + 5
    )
    values = {"id": f"{site}-{kind}", "site": site, "status": "abnormal", "finding": "thick"} | more
    return Observation(**values, doubts=(doubt,), evidence=(evidence,))


def record(*observations: Observation) -> Record:
    return Record(
        id="r",
        drafted=NOW,
        observations=observations,
        source=Source(name="a.wav", kind="sound", sha256="a" * 64),
        sound=Sound(seconds=60),
        made_by=MadeBy(program="p", version="1", rule_set="x"),
    )


def noise(seconds: float, level: float = 0.2, seed: int = 1) -> Any:
    """16 bit noise."""
    rng = np.random.default_rng(seed)
    return (rng.standard_normal(round(seconds * RATE)) * level * 8000).astype(np.int16)


def full_view(**changes: Any) -> View:
    """A view with something in every place, of an invented patient."""
    regions = [
        ("general", 4, 6), ("vital signs", 5, 9), ("eyes", 9, 17), ("ears", 4, 4), ("nose", 1, 2), ("mouth", 6, 15),
        ("head", 2, 2), ("neck", 1, 6), ("chest", 3, 4), ("abdomen", 4, 11), ("lymph nodes", 4, 7), ("trunk", 2, 8),
        ("forelimbs", 5, 13), ("hindlimbs", 0, 15), ("perineum", 0, 9), ("neurological", 0, 5),
    ]  # fmt: skip
    given = {
        "state": "listening",
        "seconds": 245.0,
        "patient": "Bramble, border terrier",
        "heard": "Abdomen is soft, no pain anywhere I press. Kidneys I can feel, both smooth. "
        "On to the limbs: elbow is a little thick,",
        "provisional": "and the carpus bends as far as",
        "lines": (
            Line("abdomen", "normal"),
            Line("abdomen", "no pain"),
            Line("kidney, both", "normal"),
            Line("elbow", "thickened, severity mild", True, True),
        ),
        "values": (
            Line("weight", "8.6 kg"),
            Line("temperature", "38.4 °C"),
            Line("heart rate", "96 /min"),
            Line("respiratory rate", "22 /min"),
            Line("capillary refill time", "< 2 s", True),
        ),
        "regions": tuple(Region(n, t, d, 0, ("carpus", "shoulder", "antebrachium", "paw")) for n, t, d in regions),
        "here": "forelimbs",
        "questions": (
            Shown(1, "capillary refill time: < 2", "2 was said without a unit.", ("2 s", "2 min")),
            Shown(2, "elbow: thickened, severity mild", "The side was not said.", ("left", "right", "both")),
        ),
        "waiting": 1,
        "wake": "notebook",
        "notice": "This exam is recorded. Ask for a pause at any time.",
    }
    return View(**(given | changes))
