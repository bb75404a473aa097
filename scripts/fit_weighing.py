#!/usr/bin/env python3
"""Fit the trees that weigh a statement's signals (`dictate/language/weighing.json`); judge them on the choosing part.

    python scripts/fit_weighing.py --authors REGEX

The shipped second reader was trained without the talks whose names match REGEX (`train_second_reader.py --fit` with
the setting `without`): its word on those talks is as honest as on talks of new authors. With `--fold MODEL` another
model in the folder MODEL was, and reads them. Needs scikit-learn (group `train`).
"""

from __future__ import annotations

import argparse
import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
from parts import part_of
from scoring import Synonyms, bears_out, expand

from dictate.language import seconding, step
from dictate.language.second_reader import SecondReader, load
from dictate.language.values import Said
from dictate.language.weighing import Trees, features
from dictate.lexicon import load as load_lexicon

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "dictate" / "language" / "weighing.json"
DEPTH = 4
TREES = 260
APART = re.compile(r"(k8|m1)_")  # talks of two authors that no second reader was trained on


def bare(text: str) -> str:
    """A text as recognisers give it that write no marks and no capitals; points and slashes inside numbers stay."""
    text = re.sub(r"[^\w\s'.,/%]|(?<=\d)[.,](?!\d)|(?<!\d)[.,]", " ", text.lower())
    return re.sub(r"\s+", " ", text).strip()


def is_right(said: Said, facts: list[dict], same: Synonyms) -> bool:
    """Whether facts of the truth bear a statement out, on each of its sides."""
    value = {"number": said.value.number, "unit": said.value.unit} if said.value else None
    if said.value and not any(f["site"] == said.site and f.get("value") == said.value.number for f in facts):
        return False
    shape = {"site": said.site, "status": said.status, "finding": said.finding, "present": said.present, "value": value}
    sides = ("left", "right") if said.side == "both" else (said.side,)
    return all(any(bears_out(f, {**shape, "side": side}, same) for f in facts) for side in sides)


def examples(reader: SecondReader, wanted: Callable[[str], bool]) -> tuple[np.ndarray, np.ndarray]:
    """Signals and rightness of all statements proposed for the wanted talks: as written, without marks, as heard."""
    lexicon, same = load_lexicon(), Synonyms(None)
    seconding.second_reader = lambda: reader  # type: ignore[assignment]
    lines = (ROOT / "tests" / "heard_narrations.jsonl").read_text(encoding="utf-8").splitlines()
    heard = {row["name"]: row["heard"] for row in map(json.loads, lines)}
    rows, right = [], []
    for file in sorted((ROOT / "tests" / "narrations").glob("*.json")):
        if not wanted(file.stem):
            continue
        truth = json.loads(file.read_text(encoding="utf-8"))
        facts = expand(truth["facts"])
        texts = (truth["text"], bare(truth["text"]), *([heard[file.stem]] if file.stem in heard else []))
        for text in texts:
            for said in step.read_through(text, lexicon).said:
                rows.append(features(said))
                right.append(is_right(said, facts, same))
    return np.array(rows), np.array(right, float)


def complete(tree, depth: int, rate: float) -> tuple[list[int], list[float], list[float]]:
    """A scikit-learn tree as a complete binary tree; where it ends early, both branches lead to its leaf."""
    nodes = 2**depth - 1
    at, splits, leaves = [0] * nodes, [0.0] * nodes, [0.0] * (nodes + 1)

    def fill(place: int, node: int) -> None:
        if place >= nodes:
            leaves[place - nodes] = round(float(tree.value[node].ravel()[0]) * rate, 5)
            return
        if tree.children_left[node] < 0:
            fill(2 * place + 1, node)
            fill(2 * place + 2, node)
            return
        at[place], splits[place] = int(tree.feature[node]), round(float(tree.threshold[node]), 5)
        fill(2 * place + 1, tree.children_left[node])
        fill(2 * place + 2, tree.children_right[node])

    fill(0, 0)
    return at, splits, leaves


def fit(rows: np.ndarray, right: np.ndarray) -> dict:
    """Boosted trees, as the file holds them."""
    from sklearn.ensemble import GradientBoostingClassifier

    rate = 0.06
    model = GradientBoostingClassifier(
        n_estimators=TREES,
        learning_rate=rate,
        max_depth=DEPTH,
        subsample=0.6,
        min_samples_leaf=40,
        max_features=0.4,
        random_state=0,
    ).fit(rows, right)
    parts = [complete(e[0].tree_, DEPTH, rate) for e in model.estimators_]
    start = float(np.log(right.mean() / (1 - right.mean())))
    return {
        "start": round(start, 5),
        "features": [p[0] for p in parts],
        "splits": [p[1] for p in parts],
        "leaves": [p[2] for p in parts],
    }


def judge(trees: Trees, rows: np.ndarray, right: np.ndarray) -> None:
    """Print the loss, and how often statements of each band of probability are right."""
    p = np.clip(trees.probabilities(rows), 1e-6, 1 - 1e-6)
    print(f"{len(rows)} statements, log loss {-(right * np.log(p) + (1 - right) * np.log(1 - p)).mean():.4f}")
    for low in np.arange(0, 1, 0.1):
        band = (p >= low) & (p < low + 0.1)
        if band.any():
            said, held = p[band].mean(), right[band].mean()
            print(f"  {low:.1f} to {low + 0.1:.1f}: {band.sum():5d}, said {said:.3f}, right {held:.3f}")


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--fold", type=Path, help="the model that reads those talks, by default the shipped one")
    arguments.add_argument("--authors", required=True)
    given = arguments.parse_args()
    authors = re.compile(given.authors)
    shipped = load()
    reader = load(given.fold) if given.fold else shipped
    unseen = examples(reader, lambda n: part_of(n) == "work" and bool(authors.match(n)))
    apart = examples(shipped, lambda n: bool(APART.match(n)))
    raw = fit(*(np.concatenate(pair) for pair in zip(unseen, apart, strict=True)))
    OUT.write_text(json.dumps(raw, separators=(",", ":")) + "\n", encoding="utf-8")
    trees = Trees(np.array(raw["features"]), np.array(raw["splits"]), np.array(raw["leaves"]), raw["start"])
    judge(trees, *examples(shipped, lambda n: part_of(n) == "choosing"))


if __name__ == "__main__":
    main()
