"""`dictate export`: records handed on as text, pages, PDF, FHIR bundles or tables."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path

from dictate import store as kept
from dictate.cli import DONE, SOME_FAILED, say
from dictate.errors import InputError
from dictate.exam.content import content_hash
from dictate.exam.record import Record
from dictate.export import KINDS, Export, Standing, file_name
from dictate.files import check_writable
from dictate.lexicon import Lexicon, load
from dictate.review.files import load_review
from dictate.speech.files import write_whole

Given = tuple[Record, Standing] | InputError


def run(options: Namespace) -> int:
    """Write the exports into the folder; the exit status. The form and the folder are checked before any work."""
    if options.kind not in KINDS:
        raise InputError(f"there is no such form; the forms are {', '.join(KINDS)}", where=f"--as {options.kind}")
    if bool(options.files) == bool(options.store):
        raise InputError("name record files, or a store with --store", where="dictate export")
    if not options.store and (options.visit or options.since or options.until):
        raise InputError("--visit, --since and --until choose from a store; name it", where="--store")
    lexicon = load(options.lexicon)
    check_writable(options.out)
    given = from_store(options) if options.store else from_files(options.files, options.practice)
    return write_all(given, KINDS[options.kind], lexicon, options.out)


def write_all(given: Iterable[Given], export: Export, lexicon: Lexicon, folder: Path) -> int:
    """One file for each record, or one for all of them; a record that cannot be used is told, and the others go on."""
    status, taken = DONE, set[Path]()
    records: list[tuple[Record, Standing]] = []
    for one in given:
        if isinstance(one, InputError):
            say(f"dictate: {one}")
            status = SOME_FAILED
        elif export.for_many:
            records.append(one)
        else:
            record, standing = one
            file = folder / file_name(record, export.kind, standing)
            if file in taken:
                say(f"dictate: {file}: two of the given records have this name; only the first is written")
                status = SOME_FAILED
                continue
            taken.add(file)
            put(file, export.make([one], lexicon))
    if records:
        put(folder / f"records{export.ending}", export.make(records, lexicon))
    return status


def from_files(files: list[Path], practice: str) -> Iterator[Given]:
    """Each record with its standing, or the InputError that says why it cannot be used."""
    for file in files:
        try:
            yield read_record(file), Standing(practice=practice)
        except InputError as error:
            yield error


def read_record(file: Path) -> Record:
    """The record of a file, with the decisions of the review that lies beside it.

    Raises:
        InputError: it is none; or it says that it is signed and carries no signature, or another content's.
    """
    record = load_review(file).record
    if record.status == "preliminary":
        return record
    if record.signature is None:
        raise InputError(f"it says that it is {record.status}, and carries no signature", where=str(file))
    if record.signature.over != content_hash(record):
        raise InputError("its content is not what was signed; it was changed since", where=str(file))
    return record


def from_store(options: Namespace) -> Iterator[Given]:
    """The visits that were chosen, newest day first or in the order given; all that have a record where none was."""
    with kept.open_store(options.store) as store:
        for number in options.visit or visits_between(store, options.since, options.until):
            try:
                yield kept.standing_of(store, number, practice=options.practice)
            except InputError as error:
                yield error


def visits_between(store: kept.Store, since: date | None, until: date | None) -> Iterator[int]:
    """The numbers of the visits of these days that have a record."""
    after = ""
    while True:
        found = kept.search(store, since=since, until=until, after=after, limit=200)
        yield from (hit.visit.id for hit in found.hits if hit.visit.status != "planned")
        if not (after := found.next):
            return


def put(file: Path, content: bytes) -> None:
    """Write the file whole or not at all; InputError where it cannot be written."""
    try:
        write_whole(file, content)
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror or error})", where=str(file)) from None
