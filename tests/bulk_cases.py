"""Cheap steps and small folders for the tests of bulk conversion; run as a program, a conversion that can be killed.

python bulk_cases.py FOLDER OUT [PROCESSES | tcp://SCHEDULER]
"""

from __future__ import annotations

import csv
import hashlib
import json
import os
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from dictate.bulk.engine import Batch, Done, Processes
from dictate.bulk.run import Conversion, Run
from dictate.bulk.values import Orders
from dictate.bulk.work import work
from dictate.errors import InputError
from dictate.exam.statements import Evidence, PatientTold, Reading, Statement
from dictate.lexicon import Lexicon
from dictate.speech.words import SoundNote, Transcript, Word

ORDERS = Orders(listening="bulk_cases:hear_all", reading="bulk_cases:read")
BELLA = "Bella, Labrador, spayed female, five years. Left ear clean. Right ear clean. " + "Coat is fine. " * 12
REX = "Next patient. Rex, tabby cat, neutered male, nine years. Left ear clean. " + "Coat is fine. " * 12


def hear_all(paths: Sequence[Path], orders: Orders) -> list[Transcript | InputError]:
    """A file's bytes are its words; "bad" cannot be heard, "die" ends the process, `SLOW` seconds go by for each."""
    heard: list[Transcript | InputError] = []
    for path in paths:
        data = path.read_bytes()
        time.sleep(float(os.environ.get("SLOW", "0")))
        if data.startswith(b"die"):
            os._exit(9)
        heard.append(InputError("no sound", where=str(path)) if data.startswith(b"bad") else said(data))
    return heard


def said(data: bytes) -> Transcript:
    """The transcript of a file with these words, four tenths of a second each."""
    words = tuple(
        Word(text, round(i * 0.4, 3), round(i * 0.4 + 0.3, 3), 0.9) for i, text in enumerate(data.decode().split())
    )
    note = SoundNote(round(len(words) * 0.4, 3))
    return Transcript(words, " ".join(w.text for w in words), hashlib.sha256(data).hexdigest(), note, {"model": "none"})


def read(transcript: Transcript, lexicon: Lexicon) -> Reading:
    """The first word is the patient, and the first words are a normal ear."""
    text = transcript.text
    ear = Statement("ear canal", side="left", evidence=(Evidence(text[:20], 0, len(text[:20])),))
    return Reading(patient=PatientTold(name=text.split()[0].strip(",")), statements=(ear,))


class Inline:
    """An engine that works in this process, one batch at a time."""

    def __init__(self, orders: Orders = ORDERS) -> None:
        self.orders = orders
        self.batches: list[Batch] = []
        self.worked: list[str] = []  # stems, in order

    def room(self) -> int:
        return 1 - len(self.batches)

    def busy(self) -> int:
        return len(self.batches)

    def submit(self, batch: Batch) -> None:
        self.batches.append(batch)

    def finished(self, seconds: float) -> Sequence[Done]:
        batch = self.batches.pop()
        self.worked += [t.stem for t in batch]
        return [Done(batch, work(batch, self.orders))]

    def close(self) -> None:
        self.batches.clear()


def folder_of(top: Path, files: dict[str, str]) -> Path:
    """A folder with these files and words in them."""
    for name, words in files.items():
        file = top / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(words, encoding="utf-8")
    return top


def converted(folder: Path | str, out: Path, engine: Inline | None = None, **more: object) -> tuple[Run, Inline]:
    """A finished run, and the engine that did its work."""
    engine = engine or Inline()
    run = Run(Conversion(str(folder), out, **more), engine, lambda: 1, lambda *_: None, None)  # type: ignore[arg-type]
    run.run()
    return run, engine


def table(out: Path) -> list[dict[str, str]]:
    """The lines of drafts.csv."""
    with (out / "drafts.csv").open(encoding="utf-8", newline="") as f:
        return list(csv.DictReader(f))


def content(out: Path) -> dict[str, str]:
    """Every file of the drafts with its text, times left out; the journal is none of them."""
    found = {}
    for file in sorted(p for p in out.rglob("*") if p.is_file() and not p.name.startswith(".")):
        text = file.read_text(encoding="utf-8")
        if file.name.endswith(".record.json"):
            text = json.dumps({k: v for k, v in json.loads(text).items() if k != "drafted"})
        elif file.suffix == ".txt":
            text = "\n".join(line for line in text.splitlines() if "rafted" not in line)
        else:
            text = json.dumps([{k: v for k, v in row.items() if k != "seconds taken"} for row in table(out)])
        found[str(file.relative_to(out))] = text
    return found


def main(folder: str, out: str, workers: str = "1") -> None:
    """Convert, with so many processes or with the workers of a scheduler."""
    if "://" in workers:
        from dictate.bulk.cluster import Cluster

        cluster = Cluster(workers, ORDERS)
        Run(Conversion(folder, Path(out)), cluster, cluster.workers, lambda *_: None, None).run()
    else:
        count = int(workers)
        Run(Conversion(folder, Path(out)), Processes(count, ORDERS), lambda: count, lambda *_: None, None).run()


if __name__ == "__main__":
    main(*sys.argv[1:])
