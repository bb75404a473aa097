"""Explanations of a record's terms in plain words, from the lexicon."""

from __future__ import annotations

from dictate.exam.record import Observation, Record
from dictate.lexicon.tables import Lexicon


def explanation(o: Observation, record: Record, lexicon: Lexicon) -> tuple[str, ...]:
    """The terms of an observation with what they mean, where they are not plain words already."""
    plain: dict[tuple[str, str], str] = {(row.kind, row.name): row.plain for row in lexicon.plain_words}
    terms = [(o.site, plain.get(("site", o.site))), (o.finding, plain.get(("finding", o.finding or "")))]
    terms += [(f"tooth {number}", name) for number, name in teeth(o, record, lexicon)]
    return tuple(f"{term}: {meaning}" for term, meaning in terms if meaning)


def plain_site(site: str, lexicon: Lexicon) -> str:
    """The site in plain words; its own name where that is a plain word."""
    plain: dict[str, str] = {row.name: row.plain for row in lexicon.plain_words if row.kind == "site"}
    return plain.get(site) or site


def teeth(o: Observation, record: Record, lexicon: Lexicon) -> list[tuple[str, str]]:
    """Number and plain name of the teeth that an observation names by number, as the patient's species has them."""
    told = o.qualifiers.get("tooth")
    numbers = {str(n) for n in told} if isinstance(told, tuple) else {str(told)}
    named = [t for t in lexicon.teeth if t.tooth in numbers and t.species == record.patient.species]
    words: dict[str, str] = {row.name: row.plain for row in lexicon.plain_words if row.kind == "word"}
    return [(t.tooth, " ".join(words.get(word, word) for word in t.name.split())) for t in named]
