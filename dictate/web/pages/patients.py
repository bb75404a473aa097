"""A patient: who it is, its visits, and changes of its facts."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from starlette.responses import Response

from dictate import store
from dictate.errors import InputError
from dictate.store import Facts
from dictate.web.asking import Ask, Refused, go, show
from dictate.web.pages.days import read_day

NEUTERED = {"yes": True, "no": False}


def patient_page(ask: Ask) -> Response:
    return _patient(ask)


def add(ask: Ask) -> Response:
    new = store.add_patient(ask.house.store, read_facts(ask.sent), by=ask.who)
    return go(f"/patients/{new.id}", done="saved")


def change(ask: Ask) -> Response:
    """Other facts of the same patient, with the reason; signed records stay as they were signed."""
    version = ask.sent.get("version", "")
    if not version.isdigit():
        raise Refused("This form is not one of ours, or is out of date.")
    try:
        facts, why = read_facts(ask.sent), ask.sent.get("why", "")
        store.change_patient(ask.house.store, ask.number(), facts, by=ask.who, why=why, expected=int(version))
    except store.Conflict:
        raise
    except InputError as error:
        return _patient(ask, wrong=str(error))
    return go(f"/patients/{ask.number()}", done="saved")


def add_visit(ask: Ask) -> Response:
    day = read_day(ask.sent.get("day", "")) or date.today()
    told = {name: ask.sent.get(name, "") for name in ("time", "reason")}
    store.add_visit(ask.house.store, patient_id=ask.number(), day=day, by=ask.who, **told)
    return go(f"/patients/{ask.number()}", done="saved")


def read_facts(sent: Mapping[str, str]) -> Facts:
    """Who a patient is, as typed into a form. InputError for a birth date that is none."""
    born = sent.get("born", "").strip()
    if born and read_day(born) is None:
        raise InputError(f"“{born[:20]}” is no day; write it as 2019-05-31", where="birth date")
    names = ("name", "species", "breed", "sex", "practice_number", "microchip", "owner")
    return Facts(
        born=read_day(born),
        neutered=NEUTERED.get(sent.get("neutered", "")),
        **{name: sent.get(name, "") for name in names},
    )


def _patient(ask: Ask, wrong: str = "") -> Response:
    patient = store.patient(ask.house.store, ask.number())
    return show(
        ask,
        "patient.html",
        status=400 if wrong else 200,
        patient=patient,
        visits=store.visits_of(ask.house.store, patient.id),
        today=date.today(),
        wrong=wrong,
    )
