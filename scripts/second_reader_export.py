"""Makes the files of the package from trained weights: quantised encoder, word pieces, 8-bit heads, labels."""

from __future__ import annotations

import argparse
import json
import tempfile
from pathlib import Path

import numpy as np
import torch
from second_reader_base import read_weights
from second_reader_data import PLAIN, ROLES, SIDES, load_part, read_names
from torch import Tensor, nn
from torch.nn import functional as F

MODEL = Path(__file__).parent.parent / "dictate" / "language" / "second_reader" / "model"
TEACHER = "all-mpnet-base-v2 (Apache-2.0), trained on the same talks"
HEADS = 12  # attention heads of the encoder


def rows_as_bytes(w: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A matrix as 8-bit rows with one scale a row."""
    scale = np.maximum(np.abs(w).max(1), 1e-8) / 127
    return np.round(w / scale[:, None]).astype(np.int8), scale.astype(np.float32)


class PlainEncoder(nn.Module):
    """The encoder in plain operations, for one window without padding; word vectors are held as 8-bit rows."""

    def __init__(self, w: dict[str, Tensor], layers: int) -> None:
        super().__init__()
        self.layers = layers
        table, scale = rows_as_bytes(w.pop("embeddings.word_embeddings.weight").numpy())
        self.register_buffer("table", torch.from_numpy(table))
        self.register_buffer("scale", torch.from_numpy(scale))
        place = w.pop("embeddings.position_embeddings.weight") + w.pop("embeddings.token_type_embeddings.weight")[0]
        self.register_buffer("place", place)
        for name, value in w.items():
            self.register_buffer(name.replace(".", "_"), value)

    def linear(self, x: Tensor, name: str) -> Tensor:
        """A dense layer, written so that the export makes one matrix product of it."""
        name = name.replace(".", "_")
        return torch.matmul(x, getattr(self, f"{name}_weight").T) + getattr(self, f"{name}_bias")

    def norm(self, x: Tensor, name: str) -> Tensor:
        """A layer norm of the encoder."""
        name = name.replace(".", "_")
        return F.layer_norm(x, (384,), getattr(self, f"{name}_weight"), getattr(self, f"{name}_bias"), 1e-12)

    def forward(self, ids: Tensor) -> Tensor:
        """Ids [1, t] to vectors [1, t, 384]."""
        x = self.table[ids].float() * self.scale[ids][..., None] + self.place[: ids.shape[1]]
        x = self.norm(x, "embeddings.LayerNorm")
        for i in range(self.layers):
            at = f"encoder.layer.{i}."
            q, k, v = (
                self.linear(x, f"{at}attention.self.{n}").unflatten(-1, (HEADS, 384 // HEADS)).transpose(1, 2)
                for n in ("query", "key", "value")
            )
            score = torch.softmax(torch.matmul(q, k.transpose(-1, -2)) * (384 // HEADS) ** -0.5, -1)
            y = torch.matmul(score, v).transpose(1, 2).flatten(2)
            x = self.norm(x + self.linear(y, f"{at}attention.output.dense"), f"{at}attention.output.LayerNorm")
            y = self.linear(F.gelu(self.linear(x, f"{at}intermediate.dense")), f"{at}output.dense")
            x = self.norm(x + y, f"{at}output.LayerNorm")
        return x


def write_encoder(state: dict[str, Tensor], config: dict, to: Path, *, whole: bool = False) -> None:
    """The encoder as ONNX, its dense layers in 8 bits (or not, with `whole`, to see what the 8 bits cost)."""
    from onnxruntime.quantization import QuantType, quantize_dynamic

    w = {k.removeprefix("encoder."): v.float() for k, v in state.items() if k.startswith("encoder.")}
    plain = PlainEncoder(w, config["num_hidden_layers"]).eval()
    with tempfile.TemporaryDirectory() as folder:
        raw = Path(folder) / "raw.onnx"
        torch.onnx.export(
            plain,
            (torch.arange(12)[None],),
            str(raw),
            input_names=["ids"],
            output_names=["vectors"],
            dynamic_axes={"ids": {1: "t"}, "vectors": {1: "t"}},
            opset_version=17,
            dynamo=False,
        )
        if whole:
            to.write_bytes(raw.read_bytes())
            return
        quantize_dynamic(
            raw,
            to,
            op_types_to_quantize=["MatMul"],
            per_channel=True,
            reduce_range=True,
            weight_type=QuantType.QInt8,
            extra_options={"MatMulConstBOnly": True},
        )


def write_heads(state: dict[str, Tensor], to: Path) -> None:
    """The heads as 8-bit rows; vectors stay in 32 bits. The findings' head for training alone is left out."""
    out: dict[str, np.ndarray] = {}
    for name, value in state.items():
        if name.startswith(("encoder.", "finding_map.", "finding_bias")):
            continue
        v = value.float().numpy()
        if v.ndim == 2 and name != "site_vectors" and v.size > 4000:
            out[name], out[f"{name}.scale"] = rows_as_bytes(v)
        else:
            out[name] = v.astype(np.float16) if v.ndim == 2 else v
    np.savez_compressed(to, **out)


def export(a: argparse.Namespace) -> None:
    """Writes the package's model folder, then calibrates it on the choosing parts."""
    from second_reader_judge import calibrated

    state = read_weights(a.export)
    trained = json.loads((a.export / "trained.json").read_text())
    config = json.loads((a.base / "base.json").read_text())
    names = read_names(a.names)
    to = a.to or MODEL
    to.mkdir(parents=True, exist_ok=True)
    (to / "tokenizer.json").write_bytes((a.base / "tokenizer.json").read_bytes())
    write_encoder(state, config, to / "encoder.onnx", whole=a.whole)
    write_heads(state, to / "heads.npz")
    labels = {
        "roles": ROLES,
        "sides": SIDES,
        "plain": PLAIN,
        "sites": names.sites,
        "findings": names.findings,
        "scale": {
            k: [1.0, 0.0]
            for k in (*(f"role: {r}" for r in ROLES), "begin", "site", "plain", "present", "absent", "side", "hedge")
        },
        "limits": {"begin": 0.5},
        "training": {"base": "all-MiniLM-L6-v2 (Apache-2.0), word pieces pruned", "taught by": TEACHER, **trained},
    }
    path = to / "labels.json"
    path.write_text(json.dumps(labels, indent=1))
    talks = [t for p in ("choosing", "second") for t in load_part(a.talks, p, names)]
    labels |= calibrated(talks, names, to)
    path.write_text(json.dumps(labels, indent=1) + "\n")
    for p in sorted(to.iterdir()):
        print(f"{p.name}  {p.stat().st_size / 1e6:.2f} MB")
