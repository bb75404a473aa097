"""Finding things again: by patient, day, site and finding."""

from __future__ import annotations

from starlette.responses import Response

from dictate import store
from dictate.web.asking import Ask, show
from dictate.web.pages.days import read_day
from dictate.web.pickers import name_lists

MOST_PATIENTS = 12
ASKED = ("patient", "since", "until", "site", "finding")


def find_page(ask: Ask) -> Response:
    asked = {name: ask.asked(name).strip() for name in ASKED}
    lexicon = ask.house.words.lexicon
    patients: tuple[store.Patient, ...] = ()
    found: store.Found | None = None
    if asked["patient"]:
        patients = store.find_patients(ask.house.store, asked["patient"], limit=MOST_PATIENTS)
    if any(asked.values()):
        found = store.search(
            ask.house.store,
            patient=asked["patient"],
            since=read_day(asked["since"]),
            until=read_day(asked["until"]),
            site=asked["site"],
            finding=asked["finding"],
            after=ask.asked("after"),
        )
    return show(
        ask,
        "find.html",
        asked=asked,
        patients=patients,
        found=found,
        name_lists=name_lists(lexicon),
    )
