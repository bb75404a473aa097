"""Backup, restore, the drill, and moving between kinds of store."""

from __future__ import annotations

import gzip
import hashlib
import json
from datetime import date, timedelta
from pathlib import Path

import pytest
from store_cases import PIN, bramble, database, draft, people, signed_visit, sound_file

from dictate import store as s
from dictate.errors import InputError
from dictate.store.keys import make_key_file


def test_a_backup_is_restored_whole(any_store: s.Store, tmp_path: Path) -> None:
    """The restored store has the same head, records, sound and accounts, and goes on working."""
    boss, _ = people(any_store)
    visit = signed_visit(any_store, tmp_path, boss)
    done = s.backup(any_store, tmp_path / "backups")
    key = any_store.place.key
    restored = s.restore(done.file, tmp_path / "again", key=key)
    assert restored.verified.head == done.manifest.head and restored.verified.sounds == 1
    with s.open_store(tmp_path / "again", key=key) as store:
        assert s.signed(store, visit.id) == s.signed(any_store, visit.id)
        assert s.sound_bytes(store, visit.id) == b"sound one"
        assert s.log_in(store, "Dr Reed", "saltmarsh reeds") == boss
        s.enter_in_error(store, visit.id, by=boss, secret=PIN, why="a trial", version=1)
        assert s.verify(store, sound=True, heads=(done.manifest.head,)).faults == ()


def test_the_drill_says_that_a_backup_can_be_restored(any_store: s.Store, tmp_path: Path) -> None:
    """The drill restores and verifies, and leaves nothing behind in the backup's folder."""
    boss, _ = people(any_store)
    signed_visit(any_store, tmp_path, boss)
    done = s.backup(any_store, tmp_path / "backups")
    before = sorted(f.name for f in (tmp_path / "backups").rglob("*"))
    assert s.drill(done.file, key=any_store.place.key).verified.faults == ()
    assert sorted(f.name for f in (tmp_path / "backups").rglob("*")) == before


def test_a_practice_grows_from_a_file_to_a_server(file_store: s.Store, server: str, tmp_path: Path) -> None:
    """A backup of an SQLite store is restored into PostgreSQL, and back, with the same chain."""
    boss, _ = people(file_store)
    visit = signed_visit(file_store, tmp_path, boss)
    done = s.backup(file_store, tmp_path / "backups")
    with database(server, "grown") as url:
        place = f"{url}?sound={tmp_path / 'grown'}"
        s.restore(done.file, place)
        with s.open_store(place) as grown:
            assert s.signed(grown, visit.id) == s.signed(file_store, visit.id)
            bramble(grown, by=boss, number="77")
            back = s.backup(grown, tmp_path / "more")
        s.restore(back.file, tmp_path / "small")
    with s.open_store(tmp_path / "small") as small:
        assert s.patient_numbered(small, "77").facts.name == "Bramble"
        assert s.verify(small, sound=True, heads=(done.manifest.head, back.manifest.head)).faults == ()


def test_a_plain_store_becomes_an_encrypted_one(file_store: s.Store, tmp_path: Path) -> None:
    """Restored with a key, nothing readable is left in the new store, and its own backup is encrypted too."""
    boss, _ = people(file_store)
    signed_visit(file_store, tmp_path, boss)
    done = s.backup(file_store, tmp_path / "backups")
    make_key_file(tmp_path / "key")
    s.restore(done.file, tmp_path / "closed", key=tmp_path / "key")
    with s.open_store(tmp_path / "closed", key=tmp_path / "key") as store:
        second = s.backup(store, tmp_path / "closed backups")
    for folder in ("closed", "closed backups"):
        everything = b"".join(f.read_bytes() for f in (tmp_path / folder).rglob("*") if f.is_file())
        assert b"Bramble" not in everything and b"sound one" not in everything
    with pytest.raises(InputError, match="name its key file"):
        s.restore(second.file, tmp_path / "third")
    make_key_file(tmp_path / "other")
    with pytest.raises(InputError, match="another key"):
        s.restore(second.file, tmp_path / "third", key=tmp_path / "other")
    assert not (tmp_path / "third").exists()


def test_a_damaged_backup_is_refused_and_leaves_nothing(file_store: s.Store, tmp_path: Path) -> None:
    """A changed byte in the rows or in the sound, a missing sound, a rewritten manifest: told in one line, and no half
    restored store is left."""
    boss, _ = people(file_store)
    signed_visit(file_store, tmp_path, boss)
    done = s.backup(file_store, tmp_path / "backups")
    rows, manifest = tmp_path / "backups" / done.manifest.rows_file, done.file.read_text()
    (sound,) = (tmp_path / "backups" / "sound").glob("??/*")
    whole, heard = rows.read_bytes(), sound.read_bytes()

    def refused(message: str) -> None:
        with pytest.raises(InputError, match=message):
            s.restore(done.file, tmp_path / "again")
        assert not (tmp_path / "again").exists()
        assert not list(tmp_path.glob(".restoring*"))

    rows.write_bytes(whole[:-9] + bytes([whole[-9] ^ 1]) + whole[-8:])
    refused("was changed since the backup was made")
    lines = gzip.decompress(whole).replace(b'"cloudiness"', b'"clearness_"')
    forged = gzip.compress(lines)
    rows.write_bytes(forged)
    told = json.loads(manifest)
    done.file.write_text(json.dumps({**told, "rows_sha256": hashlib.sha256(forged).hexdigest()}))
    refused("the backup is not whole: record")
    rows.write_bytes(whole)
    done.file.write_text(json.dumps({**told, "head_hash": "0" * 64}))
    refused("is not the one that was printed")
    done.file.write_text(manifest)
    sound.write_bytes(b"another")
    refused("is not the sound")
    sound.unlink()
    refused("cannot be read")
    sound.write_bytes(heard)
    done.file.write_text("{}")
    refused("is no backup")
    done.file.write_text(manifest)
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("keep me")
    with pytest.raises(InputError, match="not empty"):
        s.restore(done.file, tmp_path / "full")
    assert s.restore(done.file, tmp_path / "again").verified.faults == ()


def test_older_backups_go_and_take_erased_sound_with_them(file_store: s.Store, tmp_path: Path) -> None:
    """With `keep` only the newest stay; sound that was erased since is then nowhere any more."""
    boss, _ = people(file_store)
    signed_visit(file_store, tmp_path, boss)
    first = s.backup(file_store, tmp_path / "backups")
    s.set_retention(file_store, 0, by=boss)
    s.erase_due(file_store, date.today() + timedelta(days=2), cache=tmp_path / "cache")
    second = s.backup(file_store, tmp_path / "backups", keep=1)
    assert second.dropped == 1 and s.manifests(tmp_path / "backups") == [second.file]
    assert not first.file.exists() and not list((tmp_path / "backups").glob("sound/??/*"))
    assert s.drill(second.file).verified.faults == ()


def test_a_backup_does_not_lie_in_the_store_itself(file_store: s.Store, tmp_path: Path) -> None:
    """A folder within the store is refused: one lost disk would take both."""
    with pytest.raises(InputError, match="another disk"):
        s.backup(file_store, tmp_path / "store" / "backups")


def test_drafts_go_on_coming_in_while_a_backup_is_made(file_store: s.Store, tmp_path: Path) -> None:
    """The backup is of one moment: what came in later is not half in it."""
    s.add_draft(file_store, draft(), sound=sound_file(tmp_path))
    done = s.backup(file_store, tmp_path / "backups")
    s.add_draft(file_store, draft(b"sound two"), sound=sound_file(tmp_path, b"sound two"))
    restored = s.restore(done.file, tmp_path / "again")
    assert restored.verified.sounds == 1 and restored.verified.head == done.manifest.head
