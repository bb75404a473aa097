"""The second reader at work: a text to words, windows, stretches and their readings."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from dictate.language.second_reader.heads import (
    Floats,
    Ints,
    PairLogits,
    Weights,
    begin_logits,
    pair_logits,
    stretch_logits,
)
from dictate.language.second_reader.model_files import (
    ENCODER,
    HEADS,
    LABELS,
    PIECES,
    Labels,
    folder_of_model,
    read_heads,
    read_labels,
)
from dictate.language.second_reader.values import Outcome, SiteReading, StretchReading

WINDOW = 480  # word pieces that the encoder sees at once, its two special ones counted in
OVERLAP = 120  # word pieces that neighbouring windows share
LONGEST_WORD = 32  # word pieces of one word beyond this are left out (a run of signs, not a word)
FLOOR = 0.05  # sites and outcomes below this probability are not returned


@dataclass(frozen=True, slots=True)
class WordPlace:
    """A white-space word in half-open character positions, and its first word piece."""

    start: int
    end: int
    piece: int


class SecondReader:
    """A small trained model that reads stretches of exam talk; see `read`. Made by `load`."""

    def __init__(self, *, session: Any, tokenizer: Any, weights: Weights, labels: Labels) -> None:
        self._session = session
        self._tokenizer = tokenizer
        self._weights = weights
        self.labels = labels
        self._first, self._last = tokenizer.token_to_id("[CLS]"), tokenizer.token_to_id("[SEP]")
        self._unknown = tokenizer.token_to_id("[UNK]")
        self._last_text: tuple[str, list[WordPlace], list[int], Floats] | None = None

    def read(self, text: str, *, cuts: Sequence[int] | None = None) -> tuple[StretchReading, ...]:
        """Reads a whole talk.

        Args:
            text: the talk, of any length, with or without punctuation and capitals.
            cuts: characters at which stretches begin; each moves to the start of the word it lies in or before.
                By default the reader cuts by itself.

        Returns:
            The stretches in order; together they hold every word of the text. Empty for a text without words.
        """
        words, pieces, h = self._encoded(text)
        if not words:
            return ()
        begins = self._own_cuts(h, words) if cuts is None else _snapped(cuts, words)
        bounds = np.array([*(words[i].piece for i in begins), len(pieces)], np.int64)
        read = stretch_logits(h, bounds, self._weights)
        sites = self._probability("site", read.sites)
        stretch, site = np.nonzero(sites >= FLOOR)
        pairs = pair_logits(h, bounds, read.vectors, stretch, site, self._weights)
        roles = self.role_chances(read.roles)
        back = self.labels.roles.index("taken back")
        readings: list[list[SiteReading]] = [[] for _ in begins]
        for p, (k, s) in enumerate(zip(stretch.tolist(), site.tolist(), strict=True)):
            readings[k].append(self._site(pairs, p, s, float(sites[k, s])))
        out = []
        for k, first in enumerate(begins):
            last = (begins[k + 1] if k + 1 < len(begins) else len(words)) - 1
            start, end = words[first].start, words[last].end
            out.append(
                StretchReading(
                    start,
                    end,
                    text[start:end],
                    {name: float(roles[k, j]) for j, name in enumerate(self.labels.roles) if j != back},
                    float(roles[k, back]),
                    tuple(sorted(readings[k], key=lambda r: -r.probability)),
                )
            )
        return tuple(out)

    def _encoded(self, text: str) -> tuple[list[WordPlace], list[int], Floats]:
        """Words, word pieces and vectors of a text; the last text's are kept, as one without marks is read twice."""
        if self._last_text is None or self._last_text[0] != text:
            words, pieces = self._words(text)
            self._last_text = (text, words, pieces, self._vectors(pieces) if words else np.empty((0, 0), np.float32))
        return self._last_text[1:]

    def _words(self, text: str) -> tuple[list[WordPlace], list[int]]:
        found = [(m.group(), m.start(), m.end()) for m in re.finditer(r"\S+", text)]
        encoded = self._tokenizer.encode_batch([w for w, _, _ in found], add_special_tokens=False)
        words: list[WordPlace] = []
        pieces: list[int] = []
        for (_, start, end), e in zip(found, encoded, strict=True):
            words.append(WordPlace(start, end, len(pieces)))
            pieces += e.ids[:LONGEST_WORD] or [self._unknown]
        return words, pieces

    def _vectors(self, pieces: list[int]) -> Floats:
        """Word-piece vectors [t, 384]. Where windows overlap, a piece is taken from the one in which it lies deeper."""
        inner = WINDOW - 2
        starts = [0]
        while starts[-1] + inner < len(pieces):
            starts.append(min(starts[-1] + inner - OVERLAP, len(pieces) - inner))
        out = np.empty((len(pieces), 0), np.float32)
        for i, start in enumerate(starts):
            window = pieces[start : start + inner]
            ids = np.array([[self._first, *window, self._last]], np.int64)
            (h,) = self._session.run(None, {"ids": ids})
            if not i:
                out = np.empty((len(pieces), h.shape[-1]), np.float32)
            low = start if not i else (start + starts[i - 1] + inner) // 2  # the middle of what both windows see
            out[low : start + len(window)] = h[0, 1 + low - start : 1 + len(window)]
        return out

    def _own_cuts(self, h: Floats, words: list[WordPlace]) -> list[int]:
        firsts = np.array([w.piece for w in words])
        p = self._probability("begin", begin_logits(h[firsts], self._weights))
        return [0, *(i for i in range(1, len(words)) if p[i] >= self.labels.limits["begin"])]

    def _site(self, pairs: PairLogits, p: int, site: int, probability: float) -> SiteReading:
        labels = self.labels
        many, plain = len(labels.findings), len(labels.plain)
        logits = pairs.outcomes[p]
        chance = np.concatenate(
            [
                self._probability("plain", logits[:plain]),
                self._probability("present", logits[plain : plain + many]),
                self._probability("absent", logits[plain + many :]),
            ]
        )
        order = [int(o) for o in np.argsort(-chance) if chance[o] >= FLOOR]
        factor, _ = labels.scale["side"]
        e = np.exp(factor * (pairs.sides[p] - pairs.sides[p].max()))
        sides = dict(zip(labels.sides, (float(x) for x in e / e.sum()), strict=True))
        hedged = float(self._probability("hedge", pairs.hedges[p : p + 1])[0])
        return SiteReading(
            labels.sites[site], probability, sides, hedged, tuple(self._outcome(o, float(chance[o])) for o in order)
        )

    def _outcome(self, column: int, probability: float) -> Outcome:
        plain, many = self.labels.plain, len(self.labels.findings)
        if column < len(plain):
            name = plain[column]
            measured = name == "measured"
            return Outcome("normal" if measured else name, None, True, measured, probability)
        finding = self.labels.findings[(column - len(plain)) % many]
        present = column < len(plain) + many
        return Outcome("abnormal" if present else "normal", finding, present, False, probability)

    def role_chances(self, logits: Floats) -> Floats:
        """Probabilities [n, roles] of role logits; each role is calibrated by itself."""
        return np.stack([self._probability(f"role: {r}", logits[:, j]) for j, r in enumerate(self.labels.roles)], 1)

    def _probability(self, kind: str, logits: Floats) -> Floats:
        factor, shift = self.labels.scale[kind]
        return 1 / (1 + np.exp(-np.clip(factor * logits + shift, -30, 30)))


def load(folder: Path | None = None, *, threads: int = 1) -> SecondReader:
    """The second reader with the model in `folder` (by default the one that comes with the package).

    Args:
        threads: processor cores that the encoder may use.

    Raises:
        InputError: files of the model are missing or are not what they should be.
    """
    at = folder_of_model(folder)
    import onnxruntime
    from tokenizers import Tokenizer

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.log_severity_level = 3
    session = onnxruntime.InferenceSession(str(at / ENCODER), options, providers=["CPUExecutionProvider"])
    tokenizer = Tokenizer.from_file(str(at / PIECES))
    return SecondReader(
        session=session, tokenizer=tokenizer, weights=read_heads(at / HEADS), labels=read_labels(at / LABELS)
    )


def _snapped(cuts: Sequence[int], words: list[WordPlace]) -> list[int]:
    ends = np.array([w.end for w in words])
    begins: Ints = np.searchsorted(ends, np.array(sorted(cuts), np.int64), side="right")
    return sorted({0, *(int(i) for i in begins if i < len(words))})
