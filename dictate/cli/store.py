"""`dictate store ...`: one function for each part; the work itself is in `dictate.store`."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Callable
from datetime import date
from pathlib import Path

from dictate import store as s
from dictate.cli.batch import run_over
from dictate.cli.store_asking import acting, opened, place
from dictate.cli.store_patients import PATIENT_PARTS
from dictate.cli.store_people import PEOPLE_PARTS
from dictate.cli.store_visits import VISIT_PARTS
from dictate.errors import InputError
from dictate.exam.record import Record, from_json


def run(options: Namespace) -> int:
    """Do one part; the exit status."""
    return PARTS[options.part](options) or 0


def make_key(options: Namespace) -> None:
    try:
        from dictate.store.keys import make_key_file
    except ImportError:
        raise InputError("encryption is not installed: pip install 'dictate-exam[encryption]'") from None
    make_key_file(options.file)
    print(f"{options.file}: a new key. Whoever loses it loses the store; keep a copy away from it.")


def make(options: Namespace) -> None:
    with s.make_store(place(options), key=options.key) as store:
        kind = "encrypted store" if store.key else "store"
        print(f"{store.place}: a new {kind}. Add the first person: dictate store add-person NAME")


def upgrade(options: Namespace) -> None:
    done = s.upgrade_store(place(options), key=options.key)
    print("nothing to do" if done.before == done.after else f"from form {done.before} to {done.after}")


def head(options: Namespace) -> None:
    with opened(options) as store:
        print(s.head(store))


def backup(options: Namespace) -> None:
    if options.keep is not None and options.keep < 1:
        raise InputError("must be 1 or more", where="--keep")
    with opened(options) as store:
        done = s.backup(store, options.folder, keep=options.keep)
    print(f"{done.file}: {sum(done.manifest.counts.values())} rows, {len(done.manifest.sounds)} recordings")
    print(f"head {done.manifest.head}")
    older = len(s.manifests(options.folder)) - 1
    if older:
        print(f"{older} older backups here still hold what was erased since; --keep N deletes the oldest")


def restore(options: Namespace) -> None:
    done = s.restore(options.file, place(options), key=options.key, backup_key=options.backup_key)
    _tell_restored(done, f"{done.place}: restored")


def drill(options: Namespace) -> None:
    _tell_restored(s.drill(options.file, key=options.key), "the backup can be restored")


def _tell_restored(done: s.Restored, what: str) -> None:
    found = done.verified
    print(f"{what}; {found.entries} entries, {found.records} signed records, {found.sounds} recordings, all as written")
    print(f"head {done.manifest.head}")


def retention(options: Namespace) -> None:
    with opened(options) as store:
        if options.days is not None:
            s.set_retention(store, options.days, by=acting(store, options))
        rule = s.retention(store)
        print(rule or "no rule was stated: sound and words are kept")
        if options.apply:
            done = s.erase_due(store, date.today())
            print(f"erased: {done.visits} visits, {done.sounds} sound files, {done.cached} cached transcripts")
        else:
            print(f"due today: {len(s.due(store, date.today()))} visits")


def import_drafts(options: Namespace) -> int:
    if options.visit is not None and len(options.files) > 1:
        raise InputError("one draft belongs to one visit; name one file", where="--visit")
    with opened(options) as store:

        def work(file: Path, within: Callable[[float], None]) -> str:
            record = read_draft(file)
            sound = find_sound(record, file, options.sound)
            added = s.add_draft(store, record, visit_id=options.visit, sound=sound)
            state = added.note or ("" if added.new else "was there already")
            missing = record.source.kind == "sound" and sound is None and added.new
            told = [f"visit {added.visit.id}", state, "its sound was not found" if missing else ""]
            return f"{file}: {', '.join(part for part in told if part)}"

        return run_over(options.files, work)


def read_draft(file: Path) -> Record:
    """The draft in a file. InputError where it holds none."""
    try:
        return from_json(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror})", where=str(file)) from None
    except (ValueError, json.JSONDecodeError):
        raise InputError("is no drafted record (NAME.record.json)", where=str(file)) from None


def find_sound(record: Record, file: Path, folder: Path | None) -> Path | None:
    """The sound that a draft was made from: a file of its name in the folder, or beside the draft."""
    if record.source.kind != "sound":
        return None
    name = Path(record.source.name).name
    found = [at / name for at in ([folder] if folder else [file.parent, file.parent.parent]) if (at / name).is_file()]
    return found[0] if found else None


PARTS: dict[str, Callable[[Namespace], int | None]] = {
    "make-key": make_key,
    "make": make,
    "upgrade": upgrade,
    "head": head,
    "backup": backup,
    "restore": restore,
    "drill": drill,
    "retention": retention,
    "import": import_drafts,
    **PEOPLE_PARTS,
    **PATIENT_PARTS,
    **VISIT_PARTS,
}
