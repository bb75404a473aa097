"""Prepares the base encoder for training: prunes its word pieces and writes its weights small and vectors of the names.

    python scripts/second_reader_base.py MODEL_FOLDER OUT_FOLDER --names FOLDER_OF_CSV --talks tests/narrations

MODEL_FOLDER holds config.json, model.safetensors and tokenizer.json of a BERT-like sentence encoder (the shipped reader
begins from MiniLM-L6, 384 wide). With `--pieces BASE` the model is an MPNet one, whose vocabulary is BERT's moved by
four: it gets the word pieces of BASE, so that it can teach a reader that begins from there.
Needs torch, transformers, safetensors, tokenizers.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import torch
from safetensors.torch import load, load_file, save_file
from second_reader_data import load_part, read_names
from tokenizers import Tokenizer

COMMON = 24000  # word pieces are in order of frequency; later ones stay only where the talks or the names use them


MPNET_NAMES = {"[PAD]": "<pad>", "[CLS]": "<s>", "[SEP]": "</s>", "[MASK]": "<mask>"}


def empty_encoder(config: dict) -> torch.nn.Module:
    """An encoder of the kind and sizes that a base's configuration tells, with random weights."""
    from second_reader_mpnet import MPNet
    from transformers import BertConfig, BertModel

    if config["model_type"] == "mpnet":
        return MPNet(config)
    return BertModel(BertConfig(**config), add_pooling_layer=False)


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


def pruned_tokenizer(raw: dict, keep: list[str]) -> dict:
    """A tokenizer's description with only the word pieces that stay."""
    raw["model"]["vocab"] = {p: i for i, p in enumerate(keep)}
    for token in raw["added_tokens"]:
        token["id"] = keep.index(token["content"])
    for name, entry in raw["post_processor"]["special_tokens"].items():
        entry["ids"] = [keep.index(name)]
    return raw


def name_vectors(model: torch.nn.Module, old: Tokenizer, texts: list[str]) -> torch.Tensor:
    """The encoder's own reading of each name, of length one [names, d]."""
    vectors = []
    with torch.no_grad():
        for t in texts:
            ids = torch.tensor([old.encode(t).ids])
            v = model(input_ids=ids).last_hidden_state.mean(1)[0]
            vectors.append(v / v.norm())
    return torch.stack(vectors)


def small(state: dict[str, torch.Tensor]) -> dict[str, torch.Tensor]:
    """Matrices as 8-bit rows with one scale a row, the rest in half precision: the file is made to travel."""
    out = {}
    for k, v in state.items():
        if v.ndim == 2 and k != "names":
            scale = v.abs().amax(1).clamp(min=1e-8) / 127
            out[k], out[f"{k}.scale"] = (v / scale[:, None]).round().to(torch.int8), scale
        else:
            out[k] = v.half().contiguous()
    return out


def read_weights(folder: Path) -> dict[str, torch.Tensor]:
    """The trained weights in a folder's parts `weights.*`, in 32 bits."""
    stored = load(b"".join(p.read_bytes() for p in sorted(folder.glob("weights.*"))))
    return {k: v.float() for k, v in stored.items()}


def whole(stored: dict[str, torch.Tensor]) -> dict[str, torch.Tensor]:
    """What `small` made small, in 32 bits."""
    state = {k: v.float() for k, v in stored.items() if not k.endswith(".scale")}
    return {k: v * stored[f"{k}.scale"][:, None] if f"{k}.scale" in stored else v for k, v in state.items()}


def main() -> None:
    """Reads the base model and writes OUT_FOLDER/base.safetensors, tokenizer.json and base.json."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("model", type=Path)
    ap.add_argument("out", type=Path)
    ap.add_argument("--names", type=Path, required=True)
    ap.add_argument("--talks", type=Path, required=True)
    ap.add_argument("--pieces", type=Path, help="a base whose word pieces an MPNet model is to have")
    a = ap.parse_args()
    names = read_names(a.names)
    a.out.mkdir(parents=True, exist_ok=True)
    raw = json.loads((a.model / "tokenizer.json").read_text())
    raw["truncation"] = raw["padding"] = None
    old = Tokenizer.from_str(json.dumps(raw))
    vocabulary = dict(raw["model"]["vocab"])
    texts = [*names.site_texts, *names.finding_texts]
    if a.pieces:
        told = (a.pieces / "tokenizer.json").read_text()
        keep = sorted(json.loads(told)["model"]["vocab"].items(), key=lambda p: p[1])
        rows = torch.tensor([vocabulary[MPNET_NAMES.get(p, p)] for p, _ in keep])
    else:
        talks = [" ".join(t.words) for t in load_part(a.talks, "work", names)]
        pieces = kept_pieces(vocabulary, {p for t in (*texts, *talks) for p in old.encode(t).tokens})
        rows = torch.tensor([vocabulary[p] for p in pieces])
        told = json.dumps(pruned_tokenizer(raw, pieces))
    (a.out / "tokenizer.json").write_text(told)

    config = json.loads((a.model / "config.json").read_text())
    model = empty_encoder(config)
    print("not loaded:", model.load_state_dict(load_file(a.model / "model.safetensors"), strict=False))
    vectors = name_vectors(model.eval(), old, texts)
    kept = {k: v for k, v in model.state_dict().items() if v.dtype == torch.float32}
    key = "embeddings.word_embeddings.weight"
    kept[key] = kept[key][rows]
    kept["names"] = vectors
    save_file(small(kept), a.out / "base.safetensors")
    config |= {"vocab_size": len(rows), "pad_token_id": 0}
    (a.out / "base.json").write_text(json.dumps(config))
    print(len(vocabulary), "word pieces ->", len(rows))


if __name__ == "__main__":
    main()
