#!/usr/bin/env python3
"""Fit the choice of the patient's name (`dictate/language/naming.json`) on the work narrations, and judge it.

python scripts/fit_naming.py            fits and writes
python scripts/fit_naming.py --check    prints the share right on the choosing part, by the shipped weights
"""

from __future__ import annotations

import argparse
import json
import re
from collections import Counter
from pathlib import Path

import numpy as np
from parts import part_of

from dictate.language import naming
from dictate.language.marking import vocabulary
from dictate.language.tokens import tokenize
from dictate.lexicon import load

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "dictate" / "language" / "naming.json"
IN_TALKS = 5  # a word that stands in lower case in so many talks is common


def narrations(part: str) -> list[dict]:
    files = sorted((ROOT / "tests" / "narrations").glob("*.json"))
    return [json.loads(f.read_text(encoding="utf-8")) for f in files if part_of(f.stem) == part]


def bare(text: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"[^\w\s']", " ", text.lower()))


def common_words(talks: list[dict]) -> list[str]:
    count: Counter[str] = Counter()
    names = {(talk["patient"].get("name") or "").lower() for talk in talks}
    for talk in talks:
        count.update(set(re.findall(r"\b[a-z]{2,}\b", talk["text"])))
    return sorted(w for w, n in count.items() if n >= IN_TALKS and (w not in names or n >= 8 * IN_TALKS))


def logistic(x: np.ndarray, y: np.ndarray, *, ridge: float = 1.0) -> np.ndarray:
    """Weights of a logistic model by Newton's method; the last is the constant."""
    x = np.c_[x, np.ones(len(x))]
    w = np.zeros(x.shape[1])
    for _ in range(60):
        p = 1 / (1 + np.exp(-x @ w))
        penalty = ridge * np.r_[np.ones(len(w) - 1), 0]
        step = np.linalg.solve(
            (x * (p * (1 - p))[:, None]).T @ x + np.diag(penalty + 1e-6), x.T @ (p - y) + penalty * w
        )
        w -= step
        if abs(step).max() < 1e-6:
            break
    return w


def examples(talks: list[dict], common: frozenset[str], *, without_marks: bool) -> tuple[np.ndarray, np.ndarray]:
    words = vocabulary(load())
    rows, right = [], []
    for talk in talks:
        wanted = (talk["patient"].get("name") or "").lower()
        text = bare(talk["text"]) if without_marks else talk["text"]
        tokens = tokenize(text, words.spelling)
        terms = words.patients.find(tokens)
        found, _ = naming.candidates(text, tokens, terms)
        last_word = re.sub(r"[^\w' ]", "", wanted).split()[-1:] or [""]
        for i in found:
            rows.append(naming.features(text, tokens, terms, i, words.known, common))
            right.append(tokens[i].text == last_word[0])
    return np.array(rows), np.array(right, float)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--check", action="store_true")
    if not arguments.parse_args().check:
        talks = narrations("work")
        common = common_words(talks)
        weights = {
            key: [
                round(float(v), 4)
                for v in logistic(*examples(talks, frozenset(common), without_marks=key == "uncased"))
            ]
            for key in ("cased", "uncased")
        }
        OUT.write_text(json.dumps({**weights, "common": common}) + "\n", encoding="utf-8")
        naming.shipped.cache_clear()
    words = vocabulary(load())
    for without_marks in (False, True):
        right = told = 0
        for talk in narrations("choosing"):
            if not talk["patient"].get("name"):
                continue
            text = bare(talk["text"]) if without_marks else talk["text"]
            tokens = tokenize(text, words.spelling)
            got = naming.name(text, tokens, words.patients.find(tokens), words.known) or ""
            told += 1
            right += got.lower().strip(".") == talk["patient"]["name"].lower().strip(".")
        print(f"{'without marks' if without_marks else 'as written'}: {right} of {told} names")


if __name__ == "__main__":
    main()
