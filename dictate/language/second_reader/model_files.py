"""The model's files: one encoder (ONNX), its word pieces, the heads' weights, and labels with calibration."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dictate.errors import InputError

FOLDER = Path(__file__).parent / "model"
ENCODER, PIECES, HEADS, LABELS = "encoder.onnx", "tokenizer.json", "heads.npz", "labels.json"

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Labels:
    """Names of the label columns, and how logits become probabilities.

    `scale` maps a kind of label to (factor, shift): probability = 1 / (1 + exp(-(factor * logit + shift))).
    `limits` are decision thresholds chosen on talks that were kept out of training.
    """

    roles: tuple[str, ...]
    sides: tuple[str, ...]
    plain: tuple[str, ...]
    sites: tuple[str, ...]
    findings: tuple[str, ...]
    scale: Mapping[str, tuple[float, float]]
    limits: Mapping[str, float]
    training: Mapping[str, Any]


def folder_of_model(folder: Path | None) -> Path:
    """The folder with all the model's files. Raises InputError, naming what is missing."""
    found = folder or FOLDER
    missing = [name for name in (ENCODER, PIECES, HEADS, LABELS) if not (found / name).is_file()]
    if missing:
        raise InputError(
            f"the second reader's model lacks {', '.join(missing)}; install the package again or train it",
            where=str(found),
        )
    return found


def read_labels(path: Path) -> Labels:
    """Labels and calibration. Raises InputError where the file is not what it should be."""
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
        return Labels(
            **{key: tuple(raw[key]) for key in ("roles", "sides", "plain", "sites", "findings")},
            scale={k: (float(a), float(b)) for k, (a, b) in raw["scale"].items()},
            limits={k: float(v) for k, v in raw["limits"].items()},
            training=raw["training"],
        )
    except (ValueError, KeyError, TypeError) as e:
        raise InputError(f"not a label file of the second reader ({e!r})", where=str(path)) from None


def read_heads(path: Path) -> dict[str, Floats]:
    """The heads' weights by name. Matrices are stored as 8-bit rows with one scale a row, vectors as they are."""
    try:
        with np.load(path) as stored:
            raw = {name: stored[name] for name in stored.files}
    except (ValueError, OSError) as e:
        raise InputError(f"not the second reader's weights ({e})", where=str(path)) from None
    out: dict[str, Floats] = {}
    for name, value in raw.items():
        if name.endswith(".scale"):
            continue
        rows = raw.get(f"{name}.scale")
        out[name] = (
            value.astype(np.float32) if rows is None else value.astype(np.float32) * rows.astype(np.float32)[:, None]
        )
    return out
