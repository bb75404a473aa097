#!/usr/bin/env python3
"""The packaged speech model's arrays in a few parts that a training machine can be given.

    python scripts/speech_weights.py --out build/device/weights --parts 3

Matrices become int8 with a scale for each row, as CTranslate2 runs them on a processor; all else float16.
"""

from __future__ import annotations

import argparse
import shutil
import sys
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from dictate.speech.adapter import arrays  # noqa: E402
from dictate.speech.models import PINNED, joined  # noqa: E402
from dictate.speech.settings import SpeechSettings  # noqa: E402


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--out", type=Path, required=True)
    ap.add_argument("--parts", type=int, default=3)
    a = ap.parse_args()
    folder = joined(PINNED["base"], SpeechSettings().cache_folder / "models" / "base", name="base")
    a.out.mkdir(parents=True, exist_ok=True)
    parts: list[dict[str, np.ndarray]] = [{} for _ in range(a.parts)]
    sizes = [0] * a.parts
    for name, array in sorted(arrays(folder / "model.bin").items(), key=lambda item: -item[1].size):
        at = sizes.index(min(sizes))
        key = name.replace("/", "|")
        if array.ndim == 2 and array.size > 100000:
            scale = np.abs(array).max(1) / 127
            parts[at][key] = np.rint(array / np.maximum(scale, 1e-12)[:, None]).astype(np.int8)
            parts[at][f"{key}.scale"] = scale.astype(np.float32)
        else:
            parts[at][key] = array.astype(np.float16)
        sizes[at] += parts[at][key].nbytes
    for i, part in enumerate(parts):
        np.savez(a.out / f"weights_{i}.npz", **part)
        print(f"weights_{i}.npz", (a.out / f"weights_{i}.npz").stat().st_size >> 20, "MiB")
    shutil.copy(folder / "tokenizer.json", a.out)
    return 0


if __name__ == "__main__":
    sys.exit(main())
