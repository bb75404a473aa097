"""The training loop of the second reader, and its figures on a choosing part while it trains."""

from __future__ import annotations

import json
import time
from pathlib import Path

import numpy as np
import torch
from safetensors.torch import load_file
from second_reader_data import PLAIN, ROLES, Names
from second_reader_net import Reader
from torch import Tensor
from torch.nn import functional as F


def new_reader(base: Path, names: Names, *, layers: int, drop: float, encoder_drop: float = 0.1) -> Reader:
    """A reader with the base encoder's weights and fresh heads."""
    from transformers import BertConfig, BertModel

    config = json.loads((base / "base.json").read_text())
    config |= {"hidden_dropout_prob": encoder_drop, "attention_probs_dropout_prob": encoder_drop}
    encoder = BertModel(BertConfig(**config), add_pooling_layer=False)
    state = {k: v.float() for k, v in load_file(base / "base.safetensors").items()}
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


def losses(model: Reader, b: dict[str, Tensor], rng: torch.Generator) -> dict[str, Tensor]:
    """The parts of the loss on one batch."""
    h = model.words(b["ids"], b["mask"])
    x, live = model.stretches(h, b["segment"], b["roles"].shape[1])
    role, site, finding = model.stretch_heads(x)
    many = live.sum().clamp(min=1)
    begin = model.begin(h)[..., 0].float()
    known = (b["begin"] >= 0).float()
    stretch, wrong = wrong_sites(site, b, rng)
    right = b["pair_stretch"].shape[1]
    outcome, side, hedge = model.pair_heads(
        h, b["segment"], x, torch.cat([b["pair_stretch"], stretch], 1), torch.cat([b["pair_site"], wrong], 1)
    )
    pairs = b["pair_known"].sum().clamp(min=1)
    wrong_live = torch.cat([live, live], 1).float()
    nothing = torch.zeros_like(outcome[:, right:], dtype=torch.float)
    side_loss = -(F.log_softmax(side[:, :right].float(), -1) * b["sides"]).sum(-1)
    return {
        "begin": weighed_bce(begin, b["begin"].clamp(min=0), known) / known.sum().clamp(min=1),
        "role": weighed_bce(role, b["roles"], b["role_weights"]) / many,
        "site": weighed_bce(site, b["sites"], b["site_weights"]) / many,
        "finding": 0.5 * weighed_bce(finding, b["findings"], live[..., None].float()) / many,
        "outcome": weighed_bce(outcome[:, :right], b["outcomes"], b["outcome_known"][..., None]) / pairs
        + weighed_bce(outcome[:, right:], nothing, wrong_live[..., None]) / pairs,
        "side": 0.5 * (side_loss * b["pair_known"]).sum() / pairs,
        "hedge": 0.5 * weighed_bce(hedge[:, :right], b["hedged"], b["pair_known"]) / pairs,
    }


def fit(
    model: Reader,
    batches,
    *,
    steps: int,
    rate: float,
    head_rate: float,
    decay: float,
    device: str,
    say,
    judge=None,
    every: int = 0,
) -> Reader:
    """Trains and returns the moving average of the weights."""
    model.to(device).train()
    heads = [p for n, p in model.named_parameters() if not n.startswith("encoder.")]
    groups = [{"params": model.encoder.parameters(), "lr": rate}, {"params": heads, "lr": head_rate}]
    best = torch.optim.AdamW(groups, weight_decay=decay)
    plan = torch.optim.lr_scheduler.OneCycleLR(best, [rate, head_rate], total_steps=steps + 1, pct_start=0.1)
    import copy

    mean = copy.deepcopy(model).eval()
    rng = torch.Generator(device=device)
    rng.manual_seed(0)
    seen: dict[str, float] = {}
    start = time.time()
    for step, batch in zip(range(1, steps + 1), batches):  # noqa: B905  the batches never end
        b = {k: v.to(device, non_blocking=True) for k, v in batch.items()}
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            parts = losses(model, b, rng)
            loss = sum(parts.values())
        best.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        best.step()
        plan.step()
        keep = min(0.998, step / (step + 20))
        with torch.no_grad():
            torch._foreach_lerp_(list(mean.parameters()), list(model.parameters()), 1 - keep)
            if step % 10 == 0:
                for k, v in parts.items():
                    seen[k] = 0.9 * seen.get(k, v.item()) + 0.1 * v.item()
        if step % max(1, steps // 10) == 0:
            say(f"step {step} {time.time() - start:.0f}s " + " ".join(f"{k} {v:.3f}" for k, v in seen.items()))
        if judge and every and step % every == 0:
            say(f"   {judge(mean)}")
    return mean


@torch.no_grad()
def outputs(model: Reader, batches: list[dict[str, Tensor]], device: str, floor: float = 0.05) -> dict[str, np.ndarray]:
    """Logits and targets on fixed batches, flat over stretches: begin, roles, sites; pairs above the floor with targets."""
    model.eval()
    got: dict[str, list] = {
        k: []
        for k in (
            "begin",
            "begin_t",
            "role",
            "role_t",
            "role_w",
            "site",
            "site_t",
            "site_w",
            "pair",
            "pair_t",
            "side",
            "side_t",
            "hedge",
            "hedge_t",
        )
    }
    missed = 0
    for batch in batches:
        b = {k: v.to(device) for k, v in batch.items()}
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            h = model.words(b["ids"], b["mask"])
            x, live = model.stretches(h, b["segment"], b["roles"].shape[1])
            role, site, _ = model.stretch_heads(x)
            site = site.float()
            n, s = b["roles"].shape[1], site.shape[-1]
            begin = model.begin(h)[..., 0].float()
            known = b["begin"] >= 0
            for key, value, target in (
                ("begin", begin[known], b["begin"][known]),
                ("role", role[live], b["roles"][live]),
                ("site", site[live], b["sites"][live]),
            ):
                got[key].append(value.float().cpu().numpy())
                got[key + "_t"].append(target.cpu().numpy())
            got["role_w"].append(b["role_weights"][live].cpu().numpy())
            got["site_w"].append(b["site_weights"][live].cpu().numpy())
            for i in range(len(site)):
                fair = {
                    (int(a), int(c)): j
                    for j, (a, c, k) in enumerate(
                        zip(b["pair_stretch"][i], b["pair_site"][i], b["pair_known"][i], strict=True)
                    )
                    if k
                }
                chosen = ((torch.sigmoid(site[i]) > floor) & live[i][:, None]).nonzero()
                missed += sum(
                    int(b["outcomes"][i, j].sum())
                    for (a, c), j in fair.items()
                    if torch.sigmoid(site[i, a, c]) <= floor
                )
                if not len(chosen):
                    continue
                o, sd, hd = model.pair_heads(
                    h[i : i + 1], b["segment"][i : i + 1], x[i : i + 1], chosen[None, :, 0], chosen[None, :, 1]
                )
                for q, (a, c) in enumerate(chosen.tolist()):
                    if b["site_weights"][i, a, c] == 0:
                        continue
                    j = fair.get((a, c))
                    if j is not None and not b["outcome_known"][i, j]:
                        continue
                    got["pair"].append(o[0, q].float().cpu().numpy())
                    got["pair_t"].append(
                        b["outcomes"][i, j].cpu().numpy() if j is not None else np.zeros(o.shape[-1], np.float32)
                    )
                    if j is not None:
                        got["side"].append(sd[0, q].float().cpu().numpy())
                        got["side_t"].append(b["sides"][i, j].cpu().numpy())
                        got["hedge"].append(hd[0, q].float().cpu().numpy())
                        got["hedge_t"].append(b["hedged"][i, j].cpu().numpy())
            del n, s
    flat = ("pair", "pair_t", "side", "side_t", "hedge", "hedge_t")
    out = {k: (np.stack(v) if k in flat and v else np.concatenate(v) if v else np.zeros(0)) for k, v in got.items()}
    out["missed"] = np.array(missed)
    return out


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
    if not len(o["pair"]) or not len(o["side"]):
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
