"""An MPNet encoder in plain torch with fused attention: the teacher's encoder, several times faster to train.

Names of the weights, sizes and the buckets of distances follow Song et al. 2020, "MPNet: Masked and Permuted
Pre-training for Language Understanding", and its published weights.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import torch
from torch import Tensor, nn
from torch.nn import functional as F

FIRST_PLACE = 2  # the number of the first position; the two before it are for padding
FAR = 128  # word pieces further apart than this are alike


def buckets(apart: Tensor, many: int) -> Tensor:
    """The bucket of each distance (key minus query): exact when small, then growing; each direction has half."""
    half = many // 2
    exact = half // 2
    n = apart.abs()
    wide = exact + (torch.log(n.clamp(min=1) / exact) / math.log(FAR / exact) * (half - exact)).long()
    return torch.where(n < exact, n, wide.clamp(max=half - 1)) + (apart > 0).long() * half


class Attention(nn.Module):
    """Self-attention with a bias for distance."""

    def __init__(self, c: SimpleNamespace) -> None:
        super().__init__()
        self.heads, self.drop = c.num_attention_heads, c.attention_probs_dropout_prob
        for name in ("q", "k", "v", "o"):
            setattr(self, name, nn.Linear(c.hidden_size, c.hidden_size))

    def forward(self, x: Tensor, bias: Tensor) -> Tensor:
        q, k, v = (f(x).unflatten(-1, (self.heads, -1)).transpose(1, 2) for f in (self.q, self.k, self.v))
        y = F.scaled_dot_product_attention(
            q, k, v, attn_mask=bias.to(q.dtype), dropout_p=self.drop if self.training else 0.0
        )
        return self.o(y.transpose(1, 2).flatten(2))


class Layer(nn.Module):
    """One layer: attention, then two dense layers, each added and normed."""

    def __init__(self, c: SimpleNamespace) -> None:
        super().__init__()
        norm = (c.hidden_size, c.layer_norm_eps)
        self.attention = nn.ModuleDict({"attn": Attention(c), "LayerNorm": nn.LayerNorm(*norm)})
        self.intermediate = nn.ModuleDict({"dense": nn.Linear(c.hidden_size, c.intermediate_size)})
        self.output = nn.ModuleDict(
            {"dense": nn.Linear(c.intermediate_size, c.hidden_size), "LayerNorm": nn.LayerNorm(*norm)}
        )
        self.drop = nn.Dropout(c.hidden_dropout_prob)

    def forward(self, x: Tensor, bias: Tensor) -> Tensor:
        x = self.attention["LayerNorm"](x + self.drop(self.attention["attn"](x, bias)))
        y = self.output["dense"](F.gelu(self.intermediate["dense"](x)))
        return self.output["LayerNorm"](x + self.drop(y))


class MPNet(nn.Module):
    """Word pieces [b, t] to vectors [b, t, d], called as the encoders of transformers are."""

    def __init__(self, config: dict) -> None:
        super().__init__()
        c = SimpleNamespace(**config)
        self.embeddings = nn.ModuleDict(
            {
                "word_embeddings": nn.Embedding(c.vocab_size, c.hidden_size),
                "position_embeddings": nn.Embedding(c.max_position_embeddings, c.hidden_size),
                "LayerNorm": nn.LayerNorm(c.hidden_size, c.layer_norm_eps),
            }
        )
        self.encoder = nn.ModuleDict(
            {
                "layer": nn.ModuleList(Layer(c) for _ in range(c.num_hidden_layers)),
                "relative_attention_bias": nn.Embedding(c.relative_attention_num_buckets, c.num_attention_heads),
            }
        )
        self.encoder["relative_attention_bias"].requires_grad_(False)  # fused attention is fast without its gradient
        self.drop = nn.Dropout(c.hidden_dropout_prob)

    def forward(self, input_ids: Tensor, attention_mask: Tensor | None = None) -> SimpleNamespace:
        place = torch.arange(input_ids.shape[1], device=input_ids.device)
        e = self.embeddings
        x = e["word_embeddings"](input_ids) + e["position_embeddings"](place + FIRST_PLACE)
        x = self.drop(e["LayerNorm"](x))
        table = self.encoder["relative_attention_bias"]
        bias = table(buckets(place[None, :] - place[:, None], table.num_embeddings)).permute(2, 0, 1)[None]
        if attention_mask is not None:
            bias = bias.to(torch.bfloat16 if torch.is_autocast_enabled(x.device.type) else x.dtype)
            bias = bias.expand(len(x), -1, -1, -1).masked_fill(~attention_mask.bool()[:, None, None, :], -1e4)
        for layer in self.encoder["layer"]:
            x = layer(x, bias)
        return SimpleNamespace(last_hidden_state=x)
