"""Who is examined, from the practice's day list: a CSV file, or a visit of the store."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

from dictate.errors import InputError

YES_NO = {"yes": True, "no": False, "true": True, "false": False, "1": True, "0": False}
TOLD = {"species": ("dog", "cat"), "sex": ("male", "female")}


def from_day_list(file: Path, words: str) -> dict[str, Any]:
    """The patient of the one row that fits `words` (its number, or all letters of its name), as an event tells it.

    The file is one that `dictate store import-day-list` reads: the columns `date` and `patient` and others beside.

    Raises:
        InputError: it cannot be read, has no such column, or not exactly one row fits.
    """
    try:
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"cannot be read ({getattr(error, 'strerror', None) or error})", where=str(file)) from None
    first = text.partition("\n")[0]
    mark = max(",;\t", key=first.count)
    rows = [{(k or "").strip().lower(): (v or "").strip() for k, v in row.items() if isinstance(v, str)}
            for row in csv.DictReader(io.StringIO(text), delimiter=mark)]  # fmt: skip
    if not rows or "patient" not in rows[0]:
        raise InputError("is no day list: a column `patient` and a row are needed", where=str(file))
    wanted = words.casefold().strip()
    fit = [r for r in rows if wanted and wanted in (r.get("number", "").casefold(), r["patient"].casefold())]
    fit = fit or [r for r in rows if wanted in r["patient"].casefold()]
    if len(fit) != 1:
        names = ", ".join(
            f"{r.get('time', '')} {r['patient']} {r.get('number', '')}".strip() for r in (fit or rows)[:9]
        )
        what = "several rows fit" if fit else "no row fits"
        raise InputError(f"{what} {words!r}; there are: {names}. Say which with --patient", where=str(file))
    return told_of(fit[0])


def told_of(row: dict[str, str]) -> dict[str, Any]:
    """What an event keeps of a row: the patient, reason and clinician; empty cells and unknown words are left out."""
    patient: dict[str, Any] = {"name": row["patient"]}
    for column, allowed in TOLD.items():
        if (cell := row.get(column, "").lower()) in allowed:
            patient[column] = cell
    if row.get("breed"):
        patient["breed"] = row["breed"]
    if row.get("neutered", "").lower() in YES_NO:
        patient["neutered"] = YES_NO[row["neutered"].lower()]
    told: dict[str, Any] = {"patient": patient}
    return told | {name: row[name] for name in ("reason", "clinician") if row.get(name)}


def from_visit(visit: Any) -> dict[str, Any]:
    """The same of a visit of the store (`dictate.store.Visit`)."""
    told: dict[str, Any] = {"visit": visit.id}
    if visit.patient is not None:
        f = visit.patient.facts
        pairs = {"name": f.name, "species": f.species, "breed": f.breed, "sex": f.sex, "neutered": f.neutered}
        told["patient"] = {k: v for k, v in pairs.items() if v not in ("", None)}
    return told | {n: v for n, v in (("reason", visit.reason), ("clinician", visit.clinician)) if v}
