"""Calibration and figures of the shipped second reader, on talks that were kept out of training."""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from second_reader_data import PLAIN, ROLES, Names, Talk, label, load_part, read_names, unpunctuated
from second_reader_decode import record_of

from dictate.language.second_reader import heads as nets
from dictate.language.second_reader import load


def collected(reader, talks: list[Talk], names: Names, *, own_cuts: bool = False) -> dict[str, np.ndarray]:
    """Logits of the shipped model on talks, with targets: flat over stretches, and over pairs above the floor."""
    got: dict[str, list] = {}
    missed = 0
    w = reader._weights

    def put(key: str, value: np.ndarray, target: np.ndarray, weight: np.ndarray | None = None) -> None:
        got.setdefault(key, []).append(value)
        got.setdefault(key + "_t", []).append(target)
        got.setdefault(key + "_w", []).append(np.ones(target.shape) if weight is None else weight)

    for talk in talks:
        words, pieces = reader._words(" ".join(talk.words))
        h = reader._vectors(pieces)
        begin = nets.begin_logits(h[[p.piece for p in words]], w)
        put("begin", begin[1:], np.isin(np.arange(1, len(words)), talk.fact_cuts).astype(float))
        cuts = reader._own_cuts(h, words) if own_cuts else list(talk.fact_cuts)
        lab = label(talk, cuts, names)
        bounds = np.array([*(words[i].piece for i in cuts), len(pieces)])
        r = nets.stretch_logits(h, bounds, w)
        put("role", r.roles, lab.roles, lab.role_weights)
        put("site", r.sites, lab.sites, lab.site_weights)
        chance = reader._probability("site", r.sites)
        fair = {(p.stretch, p.site): p for p in lab.pairs}
        missed += sum(len(p.outcomes) for (k, s), p in fair.items() if chance[k, s] < 0.05)
        stretch, site = np.nonzero(chance >= 0.05)
        o = nets.pair_logits(h, bounds, r.vectors, stretch, site, w)
        target, weight = np.zeros_like(o.outcomes), np.ones_like(o.outcomes)
        for j, (k, s) in enumerate(zip(stretch.tolist(), site.tolist(), strict=True)):
            p = fair.get((k, s))
            if lab.site_weights[k, s] == 0 or (p and not p.outcomes):
                weight[j] = 0
            elif p:
                target[j, list(p.outcomes)] = 1
                put("side", o.sides[j : j + 1], np.array([p.sides]))
                put("hedge", o.hedges[j : j + 1], np.array([float(p.hedged)]))
        put("outcome", o.outcomes, target, weight)
    out = {k: np.concatenate(v) for k, v in got.items()}
    out["missed"] = np.array(missed)
    return out


def curve(logits: np.ndarray, target: np.ndarray, weight: np.ndarray) -> tuple[float, float]:
    """Factor and shift that make logits honest probabilities: logistic regression on one feature, pulled to 1 and 0."""
    x, y, m = logits.ravel().astype(float), target.ravel().astype(float), weight.ravel().astype(float)
    keep = m > 0
    x, y, m = x[keep], y[keep], m[keep]

    def loss(at: np.ndarray) -> float:
        z = at[0] * x + at[1]
        return float((m * (np.logaddexp(0, z) - y * z)).sum() + ((at[0] - 1) ** 2 + 0.1 * at[1] ** 2) / 2)

    at = np.array([1.0, 0.0])
    for _ in range(50):
        p = 1 / (1 + np.exp(-np.clip(at[0] * x + at[1], -50, 50)))
        v = m * p * (1 - p)
        g = np.array([(m * (p - y) * x).sum() + (at[0] - 1), (m * (p - y)).sum() + 0.1 * at[1]])
        hess = np.array([[(v * x * x).sum() + 1, (v * x).sum()], [(v * x).sum(), v.sum() + 0.1]])
        step, size = np.linalg.solve(hess, g), 1.0
        while size > 1e-4 and loss(at - size * step) > loss(at):
            size /= 2
        at = at - size * step
        if size * np.abs(step).max() < 1e-5:
            break
    a, b = at
    return float(a), float(b)


def best(score: np.ndarray, target: np.ndarray, weight: np.ndarray, missed: int = 0) -> tuple[float, float]:
    """Best F1 over thresholds, and that threshold."""
    keep = weight.ravel() > 0
    s, t = score.ravel()[keep], target.ravel()[keep] > 0.5
    order = np.argsort(-s)
    f1 = 2 * np.cumsum(t[order]) / (np.arange(1, len(s) + 1) + t.sum() + missed)
    at = int(f1.argmax())
    return float(f1[at]), float(s[order][at])


def sure(score: np.ndarray, target: np.ndarray, weight: np.ndarray, precision: float) -> float:
    """The lowest threshold above which at least `precision` of the claims are right."""
    keep = weight.ravel() > 0
    s, t = score.ravel()[keep], target.ravel()[keep] > 0.5
    order = np.argsort(-s)
    right = np.cumsum(t[order]) / np.arange(1, len(s) + 1)
    ok = np.nonzero(right >= precision)[0]
    return float(s[order][ok[-1]]) if len(ok) else 1.0


def calibrated(talks: list[Talk], names: Names, folder: Path | None = None) -> dict:
    """Scales and limits of the model in the package's folder, from talks in both spellings (with and without stops)."""
    reader = load(folder)
    both = [*talks, *(unpunctuated(t) for t in talks)]
    c = collected(reader, both, names)
    scale = {k: curve(c[k], c[f"{k}_t"], c[f"{k}_w"]) for k in ("begin", "site")}
    for j, role in enumerate(ROLES):
        scale[f"role: {role}"] = curve(c["role"][:, j], c["role_t"][:, j], c["role_w"][:, j])
    reader.labels.scale.update(scale)  # type: ignore[attr-defined]  a plain dictionary behind the mapping
    c = collected(reader, both, names)
    plain, many = len(PLAIN), len(names.findings)
    for kind, part in (
        ("plain", slice(0, plain)),
        ("present", slice(plain, plain + many)),
        ("absent", slice(plain + many, None)),
    ):
        scale[kind] = curve(c["outcome"][:, part], c["outcome_t"][:, part], c["outcome_w"][:, part])
    scale["hedge"] = curve(c["hedge"], c["hedge_t"], c["hedge_w"])
    scale["side"] = (side_factor(c["side"], c["side_t"]), 0.0)
    chance = outcome_chance(c["outcome"], scale)
    p = {k: 1 / (1 + np.exp(-(scale[k][0] * c[k] + scale[k][1]))) for k in ("begin", "site")}
    p["role"] = reader.role_chances(c["role"])
    limits = {k: best(p[k], c[f"{k}_t"], c[f"{k}_w"])[1] for k in ("begin", "site")}
    limits["begin"] = 0.5  # between the best for begins alone and the best for what is read of unpunctuated talk
    limits["fact"] = best(p["role"][:, 0], c["role_t"][:, 0], c["role_w"][:, 0])[1]
    limits["section"] = best(p["role"][:, 1:6], c["role_t"][:, 1:6], c["role_w"][:, 1:6])[1]
    limits["outcome"] = best(chance, c["outcome_t"], c["outcome_w"], int(c["missed"]))[1]
    limits["outcome_sure"] = sure(chance, c["outcome_t"], c["outcome_w"], 0.95)
    limits["taken back"] = best(p["role"][:, 11], c["role_t"][:, 11], c["role_w"][:, 11])[1]
    return {
        "scale": {k: [round(x, 4) for x in v] for k, v in scale.items()},
        "limits": {k: round(v, 4) for k, v in limits.items()},
    }


def side_factor(logits: np.ndarray, target: np.ndarray) -> float:
    """The one factor on the sides' logits that makes them most likely."""

    def loss(f: float) -> float:
        z = f * logits
        z = z - z.max(1, keepdims=True)
        return float(-((z - np.log(np.exp(z).sum(1, keepdims=True))) * target).sum())

    return min((x / 20 for x in range(4, 41)), key=loss)


def outcome_chance(logits: np.ndarray, scale: dict) -> np.ndarray:
    """Probabilities of outcome columns."""
    many = (logits.shape[1] - len(PLAIN)) // 2
    kinds = ["plain"] * len(PLAIN) + ["present"] * many + ["absent"] * many
    a, b = (np.array([scale[k][i] for k in kinds]) for i in (0, 1))
    return 1 / (1 + np.exp(-(a * logits + b)))


def figures(reader, talks: list[Talk], names: Names, *, own_cuts: bool) -> str:
    """One line of figures at the shipped thresholds."""
    c = collected(reader, talks, names, own_cuts=own_cuts)
    lim = reader.labels.limits

    def f1(score: np.ndarray, key: str, limit: float, missed: int = 0, columns=slice(None)) -> float:
        t, w = c[f"{key}_t"][..., columns], c[f"{key}_w"][..., columns]
        hit = (score[..., columns] >= limit) & (w > 0)
        t = (t > 0.5) & (w > 0)
        return 2 * (hit & t).sum() / max(1, hit.sum() + t.sum() + missed)

    p = {k: reader._probability(k, c[k]) for k in ("begin", "site")} | {"role": reader.role_chances(c["role"])}
    chance = outcome_chance(c["outcome"], reader.labels.scale)
    sided = (c["side_t"].max(1) == 1) & (c["side_t"][:, 3] == 0)
    side = (c["side"].argmax(1) == c["side_t"].argmax(1))[sided].mean()
    hit = (chance >= lim["outcome_sure"]) & (c["outcome_w"] > 0)
    t = (c["outcome_t"] > 0.5) & (c["outcome_w"] > 0)
    return (
        f"begins {f1(p['begin'], 'begin', lim['begin']):.3f}"
        f"  fact {f1(p['role'], 'role', lim['fact'], columns=slice(0, 1)):.3f}"
        f"  sections {f1(p['role'], 'role', lim['section'], columns=slice(1, 6)):.3f}"
        f"  taken back {f1(p['role'], 'role', lim['taken back'], columns=slice(11, 12)):.3f}"
        f"  site {f1(p['site'], 'site', lim['site']):.3f}"
        f"  outcome {f1(chance, 'outcome', lim['outcome'], int(c['missed'])):.3f}"
        f"  side {side:.3f}  sure: precision {(hit & t).sum() / max(1, hit.sum()):.3f}"
        f" of {hit.sum() / max(1, t.sum() + int(c['missed'])):.2f}"
    )


def evaluate(a: argparse.Namespace) -> None:
    """Prints figures on the choosing parts, and on work talks of authors that training never saw; speed and memory."""
    names = read_names(a.names)
    reader = load()
    trained = set(reader.labels.training["talks"])
    fresh = {author_of(t.name) for t in load_part(a.talks, "work", names)} - {author_of(t) for t in trained}
    sets = {part: load_part(a.talks, part, names) for part in ("choosing", "second")}
    sets["fresh"] = [t for t in load_part(a.talks, "work", names) if author_of(t.name) in fresh]
    for part, talks in sets.items():
        if not talks:
            continue
        print(f"{part}: {len(talks)} talks of {', '.join(sorted({author_of(t.name) for t in talks}))}")
        for style, version in (("as written", talks), ("no stops", [unpunctuated(t) for t in talks])):
            for cuts in (False, True):
                name = f"{part:<9} {style:<10} {'own cuts ' if cuts else 'true cuts'}"
                print(name, figures(reader, version, names, own_cuts=cuts))
        if a.score:
            print(f"{part:<9} drafts     {drafted(reader, a, [t.name for t in talks], names)}")
    text = " ".join(w for t in load_part(a.talks, "choosing", names)[:2] for w in t.words)
    text = " ".join(text.split()[:300])
    reader.read(text)
    took = []
    for _ in range(9):
        start = time.perf_counter()
        reader.read(text)
        took.append(time.perf_counter() - start)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"300 words: {1000 * sorted(took)[4]:.0f} ms on one core; peak of this process {peak:.0f} MiB")


def author_of(name: str) -> str:
    """The author's part of a talk's name."""
    return name.split("_")[0]


def drafted(reader, a: argparse.Namespace, which: list[str], names: Names) -> str:
    """The last line of the scoring program on records that the second reader alone drafts."""
    with tempfile.TemporaryDirectory() as folder:
        truth, records = Path(folder) / "truth", Path(folder) / "records"
        truth.mkdir()
        records.mkdir()
        for name in which:
            raw = (a.talks / f"{name}.json").read_text()
            (truth / f"{name}.json").write_text(raw)
            (records / f"{name}.record.json").write_text(json.dumps(record_of(reader, json.loads(raw)["text"], names)))
        done = subprocess.run(
            [sys.executable, str(a.score), str(truth), str(records)], capture_output=True, text=True, check=True
        )
        return done.stdout.strip().splitlines()[-1]
