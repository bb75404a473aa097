"""`dictate transcribe`: the words of each sound file."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from dictate.cli.batch import Within, run_over
from dictate.cli.steps import listener
from dictate.draft import is_text
from dictate.errors import InputError
from dictate.exam.hearing import Hearing
from dictate.files import check_writable, find_place, write
from dictate.lexicon import Lexicon, load
from dictate.speech.words import Transcript

UNSURE = 0.5


def run(options: Namespace) -> int:
    """Write NAME.words.json for every file into the folder, and print what was put right; the exit status."""
    lexicon = load(options.lexicon)
    check_writable(options.out)

    def work(file: Path, within: Within) -> str:
        from dictate.speech import words_json

        if is_text(file):
            raise InputError("this is a text and has no sound to write down", where=str(file))
        listen = listener(options.model, plain=options.plain, way=options.way, lexicon=options.lexicon, within=within)
        transcript = listen(file)
        place = find_place(
            options.out,
            file.stem,
            transcript.source_hash,
            ending=".words.json",
            hash_of=source_hash,
            may_replace=lambda _: True,
        )
        write(place.file(".words.json"), json.dumps(words_json(transcript), indent=1, ensure_ascii=False) + "\n")
        print("\n".join([told(file.name, transcript), *put_right(transcript, lexicon)]))
        if options.readings:
            print("\n".join(other_readings(transcript)))
        return place.note

    return run_over(options.files, work)


def told(name: str, transcript: Transcript) -> str:
    """One line for a file: its length and words, and how many of them were heard unsurely."""
    seconds = transcript.sound.seconds if transcript.sound else 0.0
    unsure = sum(word.probability < UNSURE for word in transcript.words)
    return f"{name}: {clock(seconds)} min, {len(transcript.words)} words, {unsure} of them below {UNSURE:g}"


def put_right(transcript: Transcript, lexicon: Lexicon) -> Iterator[str]:
    """What was heard first and what it is read as: by the sound, then by likeness to words of the lexicon."""
    from dictate.language.marking import vocabulary
    from dictate.language.pipeline import is_english
    from dictate.language.repair import repair
    from dictate.language.step import unsure_words

    rows = [(w.start, w.heard, w.text, f"by the sound, {w.probability:.2f}") for w in transcript.words if w.heard]
    repaired = repair(transcript.text, vocabulary(lexicon), known=is_english, unsure=unsure_words(transcript))
    hearing = Hearing(transcript.words)
    for change in repaired.changes:
        start = hearing.seconds(change.start, change.end)[0] or 0.0
        rows.append((start, change.heard, change.meant, f"by likeness ({change.how}), {change.sure:.2f}"))
    for start, was, meant, how in sorted(rows):
        yield f"  {clock(start):>6}  “{was}” is read as “{meant}” ({how})"


def other_readings(transcript: Transcript) -> Iterator[str]:
    """Words that may be others, with the probability of each."""
    for word in transcript.words:
        if word.readings:
            others = "; ".join(f"or “{r.text}” {r.probability:.2f}" for r in word.readings)
            yield f"  {clock(word.start):>6}  “{word.text}” {word.probability:.2f}; {others}"


def clock(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02}"


def source_hash(data: Any) -> str | None:
    """The hash of the sound that written words are of; None where the file holds no such words."""
    return data.get("source_hash") if isinstance(data, dict) else None
