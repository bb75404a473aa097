"""Trains, exports and judges the second reader.

    python scripts/train_second_reader.py --fit --base BASE --names CSV_FOLDER --out OUT        train (a GPU helps), write weights in parts
    python scripts/train_second_reader.py --export OUT --base BASE --names CSV_FOLDER           make the files of the package from the weights
    python scripts/train_second_reader.py --evaluate --names CSV_FOLDER --score SCORE_PY        figures of the shipped model

BASE is made by scripts/second_reader_base.py. Training reads the work part of tests/narrations, judging the choosing parts.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parent.parent))

TALKS = Path(__file__).parent.parent / "tests" / "narrations"
PART_BYTES = 14 * 2**20  # weights travel in parts of this size


def train(a: argparse.Namespace) -> None:
    """Trains one model for each variant and keeps the best by its figures on the choosing part."""
    import torch
    from second_reader_batch import Changing, Pieces, fixed
    from second_reader_data import load_part, read_names, unpunctuated
    from second_reader_fit import figures, fit, new_reader, outputs
    from tokenizers import Tokenizer
    from torch.utils.data import DataLoader

    device = "cuda" if torch.cuda.is_available() else "cpu"
    names = read_names(a.names)
    pieces = Pieces(Tokenizer.from_file(str(a.base / "tokenizer.json")))
    work, choosing, second = (load_part(a.talks, p, names) for p in ("work", "choosing", "second"))
    if a.few:
        work, choosing, second = work[: a.few], choosing[:3], second[:3]
    judged = {"choosing": choosing, "bare": [unpunctuated(t) for t in choosing], "second": second}
    judged = {k: fixed(v, names, pieces, 8) for k, v in judged.items() if v}
    print(
        len(work),
        "talks to work on;",
        {k: len(v) for k, v in judged.items()},
        "batches to choose on;",
        device,
        flush=True,
    )
    best: tuple[float, dict, str] | None = None
    for text in a.variant or ["{}"]:
        v = {
            "steps": 3000,
            "rate": 2e-4,
            "head": 1e-3,
            "decay": 0.05,
            "layers": 1,
            "drop": 0.2,
            "batch": 16,
            "seed": 1,
            "made": 0.0,
            "edrop": 0.1,
        } | json.loads(text)
        torch.manual_seed(v["seed"])
        model = new_reader(a.base, names, layers=v["layers"], drop=v["drop"], encoder_drop=v["edrop"])
        made: list = []
        data = Changing(work, made, names, pieces, batch=v["batch"], seed=v["seed"], made_share=v["made"])
        batches = DataLoader(
            data,
            batch_size=None,
            num_workers=a.workers,
            pin_memory=device == "cuda",
            prefetch_factor=8 if a.workers else None,
        )

        def judge(m, keys=("choosing",)) -> str:
            return "; ".join(
                k + " " + " ".join(f"{n} {x:.3f}" for n, x in figures(outputs(m, judged[k], device)).items())
                for k in keys
            )

        print("variant", json.dumps(v), flush=True)
        m = fit(
            model,
            batches,
            steps=v["steps"],
            rate=v["rate"],
            head_rate=v["head"],
            decay=v["decay"],
            device=device,
            say=lambda s: print(s, flush=True),
            judge=judge,
            every=max(1, v["steps"] // 4),
        )
        print("  done", judge(m, tuple(judged)), flush=True)
        f = [figures(outputs(m, judged[k], device)) for k in ("choosing", "bare")]
        mark = sum(x["site"] + 2 * x["outcome"] + 0.5 * x["sections"] + 0.5 * x["side"] for x in f)
        if best is None or mark > best[0]:
            best = (
                mark,
                {k: t.half().cpu().contiguous() for k, t in m.state_dict().items() if t.dtype.is_floating_point},
                json.dumps(v),
            )
            write_weights(a.out, *best, talks=len(work))
    if best:
        print("kept", best[2], round(best[0], 4))


def write_weights(out: Path, mark: float, state: dict, variant: str, *, talks: int) -> None:
    """Half-precision weights in parts, and what they were trained with."""
    from safetensors.torch import save

    out.mkdir(parents=True, exist_ok=True)
    blob = save(state)
    for i in range(0, len(blob), PART_BYTES):
        (out / f"weights.{i // PART_BYTES:02d}").write_bytes(blob[i : i + PART_BYTES])
    (out / "trained.json").write_text(json.dumps({"variant": json.loads(variant), "mark": mark, "talks": talks}))


def main() -> None:
    """Reads the command line."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--fit", action="store_true")
    ap.add_argument("--export", type=Path)
    ap.add_argument("--evaluate", action="store_true")
    ap.add_argument("--base", type=Path, default=Path("build/second_reader"))
    ap.add_argument("--names", type=Path, required=True)
    ap.add_argument("--talks", type=Path, default=TALKS)
    ap.add_argument("--out", type=Path, default=Path("build/second_reader/out"))
    ap.add_argument("--score", type=Path)
    ap.add_argument("--variant", action="append", help="JSON of training settings; may stand more than once")
    ap.add_argument("--workers", type=int, default=0)
    ap.add_argument("--few", type=int, default=0, help="a dry run on this many talks")
    ap.add_argument(
        "--whole", action="store_true", help="with --export: the encoder in 32 bits, to see what 8 bits cost"
    )
    a = ap.parse_args()
    if a.fit:
        train(a)
    if a.export:
        from second_reader_export import export

        export(a)
    if a.evaluate:
        from second_reader_judge import evaluate

        evaluate(a)


if __name__ == "__main__":
    main()
