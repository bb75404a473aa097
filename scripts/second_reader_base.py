"""Prepares the base encoder for training: prunes its word pieces and writes its weights small and vectors of the names.

    python scripts/second_reader_base.py MODEL_FOLDER OUT_FOLDER --names FOLDER_OF_CSV --talks tests/narrations

MODEL_FOLDER holds config.json, model.safetensors and tokenizer.json of a MiniLM-L6 sentence encoder (384 wide).
Needs torch, transformers, safetensors, tokenizers.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import torch
from safetensors.torch import load_file, save_file
from second_reader_data import load_part, read_names
from tokenizers import Tokenizer
from transformers import BertConfig, BertModel

COMMON = 24000  # word pieces are in order of frequency; later ones stay only where the talks or the names use them


def kept_pieces(vocabulary: dict[str, int], used: set[str]) -> list[str]:
    """The word pieces that stay, in their order: special ones, plain ASCII ones that are common or used."""
    ordered = sorted(vocabulary, key=vocabulary.__getitem__)
    keep = []
    for piece in ordered:
        if piece in ("[PAD]", "[UNK]", "[CLS]", "[SEP]", "[MASK]"):
            keep.append(piece)
        elif piece.startswith("[unused") or not piece.isascii():
            continue
        elif vocabulary[piece] < COMMON or piece in used or len(piece.removeprefix("##")) == 1:
            keep.append(piece)
    return keep


def main() -> None:
    """Reads the base model and writes OUT_FOLDER/base.safetensors, tokenizer.json and base.json."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("model", type=Path)
    ap.add_argument("out", type=Path)
    ap.add_argument("--names", type=Path, required=True)
    ap.add_argument("--talks", type=Path, required=True)
    a = ap.parse_args()
    names = read_names(a.names)
    raw = json.loads((a.model / "tokenizer.json").read_text())
    raw["truncation"] = raw["padding"] = None
    old = Tokenizer.from_str(json.dumps(raw))
    texts = [*names.site_texts, *names.finding_texts]
    texts += [" ".join(t.words) for part in ("work",) for t in load_part(a.talks, part, names)]
    used = {p for t in texts for p in old.encode(t).tokens}
    vocabulary = raw["model"]["vocab"]
    keep = kept_pieces(vocabulary, used)
    raw["model"]["vocab"] = {p: i for i, p in enumerate(keep)}
    for token in raw["added_tokens"]:
        token["id"] = keep.index(token["content"])
    for name, entry in raw["post_processor"]["special_tokens"].items():
        entry["ids"] = [keep.index(name)]
    a.out.mkdir(parents=True, exist_ok=True)
    (a.out / "tokenizer.json").write_text(json.dumps(raw))

    config = json.loads((a.model / "config.json").read_text())
    state = {k: v.float() for k, v in load_file(a.model / "model.safetensors").items()}
    model = BertModel(BertConfig(**config), add_pooling_layer=False)
    missing = model.load_state_dict(state, strict=False)
    print("not loaded:", missing)
    model.eval()
    vectors = []
    with torch.no_grad():
        for t in [*names.site_texts, *names.finding_texts]:
            ids = torch.tensor([old.encode(t).ids])
            v = model(input_ids=ids).last_hidden_state.mean(1)[0]
            vectors.append(v / v.norm())
    rows = torch.tensor([vocabulary[p] for p in keep])
    key = "embeddings.word_embeddings.weight"
    kept = {k: v for k, v in model.state_dict().items() if v.dtype == torch.float32}
    kept[key] = kept[key][rows]
    kept["names"] = torch.stack(vectors)
    small = {}
    for k, v in kept.items():  # matrices as 8-bit rows with one scale a row: the file is made to travel
        if v.ndim == 2 and k != "names":
            scale = v.abs().amax(1).clamp(min=1e-8) / 127
            small[k], small[f"{k}.scale"] = (v / scale[:, None]).round().to(torch.int8), scale
        else:
            small[k] = v.half().contiguous()
    save_file(small, a.out / "base.safetensors")
    config["vocab_size"] = len(keep)
    (a.out / "base.json").write_text(json.dumps(config))
    print(len(vocabulary), "word pieces ->", len(keep))


if __name__ == "__main__":
    main()
