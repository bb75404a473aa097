"""Whisper base in PyTorch, with the names of CTranslate2's arrays, and low-rank matrices beside its linear layers.

Radford et al., Robust speech recognition via large-scale weak supervision, 2022 (the network); Hu et al., LoRA: low-
rank adaptation of large language models, 2021 (the matrices). Query, key and value are one array, as CTranslate2
keeps them.
"""

from __future__ import annotations

import math

import torch
from torch import Tensor, nn
from torch.nn import functional as F

WIDTH, HEADS, LAYERS = 512, 8, 6


class Adapted(nn.Module):
    """A fixed linear layer with a low-rank matrix added: y = W x + b + B A x. `on` scales what is added."""

    def __init__(self, weight: Tensor, bias: Tensor, rank: int) -> None:
        super().__init__()
        self.register_buffer("weight", weight)
        self.register_buffer("bias", bias)
        self.a = nn.Parameter(torch.randn(rank, weight.shape[1]) / math.sqrt(weight.shape[1]))
        self.b = nn.Parameter(torch.zeros(weight.shape[0], rank))
        self.on = 1.0

    def forward(self, x: Tensor) -> Tensor:
        y = F.linear(x, self.weight.to(x.dtype), self.bias.to(x.dtype))
        if self.on:
            x = F.dropout(x, 0.05, self.training)
            y = y + F.linear(F.linear(x, self.a.to(x.dtype)), self.b.to(x.dtype)) * (2.0 * self.on)
        return y


class Norm(nn.Module):
    """Layer normalisation with fixed weights."""

    def __init__(self, arrays: dict[str, Tensor], name: str) -> None:
        super().__init__()
        self.register_buffer("gamma", arrays[f"{name}/gamma"])
        self.register_buffer("beta", arrays[f"{name}/beta"])

    def forward(self, x: Tensor) -> Tensor:
        return F.layer_norm(x.float(), (WIDTH,), self.gamma, self.beta).to(x.dtype)


def split(x: Tensor) -> Tensor:
    return x.unflatten(-1, (HEADS, -1)).transpose(1, 2)


def joined(x: Tensor) -> Tensor:
    return x.transpose(1, 2).flatten(2)


class Block(nn.Module):
    """One layer of the encoder, or of the decoder where `cross`."""

    def __init__(self, arrays: dict[str, Tensor], name: str, rank: int, *, cross: bool) -> None:
        super().__init__()
        lin = lambda part: Adapted(arrays[f"{name}/{part}/weight"], arrays[f"{name}/{part}/bias"], rank)  # noqa: E731
        self.norm = Norm(arrays, f"{name}/self_attention/layer_norm")
        self.qkv, self.out = lin("self_attention/linear_0"), lin("self_attention/linear_1")
        self.cross = cross
        if cross:
            self.cross_norm = Norm(arrays, f"{name}/attention/layer_norm")
            self.q, self.kv, self.cross_out = (lin(f"attention/linear_{i}") for i in range(3))
        self.ffn_norm = Norm(arrays, f"{name}/ffn/layer_norm")
        self.up, self.down = lin("ffn/linear_0"), lin("ffn/linear_1")

    def forward(self, x: Tensor, sound: Tensor | None = None, memory: dict | None = None) -> Tensor:
        q, k, v = map(split, self.qkv(self.norm(x)).chunk(3, -1))
        if memory is not None:
            if "k" in memory:
                k, v = torch.cat([memory["k"], k], 2), torch.cat([memory["v"], v], 2)
            memory["k"], memory["v"] = k, v
        x = x + self.out(joined(F.scaled_dot_product_attention(q, k, v, is_causal=self.cross and q.shape[2] > 1)))
        if self.cross:
            if memory is None or "ck" not in memory:
                ck, cv = map(split, self.kv(sound).chunk(2, -1))
                if memory is not None:
                    memory["ck"], memory["cv"] = ck, cv
            else:
                ck, cv = memory["ck"], memory["cv"]
            q = split(self.q(self.cross_norm(x)))
            x = x + self.cross_out(joined(F.scaled_dot_product_attention(q, ck, cv)))
        return x + self.down(F.gelu(self.up(self.ffn_norm(x))))


class Whisper(nn.Module):
    """The network; mel spectrograms (batch, 80, 3000) and tokens (batch, n) in, logits (batch, n, vocabulary) out."""

    def __init__(self, arrays: dict[str, Tensor], rank: int) -> None:
        super().__init__()
        for i in (1, 2):
            self.register_buffer(f"w{i}", arrays[f"encoder/conv{i}/weight"])
            self.register_buffer(f"b{i}", arrays[f"encoder/conv{i}/bias"])
        self.register_buffer("places", arrays["encoder/position_encodings/encodings"])
        self.register_buffer("token_places", arrays["decoder/position_encodings/encodings"])
        self.register_buffer("tokens", arrays["decoder/embeddings/weight"])
        self.encoder = nn.ModuleList(Block(arrays, f"encoder/layer_{i}", rank, cross=False) for i in range(LAYERS))
        self.decoder = nn.ModuleList(Block(arrays, f"decoder/layer_{i}", rank, cross=True) for i in range(LAYERS))
        self.after_encoder = Norm(arrays, "encoder/layer_norm")
        self.after_decoder = Norm(arrays, "decoder/layer_norm")

    def heard(self, mel: Tensor) -> Tensor:
        x = F.gelu(F.conv1d(mel, self.w1.to(mel.dtype), self.b1.to(mel.dtype), padding=1))
        x = F.gelu(F.conv1d(x, self.w2.to(x.dtype), self.b2.to(x.dtype), stride=2, padding=1)).transpose(1, 2)
        x = x + self.places.to(x.dtype)
        for block in self.encoder:
            x = block(x)
        return self.after_encoder(x)

    def told(self, sound: Tensor, tokens: Tensor, memory: list[dict] | None = None, at: int = 0) -> Tensor:
        x = (F.embedding(tokens, self.tokens) + self.token_places[at : at + tokens.shape[1]]).to(sound.dtype)
        for i, block in enumerate(self.decoder):
            x = block(x, sound, None if memory is None else memory[i])
        return F.linear(self.after_decoder(x), self.tokens.to(x.dtype))

    def adapted(self) -> dict[str, Adapted]:
        """The low-rank layers by the names of CTranslate2's arrays."""
        parts = {
            "qkv": "self_attention/linear_0",
            "out": "self_attention/linear_1",
            "q": "attention/linear_0",
            "kv": "attention/linear_1",
            "cross_out": "attention/linear_2",
            "up": "ffn/linear_0",
            "down": "ffn/linear_1",
        }
        return {
            f"{side}/layer_{i}/{parts[part]}": module
            for side, blocks in (("encoder", self.encoder), ("decoder", self.decoder))
            for i, block in enumerate(blocks)
            for part, module in block.named_children()
            if isinstance(module, Adapted)
        }

    @torch.no_grad()
    def listen(self, mel: Tensor, start: list[int], end: int, forbidden: Tensor, most: int = 220) -> list[list[int]]:
        """The likeliest token each time, until all have ended; special tokens (`forbidden`, a mask) never."""
        sound = self.heard(mel)
        memory: list[dict] = [{} for _ in self.decoder]
        tokens = torch.tensor([start] * len(mel), device=mel.device)
        out: list[Tensor] = []
        ended = torch.zeros(len(mel), dtype=torch.bool, device=mel.device)
        at = 0
        for _ in range(most):
            logits = self.told(sound, tokens, memory, at)[:, -1].float().masked_fill(forbidden, -1e9)
            at += tokens.shape[1]
            best = logits.argmax(-1)
            best[ended] = end
            out.append(best)
            ended |= best == end
            if ended.all():
                break
            tokens = best[:, None]
        rows = torch.stack(out, 1).tolist()
        return [row[: row.index(end)] if end in row else row for row in rows]
