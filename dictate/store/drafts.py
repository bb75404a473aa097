"""Drafts and their recordings come in: by the program itself, unattended. A reviewed draft is never replaced."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from sqlalchemy import Connection, func, select

from dictate.errors import InputError
from dictate.exam.record import Record, seal
from dictate.store.chain import Writer
from dictate.store.consents import REFUSED, consent_of
from dictate.store.erasing import erased_sounds
from dictate.store.keeping import keep_body, record_data, record_of
from dictate.store.opening import Store
from dictate.store.people import PROGRAM, Account
from dictate.store.refusals import Gone
from dictate.store.sounds import Kept, delete_sound, keep_sound, sound_of
from dictate.store.tables import decisions, drafts, recordings
from dictate.store.visits import JOINED, PRELIMINARY, Visit, enter_visit, set_now, visit_of


@dataclass(frozen=True, slots=True)
class Added:
    """The visit that the draft is of now, whether anything new was kept, and what a user must be told, or ""."""

    visit: Visit
    new: bool
    note: str = ""


@dataclass(frozen=True, slots=True)
class Recording:
    """A sound that a draft was made from. `kept`: whether its file is here; `why_not` says why it is not."""

    id: int
    visit_id: int
    sha256: str
    name: str
    size: int
    kept: bool
    why_not: str


def add_draft(
    store: Store, record: Record, *, visit_id: int | None = None, sound: Path | None = None, by: Account = PROGRAM
) -> Added:
    """Keep a draft, and the sound that it was made from.

    Without a visit it goes to the one that has a draft of the same source already, else to a new visit without a
    patient. The same draft again changes nothing; a newer draft of the same source takes the place of one that nobody
    has decided about.

    Raises:
        InputError: the record is no untouched draft, the sound is another one, or the visit has a draft already.
    """
    if record.status != "preliminary" or record.review or record.signature:
        raise InputError("is no untouched draft; only drafts come in", where=record.source.name)
    with store.reading() as connection:
        at = visit_id if visit_id is not None else _visit_of_source(connection, record.source.sha256)
        refused = at is not None and consent_of(connection, at) is False
    kept = None
    if sound is not None and not refused:
        kept = keep_sound(store, sound, expected=record.source.sha256)
    try:
        with store.changing() as connection:
            return _enter(Writer(connection, by_id=by.id), record, visit_id, kept, given=sound is not None)
    finally:
        if kept is not None:
            _drop_unnamed(store, kept.sha256)


def _enter(writer: Writer, record: Record, visit_id: int | None, kept: Kept | None, *, given: bool) -> Added:
    connection = writer.connection
    source = _visit_of_source(connection, record.source.sha256)
    at = visit_id if visit_id is not None else source
    if at is None:
        at = enter_visit(
            writer,
            day=_day(record),
            patient_id=None,
            time="",
            reason="",
            clinician="",
            why=f"drafted from {record.source.name}",
        )
    elif visit_id is not None and source is not None and source != visit_id:
        raise InputError(f"this recording is visit {source}'s already", where=record.source.name)
    visit = visit_of(connection, at)
    if visit.status == JOINED:
        raise InputError("was planned and turned out to be another visit", where=f"visit {at}")
    if visit.draft_id is not None and _source_of(connection, visit.draft_id) != record.source.sha256:
        raise InputError("has a draft of another recording; add a visit for this one", where=f"visit {at}")
    refused = consent_of(connection, at) is False
    recording_id = _enter_recording(writer, at, record, None if refused else kept, _why_not(refused, kept, given))
    data = record_data(record)
    if visit.draft_id is not None:
        if seal(data) == connection.execute(select(drafts.c.seal).where(drafts.c.id == visit.draft_id)).scalar():
            return Added(visit, new=False)
        decided = select(func.count()).select_from(decisions).where(decisions.c.draft_id == visit.draft_id)
        if visit.signed or connection.execute(decided).scalar():
            return Added(visit, new=False, note=f"visit {at} was reviewed; its draft stays as it is")
    row = {"source_sha256": record.source.sha256, "seal": seal(data)}
    row |= keep_body(writer, at, data, words_too=not refused)
    draft_id = writer.add(drafts, why="drafted", visit_id=at, recording_id=recording_id, **row)
    named = {"told_name": (record.patient.name or "")[:80], "source": record.source.name[:200]}
    set_now(connection, at, status=PRELIMINARY, draft_id=draft_id, **named, **counts(record))
    return Added(visit_of(connection, at), new=True)


def _why_not(refused: bool, kept: Kept | None, given: bool) -> str:
    if refused:
        return REFUSED
    return "" if kept else ("it was not kept" if given else "the sound was not given")


def counts(record: Record) -> dict[str, int]:
    """What a reviewer has to look at, as columns of `visit_now`."""
    return {
        "open_doubts": sum(len(o.doubts) for o in record.observations),
        "unplaced": len(record.unplaced),
        "not_recorded": len(record.coverage.not_recorded),
    }


def _enter_recording(writer: Writer, visit_id: int, record: Record, kept: Kept | None, why_not: str) -> int | None:
    """The recording's row: the one that is there, or a new one where there is none or its sound comes only now. Sound
    that was erased does not come back."""
    if record.source.kind != "sound":
        return None
    sha256 = record.source.sha256
    same = recordings.c.visit_id == visit_id, recordings.c.sha256 == sha256
    newest = select(recordings).where(*same).order_by(recordings.c.id.desc()).limit(1)
    was = writer.connection.execute(newest).first()
    if was is not None and (was.kept or kept is None or sha256 in erased_sounds(writer.connection, visit_id)):
        return int(was.id)
    return writer.add(
        recordings,
        visit_id=visit_id,
        sha256=sha256,
        name=record.source.name[:200],
        size=kept.size if kept else 0,
        kept=int(kept is not None),
        why_not=why_not,
    )


def _drop_unnamed(store: Store, sha256: str) -> None:
    """Delete a sound that was copied in and that no visit keeps after all."""
    with store.reading() as connection:
        kept = select(recordings.c.id).where(recordings.c.sha256 == sha256, recordings.c.kept == 1).limit(1)
        wanted = connection.execute(kept).first() is not None and sha256 not in erased_sounds(connection)
    if not wanted:
        delete_sound(store, sha256)


def _source_of(connection: Connection, draft_id: int) -> str:
    return str(connection.execute(select(drafts.c.source_sha256).where(drafts.c.id == draft_id)).scalar())


def draft_of(connection: Connection, draft_id: int) -> Record:
    row = connection.execute(select(drafts).where(drafts.c.id == draft_id)).one()
    return record_of(connection, row.body, row.words_hash)


def recordings_of(store: Store, visit_id: int) -> tuple[Recording, ...]:
    """The recordings of a visit, oldest first."""
    with store.reading() as connection:
        gone = erased_sounds(connection, visit_id)
        found = connection.execute(
            select(recordings).where(recordings.c.visit_id == visit_id).order_by(recordings.c.id)
        )
        made = []
        for row in found:
            here = bool(row.kept) and row.sha256 not in gone
            why_not = row.why_not or ("" if here else f"erased: {gone[row.sha256]}")
            made.append(Recording(row.id, row.visit_id, row.sha256, row.name, row.size, here, why_not))
        return tuple(made)


def sound_bytes(store: Store, visit_id: int, sha256: str = "") -> bytes:
    """The sound of a visit, by default of its newest recording. Gone where it was not kept or was erased."""
    for recording in reversed(recordings_of(store, visit_id)):
        if recording.kept and sha256 in ("", recording.sha256):
            return sound_of(store, recording.sha256)
    raise Gone("this sound is not kept (any more)", where=f"visit {visit_id}")


def kept_sounds(connection: Connection) -> set[str]:
    """The hashes of all sound that is kept now."""
    kept = set(connection.execute(select(recordings.c.sha256).where(recordings.c.kept == 1)).scalars())
    return kept - erased_sounds(connection).keys()


def _visit_of_source(connection: Connection, sha256: str) -> int | None:
    newest = select(drafts.c.visit_id).where(drafts.c.source_sha256 == sha256).order_by(drafts.c.id.desc()).limit(1)
    found = connection.execute(newest).scalar()
    return None if found is None else int(found)


def _day(record: Record) -> date:
    """The day of the visit: told in the record, else the day of the draft on this machine's clock."""
    time = record.encounter.time or record.drafted
    return (time.astimezone() if time.tzinfo else time).date()
