"""Trains, exports and judges the second reader.

    python scripts/train_second_reader.py --fit --base BASE --names CSVS --out OUT
        trains (a GPU helps) and writes half-precision weights in parts
    python scripts/train_second_reader.py --blend OUT... --out OUT2 --base BASE --names CSVS
        judges several trained models, their mean answers and their mean weights; writes the best of them
    python scripts/train_second_reader.py --export OUT --base BASE --names CSVS
        makes the files of the package from the weights, and calibrates them
    python scripts/train_second_reader.py --evaluate --names CSVS --score SCORE_PY
        figures of the shipped model on the choosing parts

BASE is made by scripts/second_reader_base.py; CSVS is the folder of sites.csv and findings.csv. Training reads the
work part of tests/narrations, and talks made from the tables of words beside this script; figures are of the choosing
parts.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parent.parent))

ROOT = Path(__file__).parent.parent
PART_BYTES = 14 * 2**20  # weights travel in parts of this size
SETTINGS = {
    "seconds": 120,
    "rate": 3e-4,
    "head": 1e-3,
    "decay": 0.05,
    "layers": 1,
    "drop": 0.2,
    "edrop": 0.1,
    "batch": 32,
    "seed": 1,
    "made": 0.3,
    "alike": True,
    "without": "",  # talks whose names match are left out of training, to be read by a reader that never saw them
}


class Bench:
    """Everything that training and judging share: names, word pieces, talks, and the device."""

    def __init__(self, a: argparse.Namespace) -> None:
        import torch
        from second_reader_batch import Pieces, fixed
        from second_reader_data import load_part, read_names, unpunctuated
        from tokenizers import Tokenizer

        self.a = a
        self.device = "cuda" if torch.cuda.is_available() else "cpu"
        self.names = read_names(a.names)
        self.pieces = Pieces(Tokenizer.from_file(str(a.base / "tokenizer.json")))
        self.work, choosing, second = (load_part(a.talks, p, self.names) for p in ("work", "choosing", "second"))
        if a.few:
            self.work, choosing, second = self.work[: a.few], choosing[:3], second[:3]
        parts = {"choosing": choosing, "second": second}
        parts |= {f"{k}, bare": [unpunctuated(t) for t in v] for k, v in parts.items()}
        self.judged = {k: fixed(v, self.names, self.pieces, 8) for k, v in parts.items()}

    def figures(self, models: list) -> dict[str, dict[str, float]]:
        """Figures of the models' mean answers on every judged part."""
        from second_reader_fit import figures, outputs

        for m in models:
            m.to(self.device).eval()
        return {k: figures(outputs(models, b, self.device)) for k, b in self.judged.items()}

    def reader(self, settings: dict[str, Any], base: Path | None = None) -> Any:
        """A reader before training."""
        from second_reader_fit import new_reader

        return new_reader(
            base or self.a.base,
            self.names,
            layers=settings["layers"],
            drop=settings["drop"],
            encoder_drop=settings["edrop"],
        )


def mark_of(figures: dict[str, dict[str, float]]) -> float:
    """One figure to choose models by."""
    weights = {"site": 1, "outcome": 2, "sections": 0.5, "side": 0.5}
    return sum(w * f[k] for f in figures.values() for k, w in weights.items()) / sum(weights.values()) / len(figures)


def lines(figures: dict[str, dict[str, float]]) -> str:
    """Figures as a small table."""
    return "\n".join(f"   {k:<15} " + "  ".join(f"{n} {x:.3f}" for n, x in f.items()) for k, f in figures.items())


def train(a: argparse.Namespace) -> None:
    """Trains one model and writes its weights."""
    import torch
    from second_reader_augment import as_heard
    from second_reader_batch import Changing
    from second_reader_fit import fit
    from second_reader_made import made_talks
    from second_reader_words import alike_of, read_words
    from torch.utils.data import DataLoader

    v: dict[str, Any] = SETTINGS | json.loads(a.settings)
    bench = Bench(a)
    if v["without"]:
        bench.work = [t for t in bench.work if not re.match(v["without"], t.name)]
    heard = {row["name"]: row["heard"] for row in map(json.loads, a.heard.read_text().splitlines())} if a.heard else {}
    bench.work += [as_heard(t, heard[t.name]) for t in bench.work if t.name in heard]
    words = read_words(bench.names, ROOT / "lexicon" / "site_words.csv", bench.work)
    made = made_talks(words, bench.names, many=20 if a.few else 3000, seed=v["seed"]) if v["made"] else []
    torch.manual_seed(1)  # alike for all seeds, so that weights of several runs can be averaged
    model = bench.reader(v)
    if a.start:
        model.load_state_dict(read_model(bench, a.start)[0].to("cpu").state_dict())
    torch.manual_seed(v["seed"])
    data = Changing(
        bench.work,
        made,
        bench.names,
        bench.pieces,
        batch=v["batch"],
        seed=v["seed"],
        made_share=v["made"],
        alike=alike_of(words, bench.names) if v["alike"] else None,
    )
    ahead = 4 if a.workers else None
    batches = DataLoader(
        data, batch_size=None, num_workers=a.workers, pin_memory=bench.device == "cuda", prefetch_factor=ahead
    )
    told = f"[{a.out.name}] "
    print(told, len(bench.work), "talks,", bench.device, json.dumps(v), flush=True)
    teachers = [read_model(bench, path, a.teacher_base)[0] for path in a.teacher]
    m = fit(
        model,
        batches,
        seconds=v["seconds"],
        rate=v["rate"],
        head_rate=v["head"],
        decay=v["decay"],
        device=bench.device,
        say=lambda s: print(told + s, flush=True),
        teachers=teachers,
    )
    f = bench.figures([m])
    print(f"{told} mark {mark_of(f):.4f}\n{lines(f)}", flush=True)
    told_of = {"settings": v, "teachers": len(teachers), "talks": len(bench.work), "figures": f}
    write_weights(a.out, m.state_dict(), told_of)


def blend(a: argparse.Namespace) -> None:
    """Judges several models, their mean answers and their mean weights; keeps the best single or mean weights."""
    bench = Bench(a)
    read = [read_model(bench, path) for path in a.blend]
    f = bench.figures([m for m, _ in read])
    print(f"mean answers of {len(read)}: mark {mark_of(f):.4f}\n{lines(f)}", flush=True)
    states = [m.state_dict() for m, _ in read]
    best = max(read, key=lambda r: mark_of(r[1]["figures"]))
    kept = (mark_of(best[1]["figures"]), best[0].state_dict(), best[1])
    if len({json.dumps([r[1]["settings"][k] for k in ("layers",)]) for r in read}) == 1:
        mean = {k: sum(s[k].float() for s in states) / len(states) for k in states[0]}
        model = read[0][0]
        old = {k: v.clone() for k, v in states[0].items()}
        model.load_state_dict({k: v.to(old[k].dtype) for k, v in mean.items()})
        f = bench.figures([model])
        print(f"mean weights of {len(read)}: mark {mark_of(f):.4f}\n{lines(f)}", flush=True)
        if mark_of(f) > kept[0]:
            kept = (mark_of(f), mean, best[1] | {"figures": f, "mean weights of": [r[1]["settings"] for r in read]})
    write_weights(a.out, *kept[1:])


def read_model(bench: Bench, path: Path, base: Path | None = None) -> tuple[Any, dict]:
    """A trained model, which began from `base`, and what it was trained with."""
    from second_reader_base import read_weights

    trained = json.loads((path / "trained.json").read_text())
    model = bench.reader(trained["settings"], base)
    lacking = model.load_state_dict(read_weights(path), strict=False)
    if lacking.unexpected_keys or [
        k for k in lacking.missing_keys if "position_ids" not in k and "token_type_ids" not in k
    ]:
        raise SystemExit(f"{path}: weights do not fit: {lacking}")
    return model.to(bench.device).eval(), trained


def write_weights(out: Path, state: dict, trained: dict) -> None:
    """Half-precision weights in parts, and what they were trained with."""
    from safetensors.torch import save

    out.mkdir(parents=True, exist_ok=True)
    blob = save({k: t.half().cpu().contiguous() for k, t in state.items() if t.dtype.is_floating_point})
    for i in range(0, len(blob), PART_BYTES):
        (out / f"weights.{i // PART_BYTES:02d}").write_bytes(blob[i : i + PART_BYTES])
    (out / "trained.json").write_text(json.dumps(trained))


def main() -> None:
    """Reads the command line."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--fit", action="store_true")
    ap.add_argument("--blend", type=Path, nargs="+")
    ap.add_argument("--export", type=Path)
    ap.add_argument("--to", type=Path, help="with --export: the folder of the files, by default the package's")
    ap.add_argument("--evaluate", action="store_true")
    ap.add_argument("--base", type=Path, default=ROOT / "build" / "second_reader")
    ap.add_argument("--names", type=Path, required=True)
    ap.add_argument("--talks", type=Path, default=ROOT / "tests" / "narrations")
    ap.add_argument("--heard", type=Path, help="the talks as a recogniser heard them: lines of {name, heard}")
    ap.add_argument("--out", type=Path, default=ROOT / "build" / "second_reader_out")
    ap.add_argument("--score", type=Path)
    ap.add_argument("--settings", default="{}", help=f"JSON over {json.dumps(SETTINGS)}")
    ap.add_argument("--teacher", type=Path, action="append", default=[], help="a trained model to learn from as well")
    ap.add_argument("--teacher-base", type=Path, help="the base of the teachers, where it is another one")
    ap.add_argument("--start", type=Path, help="begin from this trained model's weights, not from the base")
    ap.add_argument("--workers", type=int, default=0)
    ap.add_argument("--few", type=int, default=0, help="a dry run on this many talks")
    ap.add_argument(
        "--whole", action="store_true", help="with --export: the encoder in 32 bits, to see what 8 bits cost"
    )
    a = ap.parse_args()
    if a.fit:
        train(a)
    if a.blend:
        blend(a)
    if a.export:
        from second_reader_export import export

        export(a)
    if a.evaluate:
        from second_reader_judge import evaluate

        evaluate(a)


if __name__ == "__main__":
    main()
