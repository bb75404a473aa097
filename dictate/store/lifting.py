"""The words of the talk lifted out of a record, so that they can be deleted with the sound and the rest stays whole.

Lifted are the whole talk, the quoted words behind observations and unplaced phrases, and words that were not sure. The
sections (history, plan ...) are the record itself and stay; so do words that a reviewer typed, and what a doubt asks.
In their place stands their hash, as in `dictate.exam.content.forget_words`. The lifted words carry a random salt.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from dataclasses import dataclass
from typing import Any

from dictate.store.canonical import canonical, sha256

SECTIONS = "other"


@dataclass(frozen=True, slots=True)
class Lifted:
    """`body`: canonical JSON without the words. `words`: canonical JSON of them, or "" where there were none.
    `words_hash`: the hash of `words`, or ""."""

    body: str
    words: str
    words_hash: str


def lift(data: Any) -> Lifted:
    """The JSON value of a record or a decision, taken apart; `join` puts it together again."""
    taken: dict[str, str] = {}
    body = canonical(_without(data, "", taken))
    if not taken:
        return Lifted(body, "", "")
    words = canonical({"salt": secrets.token_hex(16), "words": taken})
    return Lifted(body, words, sha256(words))


def join(body: str, words: str | None) -> Any:
    """The JSON value that was taken apart; without its words (None: they were deleted) as `forget_words` makes it."""
    data = json.loads(body)
    if words:
        _put_back(data, json.loads(words)["words"])
    return data


def _without(data: Any, path: str, taken: dict[str, str]) -> Any:
    if isinstance(data, list | tuple):
        return [_without(item, f"{path}/{i}", taken) for i, item in enumerate(data)]
    if not isinstance(data, dict):
        return data
    if _is_quote(data):
        taken[path] = data["text"]
        return {**data, "text": "", "deleted": hashlib.sha256(data["text"].encode()).hexdigest()}
    if _is_unheard(data) and data["text"]:
        taken[path] = data["text"]
        return {**data, "text": ""}
    made: dict[str, Any] = {}
    for key, value in data.items():
        if key == "talk" and isinstance(value, str) and not path:
            taken["/talk"] = value
            made[key] = None
        else:
            made[key] = value if key == SECTIONS and not path else _without(value, f"{path}/{key}", taken)
    return made


def _put_back(data: Any, taken: dict[str, str]) -> None:
    for at, text in taken.items():
        *way, last = at.split("/")[1:]
        part = data
        for step in way:
            part = part[int(step)] if isinstance(part, list) else part[step]
        if at == "/talk":
            part["talk"] = text
            continue
        quote = part[int(last)] if isinstance(part, list) else part[last]
        quote["text"] = text
        if "deleted" in quote:
            quote["deleted"] = None


def _is_quote(data: dict[str, Any]) -> bool:
    return "char_start" in data and isinstance(data.get("text"), str) and not data.get("by") and not data.get("deleted")


def _is_unheard(data: dict[str, Any]) -> bool:
    return data.keys() == {"start", "end", "kind", "text"}
