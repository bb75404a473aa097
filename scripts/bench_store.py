"""How long the store takes: verifying signed records, and finding visits again.

    python scripts/bench_store.py                       10,000 visits, each with a signed record
    python scripts/bench_store.py --visits 100000       the larger one (builds for a while, some 6 GB)
    python scripts/bench_store.py --postgresql URL      the same on an empty PostgreSQL database
    python scripts/bench_store.py --keep FOLDER         build into FOLDER, or measure the store that is there already

Each visit has one of 400 records by lot: 45 observations with their words, a draft, and four decisions.
Verifying is told in seconds and as a ratio to reading and hashing every row of the same file with the standard library
alone. Each search is the median and the slowest of 25 with other names and days. Beside the time on the clock stands
the processor's: on a busy machine only that one tells something.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import resource
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, func, select

from dictate import store as s
from dictate.exam.content import content_hash
from dictate.exam.record import Coverage, Doubt, Evidence, MadeBy, Observation, Patient, Record, Signature, Source
from dictate.lexicon import load
from dictate.review import Settle
from dictate.store.canonical import canonical, sha256
from dictate.store.chain import Head, Writer, entry_hash, row_hash
from dictate.store.keeping import record_data
from dictate.store.lifting import lift
from dictate.store.listing import listing_hash, rows_of
from dictate.store.patients import patient_now_row
from dictate.store.tables import (
    chain,
    decisions,
    drafts,
    meta,
    patient_now,
    patient_states,
    record_sites,
    recordings,
    records,
    visit_now,
    visit_states,
    words,
)
from dictate.store.tables import patients as patient_table
from dictate.store.tables import visits as visits_table

FIRST_NAMES = ("Bramble", "Burdock", "Sorrel", "Teasel", "Clover", "Yarrow", "Tansy", "Fennel", "Rush", "Vetch")
OWNERS = ("Saltern", "Marram", "Fenwick", "Holm", "Creek", "Dyke", "Wharf", "Slade", "Tarn", "Weir", "Mere", "Strand")
ROUNDS = 25
DAYS = 1500
EXAMS = 400  # different ones; each visit has one of them


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--visits", type=int, default=10_000, help="how many visits, each with a signed record")
    parser.add_argument("--postgresql", metavar="URL", help="an empty database instead of a file")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="where the store is built or lies already")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = options.keep or Path(temporary) / "store"
        place = f"{options.postgresql}?sound={folder / 'sound'}" if options.postgresql else str(folder)
        there = not options.postgresql and (folder / "store.db").exists()
        with s.open_store(place) if there else s.make_store(place) as store:
            if not there:
                build(store, options.visits)
            verifying(store)
            finding(store)


class Bulk(Writer):
    """A writer that collects its rows and writes them many at a time: the same rows and entries, sooner."""

    def __init__(self, connection: Connection) -> None:
        super().__init__(connection, by_id=0, at=datetime(2026, 5, 4, tzinfo=UTC))
        self.rows: dict[str, list[dict[str, Any]]] = {}
        self.ids: dict[str, int] = {}

    def add(self, table: Table, *, why: str = "", **values: Any) -> int:
        row_id = self.ids[table.name] = self.ids.get(table.name, self._last(table)) + 1
        row = {"id": row_id, **values}
        self.keep(table, row)
        entry = {"number": self.head.number + 1, "at": self.at, "by_id": 0, "why": why, "table_name": table.name}
        entry |= {"row_id": row_id, "row_hash": row_hash(table.name, row), "previous": self.head.hash}
        entry["hash"] = entry_hash(entry)
        self.keep(chain, entry)
        self.head = Head(self.head.number + 1, entry["hash"])
        return row_id

    def keep(self, table: Table, row: dict[str, Any]) -> None:
        self.rows.setdefault(table.name, []).append(row)

    def write(self) -> None:
        for table in meta.sorted_tables:
            if rows := self.rows.get(table.name):
                self.connection.execute(table.insert(), rows)

    def _last(self, table: Table) -> int:
        return self.connection.execute(select(func.max(table.c.id))).scalar() or 0


@dataclass(frozen=True)
class Exam:
    """A record as it is kept, before and after it was signed: bodies, words, lines."""

    draft: str
    signed: str
    words: dict[str, str]
    decisions: tuple[str, ...]
    lines: tuple[dict[str, Any], ...]
    over: str


def build(store: s.Store, visits: int) -> None:
    """Fill the store, a thousand visits a transaction."""
    draw = random.Random(7)
    exams = [exam_of(record) for record in records_by_lot(draw, EXAMS)]
    begun = time.perf_counter()
    patients: list[int] = []
    for start in range(0, visits, 1000):
        with store.changing() as connection:
            writer = Bulk(connection)
            for number in range(start, min(start + 1000, visits)):
                if number % 3 == 0:
                    patients.append(one_patient(writer, draw, number))
                one_visit(writer, draw, draw.choice(patients), number, draw.choice(exams))
            writer.write()
    took = time.perf_counter() - begun
    print(f"built {visits:,} visits in {took:.0f} s")


def one_patient(writer: Bulk, draw: random.Random, number: int) -> int:
    name, owner = draw.choice(FIRST_NAMES), f"{draw.choice('ABCDEFGH')}. {draw.choice(OWNERS)}"
    facts = s.Facts(name=name, species="dog", practice_number=str(1000 + number), owner=owner)
    row = {f.name: getattr(facts, f.name) for f in fields(s.Facts)} | {"neutered": "", "born": ""}
    patient = writer.add(patient_table, made=writer.at)
    writer.add(patient_states, patient_id=patient, version=1, **row)
    writer.keep(patient_now, patient_now_row(patient, 1, facts))
    return patient


def one_visit(writer: Bulk, draw: random.Random, patient: int, number: int, exam: Exam) -> None:
    day = (date(2022, 1, 1) + timedelta(days=draw.randrange(DAYS))).isoformat()
    at = {"patient_id": patient, "date": day, "time": f"{8 + number % 10:02}:{number % 6}0"}
    visit = writer.add(visits_table, made=writer.at)
    state = {**at, "reason": "yearly check", "clinician": "Dr Reed", "joined_to": None, "signature": ""}
    writer.add(visit_states, visit_id=visit, version=1, **state)
    sha256 = hashlib.sha256(str(number).encode()).hexdigest()
    names = {"sha256": sha256, "name": f"{number}.ogg", "size": 0, "kept": 0, "why_not": "a measurement"}
    recording = writer.add(recordings, visit_id=visit, **names)
    source = {"recording_id": recording, "source_sha256": sha256, "seal": sha256}
    draft = writer.add(drafts, visit_id=visit, **source, body=exam.draft, words_hash=words_of(writer, visit, exam, 0))
    for place, made in enumerate(exam.decisions):
        row = {"draft_id": draft, "base_version": 0, "number": place + 1, "body": made, "words_hash": ""}
        writer.add(decisions, visit_id=visit, **row)
    lines = [{**line, "date": day} for line in exam.lines]
    told = {"by": "Dr Reed", "title": "", "at": writer.at, "how": "PIN", "record_hash": exam.over}
    row = {"version": 1, "status": "final", "draft_id": draft, "patient_id": patient, "amends": None}
    row |= {"signature": canonical(told), "body": exam.signed, "listing_hash": listing_hash(lines)}
    record = writer.add(records, visit_id=visit, **row, words_hash=words_of(writer, visit, exam, 1))
    for line in lines:
        writer.keep(record_sites, {"record_id": record, **line})
    now = {"version": 1, "status": "final", "draft_id": draft, "record_id": record, "record_version": 1}
    told = {"not_recorded": 0, "told_name": "Bramble", "source": f"{number}.ogg"}
    writer.keep(visit_now, {"visit_id": visit, **now, **at, "open_doubts": 0, "unplaced": 0, **told})


def words_of(writer: Bulk, visit: int, exam: Exam, salt: int) -> str:
    body = canonical({"salt": f"{visit}.{salt}", "words": exam.words})
    writer.keep(words, {"hash": sha256(body), "visit_id": visit, "body": body})
    return sha256(body)


def exam_of(record: Record) -> Exam:
    over = content_hash(record)
    signature = Signature(by="Dr Reed", time=record.drafted, over=over)
    signed = record.model_copy(update={"status": "final", "signature": signature})
    lifted = lift(record_data(record))
    doubt = Doubt(kind="heard", message="Heard with low probability", choices=("as heard", "something else"))
    made = [
        Settle(by="Dr Reed", time=record.drafted, observations=(o.id,), doubt=doubt, choice="as heard")
        for o in record.observations[:4]
    ]
    return Exam(
        draft=lifted.body,
        signed=lift(record_data(signed)).body,
        words=json.loads(lifted.words)["words"],
        decisions=tuple(canonical(m.model_dump(mode="json")) for m in made),
        lines=tuple(rows_of(signed, date="")),
        over=over,
    )


def records_by_lot(draw: random.Random, count: int) -> Iterator[Record]:
    """Records of 45 observations, one in four abnormal."""
    lexicon = load()
    sites = [site.site for site in lexicon.sites]
    findings = [finding.finding for finding in lexicon.findings]
    for number in range(count):
        seen = []
        for place, site in enumerate(draw.sample(sites, 45)):
            abnormal = draw.random() < 0.25
            words = f"and the {site} on this side is as one would like it, visit {number}"
            at = {"start": 3.0 * place, "end": 3.0 * place + 2.5, "char_start": 80 * place, "char_end": 80 * place + 70}
            seen.append(
                Observation(
                    id=f"{number:08x}{place:08x}",
                    site=site,
                    status="abnormal" if abnormal else "normal",
                    finding=draw.choice(findings) if abnormal else None,
                    evidence=(Evidence(text=words, **at),),
                )
            )
        yield Record(
            id=f"{number:016x}",
            drafted=datetime(2026, 5, 4, tzinfo=UTC),
            patient=Patient(name="Bramble", species="dog"),
            observations=tuple(seen),
            coverage=Coverage(recorded=tuple(o.site for o in seen)),
            source=Source(name=f"{number}.ogg", kind="sound", sha256=f"{number:064x}"),
            made_by=MadeBy(program="dictate-exam", version="0", rule_set="measured"),
            talk=" ".join(o.evidence[0].text for o in seen),
        )


def verifying(store: s.Store) -> None:
    before = time.process_time()
    took, found = timed(lambda: s.verify(store))
    worked = time.process_time() - before
    assert not found.faults, found.faults[:3]
    line = f"verify: {took:.2f} s ({worked:.2f} s of processor time)"
    line += f" for {found.records:,} signed records, {found.entries:,} entries"
    if store.place.database:
        plain, size = timed(lambda: read_and_hash(store.place.database))
        line += f"; {took / plain:.1f} times reading and hashing all rows ({plain:.2f} s, {size / 1e6:.0f} MB)"
    print(line)
    print(f"memory at its peak: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def read_and_hash(file: Path | None) -> int:
    """Every row of the file through SHA-256, as text; the bytes that were hashed."""
    digest, size = hashlib.sha256(), 0
    with closing(sqlite3.connect(str(file))) as connection:
        tables = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        for table in tables:
            for row in connection.execute(f"SELECT * FROM {table}"):
                data = repr(row).encode()
                digest.update(data)
                size += len(data)
    return size


def finding(store: s.Store) -> None:
    draw = random.Random(11)
    lexicon = load()
    sites = [site.site for site in lexicon.sites]
    findings = [finding.finding for finding in lexicon.findings]

    def day() -> date:
        return date(2022, 1, 1) + timedelta(days=draw.randrange(DAYS))

    def somebody() -> str:
        return f"{draw.choice(FIRST_NAMES)[:4]} {draw.choice(OWNERS)[:4]}"

    patients = [p.id for p in s.find_patients(store, "", limit=1000)]
    asked: dict[str, Callable[[], Any]] = {
        "find patients by words": lambda: s.find_patients(store, somebody()),
        "a patient's visits": lambda: s.visits_of(store, draw.choice(patients)),
        "day list": lambda: s.day_list(store, day()),
        "search by patient": lambda: s.search(store, patient=somebody()),
        "search by month": lambda: s.search(store, since=(d := day()), until=d + timedelta(days=30)),
        "search by site": lambda: s.search(store, site=draw.choice(sites)),
        "search by finding": lambda: s.search(store, finding=draw.choice(findings)),
        "search by site and finding": lambda: s.search(store, site=draw.choice(sites), finding=draw.choice(findings)),
        "search by patient and finding": lambda: s.search(store, patient=somebody(), finding=draw.choice(findings)),
        "search by finding and year": lambda: s.search(
            store, finding=draw.choice(findings), since=(d := day()), until=d + timedelta(days=365)
        ),
        "open a visit": lambda: s.working(store, draw.randrange(1, len(patients))),
        "drafts waiting": lambda: s.waiting(store),
    }
    for name, ask in asked.items():
        ask()
        before = time.process_time()
        took = [1000 * timed(ask)[0] for _ in range(ROUNDS)]
        worked = 1000 * (time.process_time() - before) / ROUNDS
        slowest = f"the slowest {max(took):6.1f} ms"
        print(f"{name:<30} {statistics.median(took):6.1f} ms, {slowest}, processor time {worked:6.1f} ms")


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    begun = time.perf_counter()
    result = work()
    return time.perf_counter() - begun, result


if __name__ == "__main__":
    main()
