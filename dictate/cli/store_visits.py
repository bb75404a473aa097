"""`dictate store`: visits, the day list, and finding things again."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable
from datetime import date

from dictate import store as s
from dictate.cli.store_asking import acting, ask, one_patient, opened
from dictate.store.texts import read_date
from dictate.textfile import read_bytes


def day(options: Namespace) -> None:
    when = read_date(options.date, what="day") if options.date else date.today()
    with opened(options) as store:
        for visit in s.day_list(store, when):
            print(line(visit))


def import_day_list(options: Namespace) -> None:
    content = read_bytes(options.file)
    with opened(options) as store:
        done = s.import_day_list(store, content, by=s.PROGRAM)
    print(done)
    for told in done.notes:
        print(told)


def waiting(options: Namespace) -> None:
    with opened(options) as store:
        for visit in s.waiting(store, limit=options.limit):
            print(f"{line(visit)}; {visit.open_doubts} doubts, {visit.unplaced} phrases not placed")


def visits(options: Namespace) -> None:
    with opened(options) as store:
        patient = one_patient(store, options.patient)
        print(f"id:{patient.id} {patient}")
        for visit in s.visits_of(store, patient.id):
            print(line(visit))


def visit(options: Namespace) -> None:
    with opened(options) as store:
        at = s.visit(store, options.visit)
        print(line(at))
        if at.patient:
            print(f"patient: id:{at.patient.id} {at.patient}")
        for other in s.namesakes(store, at.id):
            print(f"of the same name on this day: {line(other)} ({other.patient})")
        answer = s.consent(store, at.id)
        print(f"consent to record: {'not asked' if answer is None else 'given' if answer else 'refused'}")
        for step in s.history(store, at.id):
            why = f" ({step.why})" if step.why else ""
            print(f"{step.number:>7} {step.at.astimezone():%Y-%m-%d %H:%M} {step.by}: {step.what}{why}")


def consent(options: Namespace) -> None:
    with opened(options) as store:
        by = acting(store, options)
        s.set_consent(store, options.visit, options.answer == "given", by=by, why=options.why)
        print(f"visit {options.visit}: consent {options.answer}")


def tell_patient(options: Namespace) -> None:
    with opened(options) as store:
        to, at = one_patient(store, options.patient), s.visit(store, options.visit)
        by = acting(store, options)
        print(line(s.assign_patient(store, at.id, to.id, by=by, why=options.why, expected=at.version)))


def join_planned(options: Namespace) -> None:
    with opened(options) as store:
        at = s.visit(store, options.visit)
        by = acting(store, options)
        print(line(s.join_planned(store, at.id, options.planned, by=by, expected=at.version)))


def move_visit(options: Namespace) -> None:
    with opened(options) as store:
        to, at = one_patient(store, options.patient), s.visit(store, options.visit)
        by = acting(store, options)
        print(f"from {at.patient}\nto   {to}")
        secret = ask(f"password or PIN of {by.name}, to sign the move")
        print(line(s.move_visit(store, at.id, to.id, by=by, secret=secret, why=options.why, expected=at.version)))


def search(options: Namespace) -> None:
    since = read_date(options.since, what="--since") if options.since else None
    until = read_date(options.until, what="--until") if options.until else None
    with opened(options) as store:
        asked = {"patient": options.patient, "site": options.site, "finding": options.finding}
        found = s.search(store, since=since, until=until, limit=options.limit, **asked)
    for hit in found.hits:
        print(line(hit.visit))
        for told in hit.told:
            print(f"        {told}")
    if found.next:
        print("there are more; narrow it down or raise --limit")


def line(visit: s.Visit) -> str:
    """A visit on one line."""
    number = (
        f" ({visit.patient.facts.practice_number})" if visit.patient and visit.patient.facts.practice_number else ""
    )
    name = f"{visit.patient.facts.name}{number}" if visit.patient else "patient not told"
    return (
        f"{visit.id:>6} {visit.date} {visit.time or '--:--'} {name}, {visit.reason or 'no reason told'}: {visit.status}"
    )


VISIT_PARTS: dict[str, Callable[[Namespace], None]] = {
    "day": day,
    "import-day-list": import_day_list,
    "waiting": waiting,
    "visits": visits,
    "visit": visit,
    "consent": consent,
    "tell-patient": tell_patient,
    "join-planned": join_planned,
    "move-visit": move_visit,
    "search": search,
}
