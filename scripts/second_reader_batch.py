"""From changed talks to batches of tensors for the training of the second reader."""

from __future__ import annotations

import random
from collections.abc import Iterator

import numpy as np
import torch
from second_reader_augment import Alike, changed, stock_of, training_cuts
from second_reader_data import PLAIN, Labels, Names, Talk, label, part
from tokenizers import Tokenizer
from torch import Tensor
from torch.utils.data import IterableDataset, get_worker_info

LIMIT = 480  # word pieces of one window, the two special ones counted in


class Pieces:
    """Word pieces of single words, remembered."""

    def __init__(self, tokenizer: Tokenizer) -> None:
        self.tokenizer = tokenizer
        self.memory: dict[str, list[int]] = {}
        self.first, self.last, self.mask, self.unknown = (
            tokenizer.token_to_id(t) for t in ("[CLS]", "[SEP]", "[MASK]", "[UNK]")
        )

    def __call__(self, word: str) -> list[int]:
        """Ids of one word's pieces, at least one."""
        if word not in self.memory:
            self.memory[word] = self.tokenizer.encode(word, add_special_tokens=False).ids or [self.unknown]
        return self.memory[word]


def fitted(talk: Talk, pieces: Pieces) -> list[Talk]:
    """The talk cut where it would be longer than one window, at its last cut before the limit."""
    out = []
    while True:
        total, over = 2, None
        for i, w in enumerate(talk.words):
            total += len(pieces(w))
            if total > LIMIT:
                over = i
                break
        if over is None:
            return [*out, talk]
        at = max((c for c in talk.fact_cuts if 0 < c <= over), default=over)
        out.append(part(talk, 0, at))
        talk = part(talk, at, len(talk.words))


def sample(talk: Talk, cuts: list[int], names: Names, pieces: Pieces, rng: random.Random | None = None) -> dict:
    """One talk as arrays. With `rng`, some runs of words are masked."""
    ids, word_of = [pieces.first], [-1]
    for i, w in enumerate(talk.words):
        for p in pieces(w):
            ids.append(p)
            word_of.append(i)
    ids.append(pieces.last)
    word_of.append(-1)
    if rng and rng.random() < 0.4:
        hidden: set[int] = set()
        for _ in range(rng.randint(1, max(1, len(talk.words) // 25))):
            at = rng.randrange(len(talk.words))
            hidden |= set(range(at, at + rng.randint(1, 3)))
        ids = [pieces.mask if w in hidden else p for p, w in zip(ids, word_of, strict=True)]
    bounds = np.array(cuts)
    segment = [-1 if w < 0 else int(np.searchsorted(bounds, w, side="right")) - 1 for w in word_of]
    begins = set(talk.fact_cuts)
    begin = [-1.0 if w < 1 or word_of[j - 1] == w else float(w in begins) for j, w in enumerate(word_of)]
    return {"ids": ids, "segment": segment, "begin": begin, "labels": label(talk, cuts, names), "count": len(cuts)}


def padded(size: int, step: int = 8) -> int:
    """A size rounded up: few different sizes of batches are quicker than many."""
    return -(-size // step) * step


def collated(samples: list[dict], names: Names) -> dict[str, Tensor]:
    """Samples as one padded batch."""
    b, t, n = len(samples), padded(max(len(s["ids"]) for s in samples), 32), padded(max(s["count"] for s in samples))
    p = padded(max(1, max(len(s["labels"].pairs) for s in samples)))
    first: Labels = samples[0]["labels"]
    out = {
        "ids": torch.zeros(b, t, dtype=torch.long),
        "mask": torch.zeros(b, t, dtype=torch.bool),
        "segment": torch.full((b, t), -1),
        "begin": torch.full((b, t), -1.0),
        "roles": torch.zeros(b, n, first.roles.shape[1]),
        "role_weights": torch.zeros(b, n, first.roles.shape[1]),
        "sites": torch.zeros(b, n, len(names.sites)),
        "site_weights": torch.zeros(b, n, len(names.sites)),
        "findings": torch.zeros(b, n, len(names.findings)),
        "pair_stretch": torch.zeros(b, p, dtype=torch.long),
        "pair_site": torch.zeros(b, p, dtype=torch.long),
        "pair_known": torch.zeros(b, p),  # 1: a true pair
        "outcomes": torch.zeros(b, p, names.outcomes),
        "outcome_known": torch.zeros(b, p),
        "sides": torch.zeros(b, p, 4),
        "hedged": torch.zeros(b, p),
    }
    for i, s in enumerate(samples):
        k, lab = len(s["ids"]), s["labels"]
        out["ids"][i, :k] = torch.tensor(s["ids"])
        out["mask"][i, :k] = True
        out["segment"][i, :k] = torch.tensor(s["segment"])
        out["begin"][i, :k] = torch.tensor(s["begin"])
        m = s["count"]
        for key in ("roles", "role_weights", "sites", "site_weights", "findings"):
            out[key][i, :m] = torch.from_numpy(getattr(lab, key))
        for j, pair in enumerate(lab.pairs):
            out["pair_stretch"][i, j], out["pair_site"][i, j], out["pair_known"][i, j] = pair.stretch, pair.site, 1
            out["outcomes"][i, j, list(pair.outcomes)] = 1
            out["outcome_known"][i, j] = float(bool(pair.outcomes))
            out["sides"][i, j] = torch.tensor(pair.sides)
            out["hedged"][i, j] = float(pair.hedged)
    return out


class Changing(IterableDataset):
    """An endless run of batches of changed talks."""

    def __init__(
        self,
        talks: list[Talk],
        made: list[Talk],
        names: Names,
        pieces: Pieces,
        *,
        batch: int,
        seed: int,
        made_share: float,
        alike: Alike | None = None,
    ) -> None:
        self.talks, self.made, self.names, self.pieces = talks, made, names, pieces
        self.batch, self.seed, self.made_share = batch, seed, made_share
        self.stock, self.alike = stock_of(talks), alike

    def one(self, rng: random.Random) -> dict:
        """One changed talk as arrays."""
        r = rng.random()
        if self.made and r < self.made_share:
            talk = changed(rng.choice(self.made), self.made, rng, self.stock)
        else:
            mixed = self.made if self.made and r > 0.93 else self.talks
            talk = changed(rng.choice(self.talks), mixed, rng, self.stock, self.alike)
        fits = [t for t in fitted(talk, self.pieces) if t.words]
        talk = rng.choice(fits) if fits else self.talks[0]
        return sample(talk, training_cuts(talk, rng), self.names, self.pieces, rng)

    def __iter__(self) -> Iterator[dict[str, Tensor]]:
        info = get_worker_info()
        rng = random.Random(self.seed * 1000 + (info.id if info else 0))
        while True:
            yield collated([self.one(rng) for _ in range(self.batch)], self.names)


def fixed(talks: list[Talk], names: Names, pieces: Pieces, batch: int) -> list[dict[str, Tensor]]:
    """Unchanged talks as batches with their fact-sized cuts, for choosing."""
    parts = [p for t in talks for p in fitted(t, pieces) if p.words]
    made = [sample(t, list(t.fact_cuts), names, pieces) for t in parts]
    return [collated(made[i : i + batch], names) for i in range(0, len(made), batch)]


assert PLAIN[0] == "normal"
