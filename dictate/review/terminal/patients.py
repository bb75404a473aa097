"""The patient, field by field: Enter leaves a field as it is."""

from __future__ import annotations

from typing import Any

from dictate.exam.phrases import UNIT_SIGNS, measured
from dictate.exam.record import Patient, Quantity
from dictate.review.decisions import now
from dictate.review.entering import edit_patient
from dictate.review.terminal.desk import Desk

NOT_TOLD = "-"
CHOICES: dict[str, dict[str, Any]] = {
    "species": {"dog": "dog", "cat": "cat"},
    "sex": {"male": "male", "female": "female"},
    "neutered": {"yes": True, "no": False},
}
UNITS = {sign: code for code, sign in UNIT_SIGNS.items() if code in ("a", "mo", "wk", "d")}


def edit_the_patient(desk: Desk) -> bool:
    """Ask for every field of the patient and take the decision. False: given up, or nothing was changed."""
    stands = desk.record.patient
    desk.screen.show(f"Enter keeps a field, {NOT_TOLD} empties it, Escape leaves all as it is.", style="dim")
    fields: dict[str, Any] = {}
    for name in Patient.model_fields:
        typed = desk.screen.line(f"{name}: ", start=_text(name, getattr(stands, name)))
        while typed is not None and not _is_fit(name, typed):
            typed = desk.screen.line(f"{name} ({_wanted(name)}): ", start=typed)
        if typed is None:
            return False
        fields[name] = _value(name, typed)
    patient = Patient(**fields)
    if patient == stands:
        return False
    desk.take(edit_patient(patient, desk.lexicon, by=desk.by, time=now()))
    return True


def _text(name: str, value: Any) -> str:
    if value is None:
        return ""
    if name == "age":
        return measured(value.number, value.unit)
    return next((word for word, meant in CHOICES.get(name, {}).items() if meant == value), str(value))


def _wanted(name: str) -> str:
    return f"a number and {', '.join(UNITS)}" if name == "age" else " or ".join(CHOICES[name])


def _is_fit(name: str, typed: str) -> bool:
    if typed in ("", NOT_TOLD):
        return True
    if name == "age":
        return _age(typed) is not None
    return name not in CHOICES or typed.lower() in CHOICES[name]


def _value(name: str, typed: str) -> Any:
    if typed in ("", NOT_TOLD):
        return None
    if name == "age":
        return _age(typed)
    return CHOICES[name][typed.lower()] if name in CHOICES else typed


def _age(typed: str) -> Quantity | None:
    number, _, unit = typed.partition(" ")
    code = next((code for word, code in UNITS.items() if unit and word.startswith(unit.rstrip("s"))), None)
    try:
        return Quantity(number=float(number), unit=code) if code else None
    except ValueError:
        return None
