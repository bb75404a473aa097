"""Sites, teeth and digits that this patient's species or sex does not have are doubted."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from dictate.exam.context import Context, tooth_numbers
from dictate.exam.statements import Doubt, PatientTold, Statement
from dictate.lexicon.tables import Site

NOT_OF_PATIENT = "not of this patient"


def doubt_anatomy(statements: tuple[Statement, ...], context: Context) -> tuple[Statement, ...]:
    """The same statements; one about a part that the patient cannot have carries a doubt that says so."""
    checked = []
    for statement in statements:
        doubts = tuple(d for d in _doubts(statement, context) if d not in statement.doubts)
        checked.append(replace(statement, doubts=(*statement.doubts, *doubts)) if doubts else statement)
    return tuple(checked)


def applies(site: Site, patient: PatientTold) -> bool:
    """Whether the patient, as far as it is known, may have the site. What was not told rules nothing out."""
    told = {"male": patient.sex, "female": patient.sex, "dog": patient.species, "cat": patient.species}
    return all(told.get(word) in (None, word) for word in site.applies_to)


def _doubts(statement: Statement, context: Context) -> Iterator[Doubt]:
    site = context.sites.get(statement.site)
    patient = context.patient
    if site is not None and not applies(site, patient):
        who = " ".join(w for w in (patient.sex, patient.species or "patient") if w)
        message = f"A {who} has no {site.site}: the site or the patient may be misheard."
        yield Doubt(NOT_OF_PATIENT, message, ("another site", "another sex or species", "as said"))
    for number in tooth_numbers(statement):
        if not tooth_exists(number, context):
            who = f"A {patient.species} has no" if patient.species else "Neither a dog nor a cat has a"
            yield Doubt(NOT_OF_PATIENT, f"{who} tooth {number}.", ("another tooth", "as said"))
    most = context.fact(
        "front digits"
    )  # hind digits are counted as the front ones are, whether or not the first is there
    for digit in re.findall(r"\d+", str(statement.qualifiers.get("digit", ""))):
        if most is not None and not 1 <= int(digit) <= most:
            message = f"There is no digit {digit}: digits are counted from 1 (dewclaw) to {most:g}."
            yield Doubt(NOT_OF_PATIENT, message, ("another digit", "as said"))


def tooth_exists(number: str, context: Context) -> bool:
    """Whether the table of teeth has this modified Triadan number for the patient's species (any, where unknown)."""
    species = context.patient.species
    teeth = {t.tooth for t in context.lexicon.teeth if species in (None, t.species)}
    return not teeth or number in teeth
