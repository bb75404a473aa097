"""The training loop of the second reader, and its figures on a choosing part while it trains."""

from __future__ import annotations

import copy
import json
import math
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import numpy as np
import torch
from safetensors.torch import load_file
from second_reader_base import empty_encoder, whole
from second_reader_data import PLAIN, ROLES, Names
from second_reader_net import Reader
from torch import Tensor
from torch.nn import functional as F


def new_reader(base: Path, names: Names, *, layers: int, drop: float, encoder_drop: float = 0.1) -> Reader:
    """A reader with the base encoder's weights and fresh heads."""
    config = json.loads((base / "base.json").read_text())
    config |= {"hidden_dropout_prob": encoder_drop, "attention_probs_dropout_prob": encoder_drop}
    encoder = empty_encoder(config)
    state = whole(load_file(base / "base.safetensors"))
    vectors = state.pop("names")
    lacking = encoder.load_state_dict(state, strict=False)
    if [k for k in lacking.missing_keys if "position_ids" not in k] or lacking.unexpected_keys:
        raise SystemExit(f"base weights do not fit: {lacking}")
    n = len(names.sites)
    return Reader(encoder, vectors[:n], vectors[n:], len(ROLES), len(PLAIN), layers=layers, drop=drop)


def weighed_bce(logits: Tensor, target: Tensor, weight: Tensor) -> Tensor:
    """Summed, weighed yes/no loss."""
    return (F.binary_cross_entropy_with_logits(logits.float(), target, reduction="none") * weight).sum()


def wrong_sites(site_logits: Tensor, b: dict[str, Tensor], rng: torch.Generator) -> tuple[Tensor, Tensor]:
    """Two wrong sites a stretch to learn from: the likeliest one, and one that the talk names elsewhere."""
    out = (b["sites"] > 0) | (b["site_weights"] == 0)
    likely = site_logits.detach().float().masked_fill(out, -1e4).argmax(-1)
    elsewhere = b["sites"].amax(1, keepdim=True).expand_as(b["sites"]) * (~out)
    chosen = torch.multinomial((elsewhere + 1e-6).flatten(0, 1), 1, generator=rng).view(likely.shape)
    stretch = torch.arange(likely.shape[1], device=likely.device).expand_as(likely)
    return torch.cat([stretch, stretch], 1), torch.cat([likely, chosen], 1)


def soft(target: Tensor, taught: list[Tensor], share: float) -> Tensor:
    """The target, in part replaced by what the teachers say on average."""
    if not taught:
        return target
    return (1 - share) * target + share * torch.sigmoid(torch.stack([t.float() for t in taught]).mean(0))


def losses(
    model: Reader, b: dict[str, Tensor], rng: torch.Generator, teachers: Sequence[Reader] = (), share: float = 0.6
) -> dict[str, Tensor]:
    """The parts of the loss on one batch; with teachers, `share` of every yes/no target is theirs."""
    n, right = b["roles"].shape[1], b["pair_stretch"].shape[1]
    h = model.words(b["ids"], b["mask"])
    x, live = model.stretches(h, b["segment"], n)
    role, site, finding = model.stretch_heads(x)
    many = live.sum().clamp(min=1)
    begin = model.begin(h)[..., 0].float()
    known = (b["begin"] >= 0).float()
    stretch, wrong = wrong_sites(site, b, rng)
    stretch, sites = torch.cat([b["pair_stretch"], stretch], 1), torch.cat([b["pair_site"], wrong], 1)
    outcome, side, hedge = model.pair_heads(h, b["segment"], x, stretch, sites)
    taught: dict[str, list[Tensor]] = {"begin": [], "role": [], "site": [], "outcome": [], "side": []}
    with torch.no_grad():
        for t in teachers:
            th = t.words(b["ids"], b["mask"])
            tx, _ = t.stretches(th, b["segment"], n)
            r, s, _ = t.stretch_heads(tx)
            o, e, _ = t.pair_heads(th, b["segment"], tx, stretch, sites)
            told = {"begin": t.begin(th)[..., 0], "role": r, "site": s, "outcome": o, "side": e[:, :right]}
            for key, value in told.items():
                taught[key].append(value)
    pairs = b["pair_known"].sum().clamp(min=1)
    outcome_target = torch.cat([b["outcomes"], torch.zeros_like(outcome[:, right:], dtype=torch.float)], 1)
    outcome_weight = torch.cat([b["outcome_known"], torch.cat([live, live], 1).float()], 1)[..., None]
    sides = b["sides"]
    if taught["side"]:
        sides = (1 - share) * sides + share * torch.softmax(torch.stack(taught["side"]).float().mean(0), -1)
    side_loss = -(F.log_softmax(side[:, :right].float(), -1) * sides).sum(-1)
    return {
        "begin": weighed_bce(begin, soft(b["begin"].clamp(min=0), taught["begin"], share), known)
        / known.sum().clamp(min=1),
        "role": weighed_bce(role, soft(b["roles"], taught["role"], share), b["role_weights"]) / many,
        "site": weighed_bce(site, soft(b["sites"], taught["site"], share), b["site_weights"]) / many,
        "finding": 0.5 * weighed_bce(finding, b["findings"], live[..., None].float()) / many,
        "outcome": weighed_bce(outcome, soft(outcome_target, taught["outcome"], share), outcome_weight) / pairs,
        "side": 0.5 * (side_loss * b["pair_known"]).sum() / pairs,
        "hedge": 0.5 * weighed_bce(hedge[:, :right], b["hedged"], b["pair_known"]) / pairs,
    }


def fit(
    model: Reader,
    batches: Iterable[dict[str, Tensor]],
    *,
    seconds: float,
    rate: float,
    head_rate: float,
    decay: float,
    device: str,
    say: Callable[[str], None],
    teachers: Sequence[Reader] = (),
) -> Reader:
    """Trains for a length of time and returns the moving average of the weights."""
    model.to(device).train()
    heads = [p for n, p in model.named_parameters() if not n.startswith("encoder.")]
    groups = [{"params": model.encoder.parameters(), "lr": rate}, {"params": heads, "lr": head_rate}]
    torch.backends.cuda.enable_cudnn_sdp(False)  # it plans anew for each size of batch, which takes longer than a step
    best = torch.optim.AdamW(groups, weight_decay=decay, fused=device == "cuda")
    mean = copy.deepcopy(model).eval()
    rng = torch.Generator(device=device)
    rng.manual_seed(0)
    seen: dict[str, float] = {}
    start, told = 0.0, 0
    for step, batch in enumerate(batches, start=1):
        start = start or time.time()  # the first batch waits for the workers
        done = (time.time() - start) / seconds
        if done >= 1:
            say(f"{step} steps in {seconds:.0f} s")
            break
        pace = done / 0.08 if done < 0.08 else 0.5 * (1 + math.cos(math.pi * (done - 0.08) / 0.92))
        for group, top in zip(best.param_groups, (rate, head_rate), strict=True):
            group["lr"] = top * max(pace, 1e-3)
        b = {k: v.to(device, non_blocking=True) for k, v in batch.items()}
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            parts = losses(model, b, rng, teachers)
            loss = torch.stack(list(parts.values())).sum()
        best.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        best.step()
        keep = min(0.998, step / (step + 20))
        with torch.no_grad():
            torch._foreach_lerp_(list(mean.parameters()), list(model.parameters()), 1 - keep)
        if step % 20 == 0:
            for k, v in parts.items():
                seen[k] = 0.8 * seen.get(k, v.item()) + 0.2 * v.item()
        if int(done * 5) > told:
            told = int(done * 5)
            say(f"step {step} {time.time() - start:.0f}s " + " ".join(f"{k} {v:.3f}" for k, v in seen.items()))
    return mean


@torch.no_grad()
def outputs(
    models: Sequence[Reader], batches: list[dict[str, Tensor]], device: str, floor: float = 0.05
) -> dict[str, np.ndarray]:
    """Mean logits of the models, and targets, on fixed batches: begin, role, site by stretch; pairs above the floor."""
    keys = ("begin", "role", "site", "pair", "side", "hedge")
    got: dict[str, list] = {k + end: [] for k in keys for end in ("", "_t", "_w")}
    missed = 0
    for batch in batches:
        b = {k: v.to(device) for k, v in batch.items()}
        n = b["roles"].shape[1]
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            hs = [m.words(b["ids"], b["mask"]) for m in models]
            xs = [m.stretches(h, b["segment"], n) for m, h in zip(models, hs, strict=True)]
            heads = [m.stretch_heads(x) for m, (x, _) in zip(models, xs, strict=True)]
            live = xs[0][1]
            role, site = (torch.stack([o[i].float() for o in heads]).mean(0) for i in (0, 1))
            begin = torch.stack([m.begin(h)[..., 0].float() for m, h in zip(models, hs, strict=True)]).mean(0)
            known = b["begin"] >= 0
            got["begin"].append(begin[known].cpu().numpy())
            got["begin_t"].append(b["begin"][known].cpu().numpy())
            for key, value, columns in (("role", role, "roles"), ("site", site, "sites")):
                got[key].append(value[live].cpu().numpy())
                got[key + "_t"].append(b[columns][live].cpu().numpy())
                got[key + "_w"].append(b[key + "_weights"][live].cpu().numpy())
            chance = torch.sigmoid(site).cpu().numpy() * live.cpu().numpy()[..., None]
            for i in range(len(site)):
                chosen = np.argwhere(chance[i] > floor)
                pairs = zip(
                    batch["pair_stretch"][i].tolist(),
                    batch["pair_site"][i].tolist(),
                    batch["pair_known"][i].tolist(),
                    strict=True,
                )
                fair = {(a, c): j for j, (a, c, k) in enumerate(pairs) if k}
                missed += sum(
                    int(batch["outcomes"][i, j].sum()) for (a, c), j in fair.items() if chance[i, a, c] <= floor
                )
                if not len(chosen):
                    continue
                at = torch.from_numpy(chosen).to(device)[None]
                each = [
                    m.pair_heads(h[i : i + 1], b["segment"][i : i + 1], x[i : i + 1], at[..., 0], at[..., 1])
                    for m, h, (x, _) in zip(models, hs, xs, strict=True)
                ]
                o, sd, hd = (torch.stack([e[k].float() for e in each]).mean(0)[0].cpu().numpy() for k in range(3))
                for q, (a, c) in enumerate(chosen.tolist()):
                    j = fair.get((a, c))
                    if batch["site_weights"][i, a, c] == 0 or (j is not None and not batch["outcome_known"][i, j]):
                        continue
                    got["pair"].append(o[q])
                    got["pair_t"].append(
                        batch["outcomes"][i, j].numpy() if j is not None else np.zeros(o.shape[-1], np.float32)
                    )
                    if j is not None:
                        got["side"].append(sd[q])
                        got["side_t"].append(batch["sides"][i, j].numpy())
                        got["hedge"].append(hd[q])
                        got["hedge_t"].append(batch["hedged"][i, j].numpy())
    flat = ("pair", "pair_t", "side", "side_t", "hedge", "hedge_t")
    out = {k: (np.stack(v) if k in flat else np.concatenate(v)) for k, v in got.items() if v}
    return out | {"missed": np.array(missed)}


def best_f1(
    score: np.ndarray, target: np.ndarray, weight: np.ndarray | None = None, missed: int = 0
) -> tuple[float, float]:
    """The best F1 over all thresholds, and the threshold (a logit). `missed` targets were never offered."""
    score, target = score.ravel(), target.ravel()
    if weight is not None:
        score, target = score[weight.ravel() > 0], target[weight.ravel() > 0]
    order = np.argsort(-score)
    hit = np.cumsum(target[order] > 0.5)
    f1 = 2 * hit / (np.arange(1, len(hit) + 1) + (target > 0.5).sum() + missed)
    at = int(f1.argmax())
    return float(f1[at]), float(score[order][at])


def figures(o: dict[str, np.ndarray]) -> dict[str, float]:
    """Best F1 of begins, roles, facts, sites and outcomes (given true stretches), and the share of right sides."""
    if "pair" not in o or "side" not in o:
        return {"site": best_f1(o["site"], o["site_t"], o["site_w"])[0], "outcome": 0.0, "sections": 0.0, "side": 0.0}
    sided = (o["side_t"].max(-1) == 1) & (o["side_t"][:, 3] == 0)
    return {
        "begin": best_f1(o["begin"], o["begin_t"])[0],
        "fact": best_f1(o["role"][:, 0], o["role_t"][:, 0], o["role_w"][:, 0])[0],
        "sections": best_f1(o["role"][:, 1:6], o["role_t"][:, 1:6], o["role_w"][:, 1:6])[0],
        "taken back": best_f1(o["role"][:, 11], o["role_t"][:, 11], o["role_w"][:, 11])[0],
        "site": best_f1(o["site"], o["site_t"], o["site_w"])[0],
        "outcome": best_f1(o["pair"], o["pair_t"], missed=int(o["missed"]))[0],
        "side": float((o["side"].argmax(-1) == o["side_t"].argmax(-1))[sided].mean()),
        "hedge": best_f1(o["hedge"], o["hedge_t"])[0],
    }
