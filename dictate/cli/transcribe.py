"""`dictate transcribe`: the words of each sound file."""

from __future__ import annotations

import json
from argparse import Namespace
from pathlib import Path
from typing import Any

from dictate.cli.batch import Within, run_over
from dictate.cli.steps import listener
from dictate.draft import is_text
from dictate.errors import InputError
from dictate.files import check_writable, find_place, write


def run(options: Namespace) -> int:
    """Write NAME.words.json for every file into the folder; the exit status."""
    check_writable(options.out)

    def work(file: Path, within: Within) -> str:
        from dictate.speech import words_json

        if is_text(file):
            raise InputError("this is a text and has no sound to write down", where=str(file))
        transcript = listener(options.model, plain=options.plain, quick=options.quick, within=within)(file)
        place = find_place(
            options.out,
            file.stem,
            transcript.source_hash,
            ending=".words.json",
            hash_of=source_hash,
            may_replace=lambda _: True,
        )
        write(place.file(".words.json"), json.dumps(words_json(transcript), indent=1, ensure_ascii=False) + "\n")
        return place.note

    return run_over(options.files, work)


def source_hash(data: Any) -> str | None:
    """The hash of the sound that written words are of; None where the file holds no such words."""
    return data.get("source_hash") if isinstance(data, dict) else None
