#!/usr/bin/env python3
"""Minutes of each kind of exam-room noise, for training on sound: int16 samples, kinds one after the other.

python scripts/make_noise.py --minutes 4 --workers 16 --out /tmp/speech/noise
"""

from __future__ import annotations

import argparse
import sys
from multiprocessing import Pool
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from voices import NOISES, RATE, noise_of


def minute(task: tuple[str, int]) -> np.ndarray:
    """A minute of one kind."""
    noise = noise_of(task[0], 60 * RATE, 1000 + task[1])
    return (noise / max(1e-6, float(np.abs(noise).max())) * 32000).astype("<i2")


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--minutes", type=int, default=4)
    ap.add_argument("--workers", type=int, default=2)
    ap.add_argument("--out", type=Path, required=True)
    a = ap.parse_args()
    with Pool(a.workers) as pool:
        made = pool.map(minute, [(kind, i) for kind in NOISES for i in range(a.minutes)], chunksize=1)
    file = a.out.with_name(f"{a.out.name}.{len(NOISES)}")
    file.write_bytes(b"".join(m.tobytes() for m in made))
    print(file, len(made), "minutes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
