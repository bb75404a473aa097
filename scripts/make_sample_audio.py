"""Make sample_audio_synthetic/: our own narrations of an invented practice, spoken by synthetic voices.

    python scripts/make_sample_audio.py                    sound and index.csv into sample_audio_synthetic/
    python scripts/make_sample_audio.py --truth --out DIR  the same elsewhere, with NAME.json beside each NAME.ogg
    python scripts/make_sample_audio.py --all --out DIR    every narration by every voice and noise

The committed part has each narration clean by one voice and with noise by another: six voices of three engines
(espeak-ng, flite, piper). Nobody's voice, no real patient and no real practice is in it. The texts, with what a careful
person would have written down, are scripts/sample_narrations/NAME.json.
"""

from __future__ import annotations

import argparse
import csv
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from speak_narrations import seed_of, spoken
from voices import NOISES, RATE, VOICES, add_noise, missing, write_sound

HERE = Path(__file__).parent
NARRATIONS = HERE / "sample_narrations"
FOLDER = HERE.parent / "sample_audio_synthetic"
BIT_RATE = 20000


@dataclass(frozen=True, slots=True)
class Take:
    """One sound file to be made: a narration, a voice with its speed and pitch, and noise at dB below it (or none)."""

    narration: str
    voice: str
    speed: float = 1.0
    pitch: float = 1.0
    noise: str = ""
    snr: float = 0.0

    @property
    def name(self) -> str:
        noise = f"{self.noise}{self.snr:g}" if self.noise else "clean"
        return f"{self.narration}_{self.voice}_{noise}"


COMMITTED = (
    Take("saltmarsh_01", "joe"),
    Take("saltmarsh_01", "emma", 0.95, 1.0, "fan", 15),
    Take("saltmarsh_02", "slt", 1.05),
    Take("saltmarsh_02", "joe", 1.1, 1.15, "talker", 15),
    Take("saltmarsh_03", "kal16"),
    Take("saltmarsh_03", "slt", 0.95, 0.95, "bark", 5),
    Take("saltmarsh_04", "emma", 0.95, 1.1),
    Take("saltmarsh_04", "joe", 1.0, 1.2, "room", 15),
    Take("saltmarsh_05", "hank"),
    Take("saltmarsh_05", "kal16", 1.1, 1.0, "clatter", 5),
    Take("saltmarsh_06", "rupert", 0.95),
    Take("saltmarsh_06", "slt", 1.0, 1.05, "room", 10),
)


def every_take() -> tuple[Take, ...]:
    """Each narration by each voice, clean and with each noise at 5, 10 and 20 dB."""
    names = sorted(p.stem for p in NARRATIONS.glob("*.json"))
    clean = [Take(n, v) for n in names for v in VOICES]
    noisy = [Take(n, v, noise=k, snr=s) for n in names for v in VOICES for k in NOISES for s in (5.0, 10.0, 20.0)]
    return (*clean, *noisy)


def make(take: Take, folder: Path, *, truth_too: bool) -> dict[str, str]:
    """Write one take's sound, and its truth where that is wanted; its row of the index."""
    truth = json.loads((NARRATIONS / f"{take.narration}.json").read_text(encoding="utf-8"))
    sound = spoken(truth["text"], take.narration, take.voice, speed=take.speed, pitch=take.pitch, spread=0)
    if take.noise:
        sound = add_noise(sound, take.noise, take.snr, seed=seed_of(take.name))
    write_sound(folder / f"{take.name}.ogg", sound, bit_rate=BIT_RATE)
    if truth_too:
        text = json.dumps({**truth, "id": take.name}, indent=1, ensure_ascii=False) + "\n"
        (folder / f"{take.name}.json").write_text(text, encoding="utf-8")
    return {
        "file": f"{take.name}.ogg",
        "narration": take.narration,
        "what": truth["style"],
        "engine": VOICES[take.voice].engine,
        "voice": VOICES[take.voice].name,
        "speed": f"{take.speed:g}",
        "pitch": f"{take.pitch:g}",
        "noise": take.noise or "none",
        "speech_over_noise_db": f"{take.snr:g}" if take.noise else "",
        "seconds": f"{len(sound) / RATE:.1f}",
        "facts": str(len(truth["facts"])),
    }


def main(arguments: Sequence[str] | None = None) -> int:
    """The exit status: 0 when everything was made."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=FOLDER, metavar="DIR")
    parser.add_argument("--all", action="store_true", help="every voice and noise; wants --out elsewhere")
    parser.add_argument("--truth", action="store_true", help="write NAME.json beside each NAME.ogg")
    options = parser.parse_args(arguments)
    if options.all and options.out.resolve() == FOLDER.resolve():
        print("--all makes over 400 files: name another folder with --out", file=sys.stderr)
        return 2
    takes = every_take() if options.all else COMMITTED
    for voice in sorted({t.voice for t in takes}):
        if why := missing(voice):
            print(f"voice {voice}: {why}", file=sys.stderr)
            return 2
    options.out.mkdir(parents=True, exist_ok=True)
    rows = []
    for i, take in enumerate(takes):
        rows.append(make(take, options.out, truth_too=options.truth))
        print(f"{i + 1}/{len(takes)} {take.name}", file=sys.stderr)
    with (options.out / "index.csv").open("w", encoding="utf-8", newline="") as f:
        writer = csv.DictWriter(f, rows[0].keys(), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
