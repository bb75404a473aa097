"""The network of the second reader in torch: an encoder over word pieces, stretches over it, and heads."""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional as F

BAND = 64  # a stretch attends to this many stretches before and after it
FAR = 16  # distances between stretches beyond this are alike


class Stretches(nn.Module):
    """One attention layer over the stretches of a talk, with a learned bias for the distance between two of them."""

    def __init__(self, width: int, heads: int = 6, drop: float = 0.1) -> None:
        super().__init__()
        self.heads = heads
        inner = 2 * width
        self.norm1, self.norm2 = nn.LayerNorm(width), nn.LayerNorm(width)
        self.qkv, self.out = nn.Linear(width, 3 * width), nn.Linear(width, width)
        self.up, self.down = nn.Linear(width, inner), nn.Linear(inner, width)
        self.distance = nn.Parameter(torch.zeros(heads, 2 * FAR + 1))
        self.drop = nn.Dropout(drop)

    def forward(self, x: Tensor, mask: Tensor) -> Tensor:
        b, n, _ = x.shape
        q, k, v = self.qkv(self.norm1(x)).view(b, n, 3, self.heads, -1).permute(2, 0, 3, 1, 4)
        place = torch.arange(n, device=x.device)
        apart = place[None, :] - place[:, None]
        bias = self.distance[:, apart.clamp(-FAR, FAR) + FAR][None]
        hidden = (~mask)[:, None, None, :] | (apart.abs() > BAND)[None, None]
        bias = bias.expand(b, -1, -1, -1).masked_fill(hidden, -1e4)
        y = F.scaled_dot_product_attention(q, k, v, attn_mask=bias.to(q.dtype))
        x = x + self.drop(self.out(y.transpose(1, 2).reshape(b, n, -1)))
        return x + self.drop(self.down(F.gelu(self.up(self.norm2(x)))))


class Reader(nn.Module):
    """Encoder and heads. `site_vectors` and `finding_vectors` start from the encoder's own reading of the names."""

    def __init__(
        self,
        encoder: nn.Module,
        site_vectors: Tensor,
        finding_vectors: Tensor,
        roles: int,
        plain: int,
        *,
        layers: int = 1,
        drop: float = 0.2,
    ) -> None:
        super().__init__()
        self.encoder = encoder
        width = site_vectors.shape[1]
        self.site_vectors = nn.Parameter(site_vectors.clone())
        self.finding_vectors = nn.Parameter(finding_vectors.clone())
        self.begin = nn.Linear(width, 1)
        self.pool_score = nn.Linear(width, 4)
        self.pool = nn.Linear(width * 6, width)
        self.pool_norm = nn.LayerNorm(width)
        self.layers = nn.ModuleList(Stretches(width, drop=drop / 2) for _ in range(layers))
        self.last_norm = nn.LayerNorm(width)
        self.role = nn.Linear(width, roles)
        self.site_map, self.site_bias = nn.Linear(width, width), nn.Parameter(torch.full((len(site_vectors),), -4.0))
        self.finding_map, self.finding_bias = (
            nn.Linear(width, width),
            nn.Parameter(torch.full((len(finding_vectors),), -5.0)),
        )
        self.ask, self.key = nn.Linear(width, 64), nn.Linear(width, 64)
        self.near = nn.Parameter(torch.tensor(-2.0))  # what a word of the neighbouring stretches weighs less
        self.mix, self.mix_norm = nn.Linear(width * 4, width * 2), nn.LayerNorm(width * 2)
        self.plain = nn.Linear(width * 2, plain)
        self.present, self.absent = nn.Linear(width * 2, width), nn.Linear(width * 2, width)
        self.present_bias = nn.Parameter(torch.full((len(finding_vectors),), -5.0))
        self.absent_bias = nn.Parameter(torch.full((len(finding_vectors),), -6.0))
        self.side, self.hedge = nn.Linear(width * 2, 4), nn.Linear(width * 2, 1)
        self.drop = nn.Dropout(drop)

    def words(self, ids: Tensor, mask: Tensor) -> Tensor:
        """Word-piece vectors [b, t, d] of ids [b, t]."""
        return self.encoder(input_ids=ids, attention_mask=mask).last_hidden_state

    def stretches(self, h: Tensor, segment: Tensor, count: int) -> tuple[Tensor, Tensor]:
        """Pooled stretch vectors [b, count, d] and their mask; `segment` [b, t] is the stretch of a piece or -1."""
        b, _, d = h.shape
        inside = segment >= 0
        flat = (segment.clamp(min=0) + torch.arange(b, device=h.device)[:, None] * count)[inside]
        v = h[inside].float()
        many = torch.zeros(b * count, device=h.device).index_add(0, flat, torch.ones_like(flat, dtype=torch.float))
        mean = torch.zeros(b * count, d, device=h.device).index_add(0, flat, v) / many.clamp(min=1)[:, None]
        top = torch.full((b * count, d), -1e4, device=h.device).scatter_reduce(
            0, flat[:, None].expand(-1, d), v, "amax"
        )
        top = torch.where(many[:, None] > 0, top, torch.zeros_like(top))
        weight = torch.exp(self.pool_score(v).float().clamp(-20, 20))  # [k, 4]
        total = torch.zeros(b * count, 4, device=h.device).index_add(0, flat, weight).clamp(min=1e-6)
        looked = torch.stack(
            [
                torch.zeros(b * count, d, device=h.device).index_add(0, flat, v * weight[:, j : j + 1])
                / total[:, j : j + 1]
                for j in range(4)
            ],
            1,
        )
        x = torch.cat([mean, top, looked.reshape(b * count, 4 * d)], -1).view(b, count, 6 * d)
        x = self.pool_norm(F.gelu(self.pool(self.drop(x))))
        mask = many.view(b, count) > 0
        for layer in self.layers:
            x = layer(x, mask)
        return self.last_norm(x), mask

    def stretch_heads(self, x: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        """Logits of roles, sites and findings for stretch vectors [..., d]."""
        y = self.drop(x)
        return (
            self.role(y),
            self.site_map(y) @ self.site_vectors.T + self.site_bias,
            self.finding_map(y) @ self.finding_vectors.T + self.finding_bias,
        )

    def pair_heads(
        self, h: Tensor, segment: Tensor, x: Tensor, stretch: Tensor, site: Tensor
    ) -> tuple[Tensor, Tensor, Tensor]:
        """Logits of outcomes, sides and hedge for pairs: stretch [b, p] with site [b, p]."""
        asked = self.ask(self.site_vectors)[site]  # b p 64
        score = torch.einsum("bpd,btd->bpt", asked, self.key(h)) / 8.0
        apart = (segment[:, None, :] - stretch[:, :, None]).abs()
        score = score.float() + torch.where(apart == 1, self.near, torch.zeros_like(self.near))
        score = score.masked_fill((apart > 1) | (segment < 0)[:, None, :], -1e4)
        looked = torch.softmax(score, -1).to(h.dtype) @ h
        own = torch.gather(x, 1, stretch[..., None].expand(-1, -1, x.shape[-1]))
        name = self.site_vectors[site]
        z = self.mix_norm(F.gelu(self.mix(self.drop(torch.cat([own, looked.to(own.dtype), name, own * name * 4], -1)))))
        z = self.drop(z)
        f = self.finding_vectors.T
        outcomes = torch.cat(
            [self.plain(z), self.present(z) @ f + self.present_bias, self.absent(z) @ f + self.absent_bias], -1
        )
        return outcomes, self.side(z), self.hedge(z)[..., 0]
