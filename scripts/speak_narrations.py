"""Speak narrations: each NAME.json (with a "text") becomes NAME.ogg in a folder, by the voices and noise named.

    python scripts/speak_narrations.py tests/narrations/g1_0*.json --voices kal16 emma --out spoken
    python scripts/speak_narrations.py tests/narrations/g1_0*.json --voices kal16 emma --noise room --snr 10 --out noisy

The voices take turns over the files, in the order of their names, so that a run can be repeated. Opus at 24 kbit/s.
`--speed` and `--pitch` are factors; `--spread` varies both a little from file to file, as people do.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from voices import NOISES, RATE, VOICES, add_noise, missing, speak, write_sound


def seed_of(*parts: str) -> int:
    """A number that follows from names alone, so that the order of files changes nothing."""
    return int.from_bytes(hashlib.sha256("\0".join(parts).encode()).digest()[:4], "big")


def spoken(text: str, name: str, voice: str, *, speed: float, pitch: float, spread: float) -> np.ndarray:
    """The text by one voice, speed and pitch varied by up to `spread` (0.1: a tenth), as the name decides."""
    rng = np.random.default_rng(seed_of(name, voice))
    own_speed, own_pitch = (float(f * (1 + rng.uniform(-spread, spread))) for f in (speed, pitch))
    return speak(text, voice, speed=own_speed, pitch=own_pitch, seed=seed_of(name))


def main(arguments: Sequence[str] | None = None) -> int:
    """The exit status: 0 when every file was spoken."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR")
    parser.add_argument("--voices", nargs="+", choices=VOICES, default=["joe", "kal16"], metavar="VOICE")
    parser.add_argument("--noise", choices=NOISES)
    parser.add_argument("--snr", type=float, default=10.0, help="dB of speech over noise")
    parser.add_argument("--speed", type=float, default=1.0)
    parser.add_argument("--pitch", type=float, default=1.0)
    parser.add_argument("--spread", type=float, default=0.0)
    options = parser.parse_args(arguments)
    for voice in options.voices:
        if why := missing(voice):
            print(f"voice {voice}: {why}", file=sys.stderr)
            return 2
    options.out.mkdir(parents=True, exist_ok=True)
    for i, file in enumerate(sorted(options.files)):
        try:
            text = json.loads(file.read_text(encoding="utf-8"))["text"]
        except (OSError, ValueError, KeyError, TypeError) as e:
            print(f'{file}: no narration with a "text" ({type(e).__name__})', file=sys.stderr)
            return 2
        voice = options.voices[i % len(options.voices)]
        sound = spoken(text, file.stem, voice, speed=options.speed, pitch=options.pitch, spread=options.spread)
        if options.noise:
            sound = add_noise(sound, options.noise, options.snr, seed=seed_of(file.stem))
        write_sound(options.out / f"{file.stem}.ogg", sound)
        noise = f"{options.noise} at {options.snr:g} dB" if options.noise else "clean"
        print(f"{file.stem}.ogg  {voice}  {noise}  {len(sound) / RATE:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
