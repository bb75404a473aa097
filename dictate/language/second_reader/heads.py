"""The heads of the second reader in numpy: from word-piece vectors and stretches to logits.

Sizes: t word pieces, n stretches, d = 384. Every function is plain: arrays in, arrays out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Ints = NDArray[np.int64]
Weights = Mapping[str, Floats]

HEADS_OF_STRETCHES = 6
BAND = 64  # a stretch looks at this many stretches before and after it
FAR = 16  # distances between stretches beyond this are alike


@dataclass(frozen=True, slots=True)
class StretchLogits:
    """`vectors` [n, d], and logits of `roles` [n, r] and `sites` [n, s]."""

    vectors: Floats
    roles: Floats
    sites: Floats


@dataclass(frozen=True, slots=True)
class PairLogits:
    """For each pair of a stretch and a site: logits of outcomes [p, o], sides [p, 4] and hedge [p]."""

    outcomes: Floats
    sides: Floats
    hedges: Floats


def begin_logits(h: Floats, w: Weights) -> Floats:
    """For each word piece the logit that a stretch begins there: [t]."""
    return _linear(h, w, "begin")[:, 0]


def stretch_logits(h: Floats, bounds: Ints, w: Weights) -> StretchLogits:
    """Reads stretches. `h` [t, d]; `bounds` [n + 1]: the word pieces where stretches begin, and the end of the last."""
    x = _pooled(h, bounds, w)
    layer = 0
    while f"layers.{layer}.qkv.weight" in w:
        x = _looked_around(x, w, f"layers.{layer}.")
        layer += 1
    x = _norm(x, w, "last_norm")
    sites = _linear(x, w, "site_map") @ w["site_vectors"].T + w["site_bias"]
    return StretchLogits(x, _linear(x, w, "role"), sites)


def pair_logits(h: Floats, bounds: Ints, vectors: Floats, stretch: Ints, site: Ints, w: Weights) -> PairLogits:
    """Reads pairs: stretch index [p] with site index [p]."""
    keys, asked = _linear(h, w, "key"), _linear(w["site_vectors"][site], w, "ask")
    looked = np.empty((len(stretch), h.shape[1]), np.float32)
    near = float(w["near"].reshape(-1)[0])
    for i, s in enumerate(stretch):
        first, last = bounds[max(0, s - 1)], bounds[min(len(bounds) - 1, s + 2)]
        score = keys[first:last] @ asked[i] / 8.0
        score[: bounds[s] - first] += near
        score[bounds[s + 1] - first :] += near
        looked[i] = _softmax(score) @ h[first:last]
    own, name = vectors[stretch], w["site_vectors"][site]
    z = _norm(_gelu(_linear(np.concatenate([own, looked, name, own * name * 4], 1), w, "mix")), w, "mix_norm")
    found = w["finding_vectors"].T
    outcomes = np.concatenate(
        [
            _linear(z, w, "plain"),
            _linear(z, w, "present") @ found + w["present_bias"],
            _linear(z, w, "absent") @ found + w["absent_bias"],
        ],
        1,
    )
    return PairLogits(outcomes, _linear(z, w, "side"), _linear(z, w, "hedge")[:, 0])


def _pooled(h: Floats, bounds: Ints, w: Weights) -> Floats:
    starts = bounds[:-1]
    many = np.diff(bounds).astype(np.float32)[:, None]
    mean = np.add.reduceat(h, starts, 0) / many
    top = np.maximum.reduceat(h, starts, 0)
    weight = np.exp(np.clip(_linear(h, w, "pool_score"), -20, 20))
    total = np.add.reduceat(weight, starts, 0)
    looked = [
        np.add.reduceat(h * weight[:, j : j + 1], starts, 0) / total[:, j : j + 1] for j in range(weight.shape[1])
    ]
    return _norm(_gelu(_linear(np.concatenate([mean, top, *looked], 1), w, "pool")), w, "pool_norm")


def _looked_around(x: Floats, w: Weights, at: str) -> Floats:
    n, d = x.shape
    qkv = _linear(_norm(x, w, f"{at}norm1"), w, f"{at}qkv").reshape(n, 3, HEADS_OF_STRETCHES, -1)
    q, k, v = (qkv[:, i].transpose(1, 0, 2) for i in range(3))
    distance, size = w[f"{at}distance"], d // HEADS_OF_STRETCHES
    y = np.empty((n, d), np.float32)
    for first in range(0, n, BAND):  # blocks of queries, so that memory grows only with the length of the talk
        last = min(n, first + BAND)
        low, high = max(0, first - BAND), min(n, last + BAND)
        apart = np.arange(low, high)[None, :] - np.arange(first, last)[:, None]
        score = q[:, first:last] @ k[:, low:high].transpose(0, 2, 1) / np.float32(np.sqrt(size))
        score += distance[:, np.clip(apart, -FAR, FAR) + FAR]
        score[:, np.abs(apart) > BAND] = -1e4
        y[first:last] = (_softmax(score) @ v[:, low:high]).transpose(1, 0, 2).reshape(last - first, d)
    x = x + _linear(y, w, f"{at}out")
    return x + _linear(_gelu(_linear(_norm(x, w, f"{at}norm2"), w, f"{at}up")), w, f"{at}down")


def _linear(x: Floats, w: Weights, name: str) -> Floats:
    return x @ w[f"{name}.weight"].T + w[f"{name}.bias"]


def _norm(x: Floats, w: Weights, name: str) -> Floats:
    x = x - x.mean(-1, keepdims=True)
    return x / np.sqrt((x * x).mean(-1, keepdims=True) + 1e-5) * w[f"{name}.weight"] + w[f"{name}.bias"]


def _softmax(x: Floats) -> Floats:
    e = np.exp(x - x.max(-1, keepdims=True))
    return e / e.sum(-1, keepdims=True)


def _gelu(x: Floats) -> Floats:
    return 0.5 * x * (1 + _erf(x / np.float32(np.sqrt(2))))


def _erf(x: Floats) -> Floats:
    """The error function to 1.5e-7 (Abramowitz and Stegun, Handbook of Mathematical Functions, 7.1.26)."""
    t = 1 / (1 + 0.3275911 * np.abs(x))
    poly = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    return np.sign(x) * (1 - poly * np.exp(-x * x))
