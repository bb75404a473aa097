"""A whole exam through the real command, at real speed: spoken by a voice, with a question answered, a statement taken
back, a pause in which something private is said, and finished by voice; then the recording is drafted again."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from voices import missing, speak, write_sound  # noqa: E402

from dictate.lexicon import load  # noqa: E402
from dictate.live.orders import order_table  # noqa: E402
from dictate.sound import decode  # noqa: E402
from dictate.sound.sound import RATE  # noqa: E402

VOICES = ("slt", "joe", "hank")
# What is said, and the seconds of silence behind it. {wake} is the wake word.
SCRIPT = (
    ("This is Bramble, a border terrier, female, neutered, four years old.", 1.0),
    ("Temperature is thirty-eight point four degrees.", 1.0),
    ("Heart rate ninety-six, no murmur.", 1.0),
    ("The elbow is thickened.", 4.0),
    ("Left.", 2.5),
    ("The tail has a wound.", 1.5),
    ("{wake}, take that back.", 2.5),
    ("{wake}, pause.", 3.0),
    ("The owner has a cough and would like to sell the car.", 1.5),
    ("{wake}, carry on.", 2.5),
    ("Abdomen is soft, no pain.", 1.5),
    ("{wake}, finish the exam.", 4.0),
    ("This is said after the end.", 6.0),
)
DICTATE = [sys.executable, "-c", "import sys; from dictate.cli import main; sys.exit(main(sys.argv[1:]))"]


def whole() -> None:
    """Print for each voice which events were kept, and whether the two drafts are equal."""
    wake = " ".join(order_table(load()).wake).capitalize()
    equal = tried = 0
    for voice in (v for v in VOICES if not missing(v)):
        with tempfile.TemporaryDirectory(prefix="whole-") as place:
            folder = Path(place)
            parts = []
            for n, (text, quiet) in enumerate(SCRIPT):
                parts += [speak(text.format(wake=wake), voice, seed=n), np.zeros(round(quiet * RATE), dtype=np.float32)]
            write_sound(folder / "script.wav", np.concatenate(parts))
            options = ["--port", "0", "--no-browser", "--no-review", "--name", "a", "--out", str(folder / "live")]
            live = [*DICTATE, "exam", *options, "--from-file", str(folder / "script.wav")]
            subprocess.run(live, check=True, capture_output=True)
            record = json.loads((folder / "live" / "a.record.json").read_text())
            again = [*DICTATE, "draft", str(folder / "live" / "a.wav"), "--out", str(folder / "again")]
            subprocess.run(again, check=True, capture_output=True)
            batch = json.loads((folder / "again" / "a.record.json").read_text())
            tried += 1
            equal += _bare(record) == _bare(batch)
            if differ := [k for k, v in _bare(record).items() if batch.get(k) != v]:
                print(f"    {voice}: the drafts differ in {', '.join(differ)}")
            events = [json.loads(line) for line in (folder / "live" / "a.events.jsonl").read_text().splitlines()]
            told = [e.get("order") or e.get("choice") or e["kind"] for e in events]
            private = [w for w in ("cough", "sell", "car") if w in record.get("talk", "").lower().split()]
            seconds, played = decode(folder / "live" / "a.wav").seconds, sum(map(len, parts)) / RATE
            print(f"    {voice}: {', '.join(told)}; {seconds:.0f} s of {played:.0f} s recorded")
            print(f"        private words kept: {private or 'none'}; {record.get('talk')!r}", flush=True)
    print(f"whole exams: drafts equal to `dictate draft` of their recordings: {equal} of {tried}")


def _bare(record: dict[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in record.items() if k != "drafted"}
