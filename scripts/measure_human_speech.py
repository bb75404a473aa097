#!/usr/bin/env python3
"""How well general speech of a real person is heard: words heard wrong in recorded announcements, with several models.

    python scripts/measure_human_speech.py                      the shipped model as taught, and as packaged
    python scripts/measure_human_speech.py --model FOLDER       another one, as often as wanted

The speech is that of the announcements in Debian's package asterisk-core-sounds-en-wav (a professional speaker;
CC-BY-SA; telephone band as it is), its texts those of the list in the package asterisk-core-sounds-en. Announcements of
four words and more, one after the other with a pause between. Nothing was trained on them.
"""

from __future__ import annotations

import argparse
import gzip
import re
import sys
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from measure_words import normal  # noqa: E402

SOUNDS = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
TEXTS = Path("/usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz")
LEAST_WORDS, PAUSE, LONGEST = 4, 0.7, 25.0


def announcements() -> list[tuple[Path, str]]:
    """The sound files with the words spoken in each; notes in brackets and signs left out."""
    found = []
    for line in gzip.decompress(TEXTS.read_bytes()).decode("utf-8", "replace").splitlines():
        name, _, text = line.partition(":")
        file = SOUNDS / f"{name.strip()}.wav"
        text = re.sub(r"[\[(<].*?[\])>]", " ", text)
        if not line.startswith(";") and file.is_file() and len(text.split()) >= LEAST_WORDS and "[" not in line:
            found.append((file, " ".join(text.split())))
    return found


def groups() -> list[tuple[np.ndarray, str]]:
    """Announcements put together up to 25 seconds of sound: samples at 16 kHz, and the text."""
    from dictate.sound import decode

    out, row, said, length = [], [], [], 0.0
    for file, text in announcements():
        sound = decode(file)
        samples = np.concatenate([sound.stretch(0, sound.seconds), np.zeros(int(16000 * PAUSE), dtype=np.float32)])
        if row and length + sound.seconds + PAUSE > LONGEST:
            out.append((np.concatenate(row), " ".join(said)))
            row, said, length = [], [], 0.0
        row.append(samples)
        said.append(text)
        length += sound.seconds + PAUSE
    return [*out, (np.concatenate(row), " ".join(said))]


def main() -> int:
    import jiwer

    from dictate.sound import sound_of
    from dictate.speech import SpeechSettings, transcribe_sound

    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--model", action="append", default=[], help="a model's folder, beside the shipped one")
    ap.add_argument("--every", type=int, default=1, metavar="N", help="only every Nth stretch of some 25 seconds")
    a = ap.parse_args()
    if not TEXTS.is_file() or not SOUNDS.is_dir():
        print("install the packages asterisk-core-sounds-en and asterisk-core-sounds-en-wav first", file=sys.stderr)
        return 2
    spoken = groups()[:: a.every]
    tried = [("base", False), ("base", True), *((m, False) for m in a.model)]
    for model, plain in tried:
        settings = SpeechSettings(model=model, plain=plain, use_cache=False)
        heard = [transcribe_sound(sound_of(samples), settings=settings).text for samples, _ in spoken]
        found = jiwer.process_words([normal(text) for _, text in spoken], [normal(text) for text in heard])
        words = found.hits + found.substitutions + found.deletions
        print(f"{model}{', as packaged' if plain else ''}: {found.wer:.3f} of {words} words wrong", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
