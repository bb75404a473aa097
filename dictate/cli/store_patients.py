"""`dictate store`: patients."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from dictate import store as s
from dictate.cli.store_asking import acting, one_patient, opened
from dictate.errors import InputError
from dictate.store.texts import read_date

YES_NO = {"yes": True, "no": False}


def patients(options: Namespace) -> None:
    with opened(options) as store:
        for patient in s.find_patients(store, " ".join(options.words)):
            print(f"id:{patient.id} {patient}")


def add_patient(options: Namespace) -> None:
    with opened(options) as store:
        new = s.add_patient(store, s.Facts(name=options.name, **_told(options)), by=s.PROGRAM)
        print(f"id:{new.id} {new}")


def change_patient(options: Namespace) -> None:
    with opened(options) as store:
        was = one_patient(store, options.patient)
        told = _told(options) | ({"name": options.name} if options.name else {})
        if not told:
            raise InputError("say what is to be changed", where=options.patient)
        by = acting(store, options)
        facts = replace(was.facts, **told)
        new = s.change_patient(store, was.id, facts, by=by, why=options.why, expected=was.version)
        print(f"id:{new.id} {new}")


def _told(options: Namespace) -> dict[str, Any]:
    names = {"number": "practice_number"}
    plain = ("species", "breed", "sex", "number", "microchip", "owner")
    told: dict[str, Any] = {names.get(n, n): getattr(options, n) for n in plain if getattr(options, n) is not None}
    if options.neutered is not None:
        if options.neutered not in YES_NO:
            raise InputError(f"{options.neutered!r} is neither yes nor no", where="--neutered")
        told["neutered"] = YES_NO[options.neutered]
    if options.born is not None:
        told["born"] = read_date(options.born, what="--born")
    return told


PATIENT_PARTS: dict[str, Callable[[Namespace], None]] = {
    "patients": patients,
    "add-patient": add_patient,
    "change-patient": change_patient,
}
