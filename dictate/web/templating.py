"""How our templates are read, and the few words and functions that every one of them may use."""

from __future__ import annotations

from datetime import date, datetime

from jinja2 import Environment, PackageLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from dictate.exam.phrases import at, cautions, measured, quoted, sentence
from dictate.exam.record import Patient
from dictate.review import Decision, untold
from dictate.review.choices import measure
from dictate.store import Visit
from dictate.store.patients import SEXES, SPECIES
from dictate.web.routes import pages_of
from dictate.web.statics import address_of

STATUS = {
    "planned": "planned",
    "joined": "planned, joined with its draft",
    "preliminary": "draft, not signed",
    "final": "signed",
    "amended": "signed, amended",
    "entered-in-error": "entered in error",
}


def make_templates() -> Environment:
    """Every value is escaped, and a name that a page was not given is a fault, not an empty place."""
    environment = Environment(
        loader=PackageLoader("dictate.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(
        cautions=cautions(),
        file=address_of,
        pages=pages_of,
        token=_token,
        species_names=SPECIES,
        sex_names=SEXES,
        undo_words=decision_text,
        patient_words=patient_text,
        visit_name=visit_text,
    )
    environment.filters.update(
        at=at,
        choice=choice_text,
        day=day_text,
        moment=moment_text,
        sentence=sentence,
        quoted=quoted,
        status=lambda s: STATUS.get(s, s),
    )
    return environment


@pass_context
def _token(context: Context) -> Markup:
    """The hidden field that proves that a form came from a page of ours."""
    return Markup('<input type="hidden" name="form_token" value="{}">').format(context["form_token"])


def decision_text(decision: Decision) -> str:
    """What a person decided, in a few words."""
    match decision.kind:
        case "settle":
            return f"{decision.doubt.kind}: {choice_text(decision.choice)}"
        case "cannot tell":
            return untold(decision.doubt)
        case "place":
            return "placed: " + ", ".join(dict.fromkeys(o.site for o in decision.observations))
        case "place in section":
            return f"kept in {decision.section}"
        case "add":
            return f"added: {decision.observation.site}"
        case "replace":
            return "corrected: " + (", ".join(dict.fromkeys(o.site for o in decision.becomes)) or "taken out")
        case "remove":
            return "not a finding"
        case "dismiss":
            return "dismissed"
        case _:
            return decision.kind


def patient_text(patient: Patient) -> str:
    """What a record tells of its patient, in a line."""
    neutered = {True: "neutered", False: "not neutered", None: None}[patient.neutered]
    age = measured(patient.age.number, patient.age.unit) if patient.age else None
    parts = (patient.name, patient.species, patient.breed, patient.sex, neutered, age)
    return ", ".join(part for part in parts if part) or "Nothing was told."


def visit_text(visit: Visit) -> str:
    """What a visit is called in a list: its patient, else the name in its talk and the file it was drafted from."""
    if visit.patient is not None:
        return visit.patient.facts.name
    return f"{visit.told_name or 'no name'} ({visit.source})" if visit.source else "no patient yet"


def choice_text(label: str) -> str:
    """A choice as people write it: of a value its unit's sign instead of its code ("38.4 °C")."""
    value = measure(label)
    return measured(value.number, value.unit, value.comparator) if value and value.unit else label


def day_text(day: date) -> str:
    """A day as people write it, without doubt about month and day: Mon 4 May 2026."""
    return f"{day:%a} {day.day} {day:%b %Y}"


def moment_text(time: datetime) -> str:
    """A moment in the machine's own time zone: 4 May 2026, 14:05."""
    local = time.astimezone()
    return f"{local.day} {local:%b %Y, %H:%M}"
