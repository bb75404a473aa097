"""A patient's last visit beside the earlier ones: values as small charts, and what became of each finding."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from dictate import store
from dictate.exam.phrases import told
from dictate.review import STATES, Change, compare
from dictate.web.asking import Ask, show
from dictate.web.chart import Chart, chart

NEWEST = 24  # visits that are compared at once; a millisecond or two each, and few people look back further


@dataclass(frozen=True, slots=True)
class Changed:
    """One finding now and before, in words."""

    state: str
    name: str
    now: str
    before: str
    last: str


def compare_page(ask: Ask) -> Response:
    patient = store.patient(ask.house.store, ask.number())
    everything = ask.asked("visits") == "all"
    records = store.patient_records(ask.house.store, patient.id, newest=None if everything else NEWEST + 1)
    older = not everything and len(records) > NEWEST
    comparison = compare(records[1:] if older else records, ask.house.words.lexicon)
    charts: list[Chart] = [chart(series) for series in comparison.series]
    return show(
        ask,
        "compare.html",
        patient=patient,
        times=comparison.times,
        charts=charts,
        undated=comparison.undated,
        older=older,
        states=STATES,
        changes=[_changed(change) for change in comparison.changes],
    )


def _changed(change: Change) -> Changed:
    return Changed(
        state=change.state,
        name=f"{change.site}, {change.side}" if change.side else change.site,
        now=told(change.now) if change.now else "",
        before=told(change.before) if change.before else "",
        last=f"{change.last:%Y-%m-%d}" if change.last else "",
    )
