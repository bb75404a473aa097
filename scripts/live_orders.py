"""Spoken orders in six voices, clean and in noise; sentences that only sound like orders; and all narrations as text.

The limits in `dictate/live/orders.py` were chosen with these voices and some others, so that none of these sentences is
taken for an order; --held measures with those voices of `voices.py` that nothing was chosen on.
"""

from __future__ import annotations

import json
import re
import sys
from collections import Counter
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from parts import part_of  # noqa: E402
from voices import HELD_VOICES, add_noise, missing, speak  # noqa: E402

from dictate.lexicon import load  # noqa: E402
from dictate.live.hearing import QuickEar  # noqa: E402
from dictate.live.orders import order_at_end, order_heard, order_table  # noqa: E402
from dictate.speech import SpeechSettings  # noqa: E402

VOICES = ("emma", "hank", "slt", "joe", "rupert", "kal16")
SPOKEN = {
    "pause": ("pause", "pause please", "stop listening", "pause the recording"),
    "resume": ("resume", "carry on", "continue", "go on"),
    "go back": ("go back", "take that back", "scratch that", "undo that"),
    "read back": ("read back", "read back the values", "read me the values", "what are the values"),
    "missing": ("what is missing", "what's left", "what did I miss", "anything missing"),
    "finish": ("finish", "finish the exam", "I'm done", "that's all"),
}
NEAR = (
    "No book, paws are fine.", "Note the back paws.", "Notebook paper is on the desk.", "No look, carry on then.",
    "Not a good pause in the rhythm.", "The notebook is finished.", "Now look, what is missing here is a tooth.",
    "No, but finish the exam first.", "Note both paws.", "My notebook, pause over that, is full.",
    "Hold on, scratch that.", "Nope, that's all.", "No good, take that back.", "Note book values are normal.",
    "Notebook, the heart is regular.", "I wrote it in the notebook, carry on with the left side.",
)  # fmt: skip


def orders(snr: float = 12.0, *, held: bool = False) -> None:
    """Print for each order how many of its sayings were recognised, clean and in noise, and which as another."""
    ear, table = QuickEar(SpeechSettings()), order_table(load())
    wake = " ".join(table.wake).capitalize()
    voices = [v for v in (HELD_VOICES if held else VOICES) if not missing(v)]
    wrong: Counter[str] = Counter()
    print(f"{'order':12s}{'clean':>10s}{f'{snr:g} dB':>10s}   (voices {', '.join(voices)})", flush=True)
    for order, phrases in SPOKEN.items():
        good: Counter[bool] = Counter()
        for voice in voices:
            for i, phrase in enumerate(phrases):
                clean = speak(f"{wake}, {phrase}.", voice, seed=i)
                for noisy in (False, True):
                    sound = add_noise(clean, "room", snr, seed=i) if noisy else clean
                    heard = ear.hear(sound)
                    found = order_heard(heard.text, table, ear.likelihoods)
                    good[noisy] += found is not None and found.order == order
                    if found is not None and found.order != order:
                        wrong[f"{order} as {found.order}"] += 1
                    if found is None or found.order != order:
                        print(
                            f"    missed: {voice} {'noisy' if noisy else 'clean'} {phrase!r}: {heard.text!r}",
                            flush=True,
                        )
        total = len(voices) * len(phrases)
        print(f"{order:12s}{good[False]:>7d}/{total}{good[True]:>7d}/{total}", flush=True)
    print(f"obeyed as another order: {dict(wrong) or 'none'}")


def near(snr: float = 12.0) -> None:
    """Print how many sentences that only sound alike were taken for an order."""
    ear, table = QuickEar(SpeechSettings()), order_table(load())
    false, tried = 0, 0
    for voice in (v for v in VOICES if not missing(v)):
        for i, text in enumerate(NEAR):
            clean = speak(text, voice, seed=i)
            for sound in (clean, add_noise(clean, "room", snr, seed=i), add_noise(clean, "talker", snr, seed=i)):
                heard = ear.hear(sound)
                found = order_heard(heard.text, table, ear.likelihoods)
                found = found or (order_at_end(heard.text, table) or (0, None))[1]
                tried += 1
                if found is not None:
                    false += 1
                    print(f"    false: {voice} {text!r} heard as {heard.text!r}: {found.order}", flush=True)
    print(f"sentences that only sound like an order: {tried}, taken for one: {false}")


def text_triggers(folder: Path = HERE.parent / "tests") -> int:
    """Print how many sentences and clauses of the narrations are taken for an order: those for work and for choosing as
    they were written and as a recogniser heard them, the held ones as they were written, in total."""
    written = {
        f.stem: json.loads(f.read_text(encoding="utf-8"))["text"] for f in (folder / "narrations").glob("*.json")
    }
    lines = (folder / "heard_narrations.jsonl").read_text(encoding="utf-8").splitlines()
    heard = [json.loads(line)["heard"] for line in lines]
    held = [text for name, text in written.items() if part_of(name) == "held"]
    others = [text for name, text in written.items() if part_of(name) != "held"]
    return sum(_told(name, texts) for name, texts in (("written", others), ("heard", heard), ("held, written", held)))


def _told(name: str, texts: list[str]) -> int:
    table = order_table(load())
    false = pieces = 0
    for text in texts:
        for piece in [*re.split(r"(?<=[.!?])\s+", text), *re.split(r"[.!?,;:]\s+", text)]:
            pieces += 1
            # No sound stands against it here: whatever begins like the wake word and is likest to an order counts.
            worst = order_heard(piece, table, lambda phrases: tuple((-9.0, -9.0) for _ in phrases))
            false += worst is not None or order_at_end(piece, table) is not None
    print(f"{len(texts)} narrations as text ({name}), {pieces} sentences and clauses: {false} taken for an order")
    return false
