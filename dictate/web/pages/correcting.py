"""Answers that need typing: corrections in words or fields, placing a phrase, adding, removing, patient, sections."""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

from starlette.responses import Response

from dictate import store
from dictate.errors import InputError
from dictate.exam.record import Evidence, Observation, Patient, Quantity, Unplaced
from dictate.exam.statements import Section
from dictate.review import Add, EditSection, Place, Remove, Replace, edit_patient, read_words, typed
from dictate.review.decisions import now
from dictate.store import Working
from dictate.store.patients import SEXES, SPECIES
from dictate.web.asking import Ask, Refused, own_address
from dictate.web.editing import made_of, phrase_key, read_fields
from dictate.web.pages.settling import enter, meanwhile

LONGEST_WORDS = 2000
SECTIONS: tuple[str, ...] = get_args(Section)


def correct(ask: Ask) -> Response:
    """Observations become what the reviewer typed: words, read as the talk is read, or fields."""
    working = store.working(ask.house.store, ask.number())
    ids = ask.many.get("ids", ())
    was = [o for o in working.record.observations if o.id in ids]
    if not was or len(was) != len(ids):
        return meanwhile(ask, working, None)
    words = _words(ask)
    if words:
        spoken = tuple(dict.fromkeys(e for o in was for e in o.evidence if e.by is None))
        becomes = _read(ask, working, words, spoken)
    else:
        becomes = made_of(read_fields(ask.sent, ask.many), ask.house.words.lexicon, by=ask.who.name, was=was)
    made = Replace(by=ask.who.name, time=now(), observations=tuple(ids), becomes=becomes, words=words)
    return enter(ask, [made], back=_back(ask), done="saved")


def place(ask: Ask) -> Response:
    """An unplaced phrase becomes observations of the site that was picked, or of what was typed in words."""
    working = store.working(ask.house.store, ask.number())
    phrase = _phrase(working.record.unplaced, ask.sent.get("phrase", ""))
    if phrase is None:
        return meanwhile(ask, working, None)
    words = _words(ask)
    if words:
        placed = _read(ask, working, words, (phrase,))
    else:
        fields = read_fields(ask.sent, ask.many)
        placed = made_of(fields, ask.house.words.lexicon, by=ask.who.name, evidence=(phrase,))
    made = Place(by=ask.who.name, time=now(), phrase=phrase, observations=placed, words=words)
    return enter(ask, [made], back=_back(ask), done="saved")


def add(ask: Ask) -> Response:
    """What the draft lacks; also the mark of a site that nobody spoke of. Both sides are two observations."""
    words = _words(ask)
    if words:
        added = _of_site(ask, store.working(ask.house.store, ask.number()), words, ask.sent.get("chosen", ""))
    else:
        added = made_of(read_fields(ask.sent, ask.many), ask.house.words.lexicon, by=ask.who.name)
    made = [Add(by=ask.who.name, time=now(), observation=o) for o in added]
    return enter(ask, list(made), back=_back(ask), done="marked")


def remove(ask: Ask) -> Response:
    working = store.working(ask.house.store, ask.number())
    ids = ask.many.get("ids", ())
    if not any(o.id in ids for o in working.record.observations):
        return meanwhile(ask, working, None)
    return enter(ask, [Remove(by=ask.who.name, time=now(), observations=ids)], back=_back(ask), done="saved")


def patient(ask: Ask) -> Response:
    """What the record tells of the patient. Whose visit it is, is another thing: see `visits.assign`."""
    sent = {name: " ".join(ask.sent.get(name, "").split())[:80] for name in ("name", "species", "breed", "sex")}
    if sent["species"] not in ("", *SPECIES) or sent["sex"] not in ("", *SEXES):
        raise Refused("There is no such species or sex to choose.")
    told = Patient(
        **{name: value or None for name, value in sent.items()},  # type: ignore[arg-type]
        neutered={"yes": True, "no": False}.get(ask.sent.get("neutered", "")),
        age=_age(ask.sent.get("age", ""), ask.sent.get("age_unit", "a")),
    )
    made = edit_patient(told, ask.house.words.lexicon, by=ask.who.name, time=now())
    return enter(ask, [made], back=_back(ask), done="saved")


def section(ask: Ask) -> Response:
    """All parts of a section as they shall stand, a line each; what was spoken and is left as it was stays spoken."""
    working = store.working(ask.house.store, ask.number())
    name = ask.sent.get("section", "")
    if name not in SECTIONS:
        raise Refused("There is no such section.")
    stood = {" ".join(e.text.split()): e for e in getattr(working.record.other, name)}
    lines = [" ".join(line.split())[:LONGEST_WORDS] for line in ask.sent.get("text", "").split("\n")]
    parts = tuple(stood.get(line) or typed(line, ask.who.name) for line in lines if line)
    made = EditSection(by=ask.who.name, time=now(), section=name, parts=parts)  # type: ignore[arg-type]
    return enter(ask, [made], back=_back(ask), done="saved")


def _phrase(unplaced: Sequence[Unplaced], key: str) -> Unplaced | None:
    return next((phrase for phrase in unplaced if phrase_key(phrase) == key), None)


def _words(ask: Ask) -> str:
    return " ".join(ask.sent.get("words", "").split())[:LONGEST_WORDS] if "by_words" in ask.sent else ""


def _read(ask: Ask, working: Working, words: str, evidence: tuple[Evidence, ...]) -> tuple[Observation, ...]:
    own = ask.house.words
    found = read_words(words, working.record, own.lexicon, own.read, by=ask.who.name, evidence=evidence)
    if not found:
        raise InputError("no finding could be read in these words; use the fields instead", where=f"“{words[:80]}”")
    return found


def _of_site(ask: Ask, working: Working, words: str, site: str) -> tuple[Observation, ...]:
    """The observations in these words. Where they were given for one site and tell nothing of it, its name is put
    before them: whoever chose the site need not say it again."""
    named = any(s.site == site for s in ask.house.words.lexicon.sites)
    try:
        found = _read(ask, working, words, ())
    except InputError:
        if not named:
            raise
        found = ()
    if not named or any(o.site == site for o in found):
        return found
    return _read(ask, working, f"{site}: {words}", ())


def _age(text: str, unit: str) -> Quantity | None:
    text = text.strip().replace(",", ".")
    if not text:
        return None
    try:
        number = float(text)
    except ValueError:
        number = -1.0
    if not 0 <= number < 1000 or unit not in ("a", "mo", "wk", "d"):
        raise InputError(f"“{text[:20]}” is no age", where="age")
    return Quantity(number=number, unit=unit)


def _back(ask: Ask) -> str:
    return own_address(ask.sent.get("back", f"/visits/{ask.number()}/whole"))
