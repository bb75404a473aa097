#!/usr/bin/env python3
"""Speak the texts of `speech_texts.py`: shards of 16-bit samples at 16 kHz, and an index of where each row lies.

    python scripts/make_speech.py --texts build/speech_texts.json --part teach --not joe --workers 16 --out /tmp/speech

Writes PART_K.pcm (int16, little-endian) and PART_K.json, a list of [row, first sample, samples, [first, last] of each
sentence]; a row that an engine cannot
speak, or that is longer than 30 seconds, is left out. Only numpy and the engines are needed.
"""

from __future__ import annotations

import argparse
import json
import sys
from multiprocessing import Pool
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from voices import RATE, speak_sentences

LONGEST = 30 * RATE


def made(task: tuple[str, str, list[tuple[int, dict]], Path]) -> int:
    """One shard: its rows spoken one after the other; how many there are."""
    part, shard, rows, folder = task
    index, at = [], 0
    with (folder / f"{part}_{shard}.pcm").open("wb") as out:
        for number, row in rows:
            try:
                sound, places = speak_sentences(
                    row["say"], row["voice"], speed=row["speed"], pitch=row["pitch"], pause=0.25, seed=number
                )
            except (RuntimeError, OSError, ValueError) as e:
                print(f"row {number} {row['voice']}: {e}", file=sys.stderr, flush=True)
                continue
            if not RATE // 2 < len(sound) <= LONGEST:
                continue
            out.write((np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes())
            index.append([number, at, len(sound), places])
            at += len(sound)
    (folder / f"{part}_{shard}.json").write_text(json.dumps(index))
    return len(index)


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--texts", type=Path, required=True)
    ap.add_argument("--part", required=True)
    ap.add_argument("--only", default="", help="one voice alone")
    ap.add_argument("--not", dest="without", default="", help="a voice left out")
    ap.add_argument("--workers", type=int, default=2)
    ap.add_argument("--hours", type=float, default=0, help="rows up to about this much speech")
    ap.add_argument("--out", type=Path, required=True)
    a = ap.parse_args()
    rows = list(enumerate(json.loads(a.texts.read_text(encoding="utf-8"))[a.part]))
    rows = [(i, r) for i, r in rows if r["voice"] != a.without and (not a.only or r["voice"] == a.only)]
    if a.hours:
        words = np.cumsum([sum(len(s.split()) for s in r["say"]) for _, r in rows])
        rows = rows[: int(np.searchsorted(words, a.hours * 3600 * 2.6))]
    a.out.mkdir(parents=True, exist_ok=True)
    size = 40  # small shards keep all workers busy to the end
    tasks = [
        (a.part, f"{a.only or 'all'}_{k:04d}", rows[k * size : (k + 1) * size], a.out)
        for k in range((len(rows) + size - 1) // size)
    ]
    with Pool(a.workers) as pool:
        done = sum(pool.imap_unordered(made, tasks))
    print(f"{a.part}: {done} of {len(rows)} rows spoken", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
