"""Results kept, so that drafting again with a better lexicon costs no recognition.

A file is keyed by the sound's hash and by everything that decides about the words. It carries a sum of its own: one
that is damaged is passed over and written anew. The folder is open to its owner alone.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Collection, Mapping
from datetime import datetime
from pathlib import Path

from dictate.errors import InputError
from dictate.speech.files import private_folder, write_whole
from dictate.speech.wordfile import transcript_of_json, words_json
from dictate.speech.words import Transcript


def cache_file(folder: Path, source_hash: str, settings: Mapping[str, str]) -> Path:
    """Where the words of this sound under these settings lie."""
    key = json.dumps([source_hash, dict(sorted(settings.items()))], ensure_ascii=True)
    digest = hashlib.sha256(key.encode()).hexdigest()
    return folder / "words" / digest[:2] / f"{digest}.json"


def _sum(body: str) -> str:
    return hashlib.sha256(body.encode()).hexdigest()


def kept_transcript(path: Path, source_hash: str) -> Transcript | None:
    """The transcript in a cache file, or None where there is none, or none that can be trusted."""
    try:
        value = json.loads(path.read_bytes())
        if value["sum"] != _sum(json.dumps(value["transcript"], ensure_ascii=True, sort_keys=True)):
            return None
        found = transcript_of_json(value["transcript"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError, InputError):
        return None
    return found if found.source_hash == source_hash else None


def keep_transcript(path: Path, transcript: Transcript) -> None:
    """Write a cache file whole or not at all. A cache that cannot be written is no reason to fail: nothing is said."""
    body = words_json(transcript)
    total = _sum(json.dumps(body, ensure_ascii=True, sort_keys=True))
    with contextlib.suppress(OSError):
        private_folder(path.parent)
        write_whole(path, json.dumps({"sum": total, "transcript": body}, ensure_ascii=False).encode())


def forget(folder: Path, source_hashes: Collection[str], *, older_than: datetime | None = None) -> int:
    """Delete what the cache holds of these sounds, and all that was written before `older_than`; how many files.

    A file that is damaged names no sound: it is of no use and goes too. Raises OSError where a file cannot be deleted.
    """
    gone = 0
    wanted = tuple(h.encode() for h in source_hashes)
    for path in sorted((folder / "words").glob("??/*.json")):
        old = older_than is not None and path.stat().st_mtime < older_than.timestamp()
        if old or _is_of(path.read_bytes(), wanted):
            path.unlink()
            gone += 1
    return gone


def _is_of(content: bytes, hashes: tuple[bytes, ...]) -> bool:
    return b'"source_hash"' not in content or any(h in content for h in hashes)
