"""Hours of ordinary exam talk without an order, spoken by synthetic voices and heard by the live exam's own ear.

Narrations are spoken in turn by the voices, a third clean, a third in noise of the room at 12 dB, a third beside a
second talker at 12 dB, and cut into utterances as in the exam. Every utterance is put to the test for an order.
"""

from __future__ import annotations

import json
import sys
import time
from itertools import cycle
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from parts import part_of  # noqa: E402
from voices import add_noise, missing, speak  # noqa: E402

from dictate.lexicon import load  # noqa: E402
from dictate.live.ear import Ear  # noqa: E402
from dictate.live.hearing import QuickEar  # noqa: E402
from dictate.live.orders import order_at_end, order_heard, order_table  # noqa: E402
from dictate.sound.sound import RATE  # noqa: E402
from dictate.speech import SpeechSettings  # noqa: E402

VOICES = ("emma", "hank", "slt", "joe", "rupert", "kal16")
AROUND = (None, "room", "talker")


def hours(minutes: float, *, snr: float = 12.0) -> None:
    """Print how many utterances of so many minutes were taken for an order."""
    hearer, table = QuickEar(SpeechSettings()), order_table(load())
    there = HERE.parent / "tests" / "narrations"
    texts = [
        json.loads(f.read_text(encoding="utf-8"))["text"]
        for f in sorted(there.glob("*.json"))
        if part_of(f.stem) != "held"
    ]
    voices, around = cycle([v for v in VOICES if not missing(v)]), cycle(AROUND)
    seconds, utterances, false = 0.0, 0, 0
    begun = time.process_time()
    for n, text in enumerate(texts[:: max(1, len(texts) // 150)]):
        if seconds >= 60 * minutes:
            break
        voice, noise = next(voices), next(around)
        sound = speak(text, voice, seed=n, pause=0.6)
        if noise:
            sound = add_noise(sound, noise, snr, seed=n)
        samples = (np.clip(sound, -1, 1) * 32767).astype(np.int16)
        ear = Ear(hearer, provisional=False)
        heard = [h for at in range(0, len(samples), RATE // 2) for h in ear.more(samples[at : at + RATE // 2])]
        for one in [*heard, *ear.end()]:
            utterances += 1
            found = order_heard(one.words.text, table, hearer.likelihoods)
            found = found or (order_at_end(one.words.text, table) or (0, None))[1]
            if found is not None:
                false += 1
                print(f"    false: {voice} {noise or 'clean'}: {one.words.text!r}: {found.order}", flush=True)
        seconds += len(samples) / RATE
        if n % 10 == 9:
            print(f"    {seconds / 60:.0f} minutes, {utterances} utterances, {false} false", flush=True)
    print(f"{seconds / 60:.0f} minutes of ordinary talk, {utterances} utterances: {false} taken for an order "
          f"({(time.process_time() - begun) / seconds:.2f} s of work a second)")  # fmt: skip
