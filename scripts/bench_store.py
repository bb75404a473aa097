"""How long the store takes: verifying signed records, and finding visits again.

    python scripts/bench_store.py                       10,000 visits, each with a signed record
    python scripts/bench_store.py --visits 100000       the larger one (builds for a while, some 6 GB)
    python scripts/bench_store.py --postgresql URL      the same on an empty PostgreSQL database
    python scripts/bench_store.py --keep FOLDER         build into FOLDER, or measure the store that is there already

Records have 45 observations with their words, a draft, and four decisions; names come from the lexicon by lot.
Verifying is told in seconds and as a ratio to reading and hashing every row of the same file with the standard library
alone. Each search is the median and the slowest of 25 with other names and days. Beside the time on the clock stands
the processor's: on a busy machine only that one tells something.
"""

from __future__ import annotations

import argparse
import hashlib
import random
import resource
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from dictate import store as s
from dictate.exam.content import content_hash
from dictate.exam.record import Coverage, Doubt, Evidence, MadeBy, Observation, Patient, Record, Signature, Source
from dictate.lexicon import load
from dictate.review import Settle
from dictate.store.canonical import canonical
from dictate.store.chain import Writer
from dictate.store.drafts import counts
from dictate.store.keeping import keep_body, record_data
from dictate.store.listing import enter_rows, listing_hash, rows_of
from dictate.store.patients import enter_patient
from dictate.store.tables import decisions, drafts, recordings, records
from dictate.store.visits import enter_visit, set_now

FIRST_NAMES = ("Bramble", "Burdock", "Sorrel", "Teasel", "Clover", "Yarrow", "Tansy", "Fennel", "Rush", "Vetch")
OWNERS = ("Saltern", "Marram", "Fenwick", "Holm", "Creek", "Dyke", "Wharf", "Slade", "Tarn", "Weir", "Mere", "Strand")
ROUNDS = 25
DAYS = 1500


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


def build(store: s.Store, visits: int) -> None:
    """Fill the store, a thousand visits a transaction."""
    draw = random.Random(7)
    made = records_by_lot(draw)
    begun = time.perf_counter()
    patients: list[int] = []
    for start in range(0, visits, 1000):
        with store.changing() as connection:
            writer = Writer(connection, by_id=0, at=datetime(2026, 5, 4, tzinfo=UTC))
            for number in range(start, min(start + 1000, visits)):
                if number % 3 == 0:
                    name, owner = draw.choice(FIRST_NAMES), f"{draw.choice('ABCDEFGH')}. {draw.choice(OWNERS)}"
                    facts = s.Facts(name=name, species="dog", practice_number=str(1000 + number), owner=owner)
                    patients.append(enter_patient(writer, facts).id)
                one_visit(writer, draw, draw.choice(patients), number, next(made))
    took = time.perf_counter() - begun
    print(f"built {visits:,} visits in {took:.0f} s ({1000 * took / visits:.1f} ms each, synced every 1,000)")


def one_visit(writer: Writer, draw: random.Random, patient: int, number: int, record: Record) -> None:
    day = date(2022, 1, 1) + timedelta(days=draw.randrange(DAYS))
    clock = f"{8 + number % 10:02}:{number % 6}0"
    visit = enter_visit(writer, day=day, patient_id=patient, time=clock, reason="yearly check", clinician="Dr Reed")
    sha256 = hashlib.sha256(str(number).encode()).hexdigest()
    names = {"sha256": sha256, "name": f"{number}.ogg", "size": 0, "kept": 0, "why_not": "a measurement"}
    recording = writer.add(recordings, visit_id=visit, **names)
    body = keep_body(writer, visit, record_data(record))
    named = {"visit_id": visit, "recording_id": recording, "source_sha256": sha256, "seal": sha256}
    draft = writer.add(drafts, **named, **body)
    for place in range(4):
        doubt = Doubt(kind="heard", message="Heard with low probability", choices=("as heard", "something else"))
        made = Settle(by="Dr Reed", time=record.drafted, observations=(str(place),), doubt=doubt, choice="as heard")
        row = {"draft_id": draft, "base_version": 0, "number": place + 1}
        writer.add(decisions, visit_id=visit, **row, **keep_body(writer, visit, made.model_dump(mode="json")))
    over = content_hash(record)
    signed = record.model_copy(
        update={"status": "final", "signature": Signature(by="Dr Reed", time=record.drafted, over=over)}
    )
    lines = rows_of(signed, date=day.isoformat())
    told = {"by": "Dr Reed", "title": "", "at": record.drafted.isoformat(), "how": "PIN", "record_hash": over}
    state = {"version": 1, "status": "final", "draft_id": draft, "patient_id": patient, "amends": None}
    body = keep_body(writer, visit, record_data(signed))
    signature = {"signature": canonical(told), "listing_hash": listing_hash(lines)}
    record_id = writer.add(records, visit_id=visit, **state, **signature, **body)
    enter_rows(writer.connection, record_id, lines)
    now: dict[str, Any] = {"draft_id": draft, "record_id": record_id, "record_version": 1, "status": "final"}
    set_now(writer.connection, visit, **now, **{**counts(record), "open_doubts": 0})


def records_by_lot(draw: random.Random) -> Iterator[Record]:
    """Records of 45 observations, one in four abnormal."""
    lexicon = load()
    sites = [site.site for site in lexicon.sites]
    findings = [finding.finding for finding in lexicon.findings]
    number = 0
    while True:
        seen = []
        number += 1
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
    line = f"verify: {took:.2f} s ({worked:.2f} s of processor time) for {found.records:,} signed records, {found.entries:,} entries"
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
