"""Sound and words: kept under their hash, erased only by rule or refused consent, always with a trace."""

from __future__ import annotations

import hashlib
import json
import os
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select
from store_cases import TALK, draft, people, reviewed, sign, signed_visit, sound_file

from dictate import store as s
from dictate.errors import InputError
from dictate.exam.content import content_hash, forget_words
from dictate.exam.record import Evidence, Record, Sound, Unheard, Unplaced
from dictate.review import is_signed
from dictate.speech.cache import cache_file, forget, keep_transcript, kept_transcript
from dictate.speech.words import Transcript, Word
from dictate.store.keeping import record_data
from dictate.store.lifting import join, lift
from dictate.store.tables import words

SOUND = b"sound one"
HASH = hashlib.sha256(SOUND).hexdigest()
LATER = date.today() + timedelta(days=400)


def files(store: s.Store) -> list[str]:
    return sorted(f.name for f in store.place.sound.glob("??/*"))


def words_kept(store: s.Store) -> int:
    with store.reading() as connection:
        return len(connection.execute(select(words.c.hash)).all())


def in_files(store: s.Store, text: str) -> bool:
    """Whether a text stands readable anywhere in the store's own files."""
    folder = store.place.database.parent if store.place.database else store.place.sound
    return any(text.encode() in f.read_bytes() for f in folder.rglob("*") if f.is_file())


def test_sound_is_kept_under_its_hash(any_store: s.Store, tmp_path: Path) -> None:
    """The file's name is the hash of the sound, its bytes come back, and another file is refused with nothing kept."""
    visit = s.add_draft(any_store, draft(SOUND), sound=sound_file(tmp_path, SOUND)).visit
    assert [name.removesuffix(".age") for name in files(any_store)] == [HASH]
    assert s.sound_bytes(any_store, visit.id) == SOUND
    (recording,) = s.recordings_of(any_store, visit.id)
    assert (recording.sha256, recording.size, recording.kept) == (HASH, len(SOUND), True)
    with pytest.raises(InputError, match="another hash"):
        s.add_draft(any_store, draft(b"sound two"), sound=sound_file(tmp_path, b"sound three"))
    assert len(files(any_store)) == 1


def test_a_rule_erases_sound_words_and_cache_and_leaves_a_trace(any_store: s.Store, tmp_path: Path) -> None:
    """When its time has come, sound file, quoted words, talk and the recogniser's cache are gone; the record,
    its hash, its signature and the trace of the erasure stay, and verify finds nothing wrong."""
    boss, _ = people(any_store)
    visit = signed_visit(any_store, tmp_path, boss, sound=SOUND)
    cache = tmp_path / "cache"
    transcript = Transcript((Word("left", 0.0, 1.0, 1.0),), "left", HASH)
    mine, other = cache_file(cache, HASH, {"model": "a"}), cache_file(cache, "5" * 64, {"model": "a"})
    keep_transcript(mine, transcript)
    keep_transcript(other, Transcript(transcript.words, "left", "5" * 64))
    before = s.signed(any_store, visit.id)[-1]

    assert s.retention(any_store) is None and s.due(any_store, LATER) == ()
    s.set_retention(any_store, 365, by=boss, why="house rule")
    assert s.due(any_store, date.today() + timedelta(days=364)) == ()
    assert s.due(any_store, LATER) == (visit.id,)
    assert s.erase_due(any_store, LATER, cache=cache) == s.Erased(visits=1, sounds=1, cached=2)

    assert files(any_store) == [] and words_kept(any_store) == 0
    assert not mine.exists() and not other.exists()  # the other one is older than the rule allows
    for gone in (TALK, "left eye cloudy", "behind the stove"):
        assert not in_files(any_store, gone)
    (after,) = s.signed(any_store, visit.id)
    assert is_signed(after.record) and content_hash(after.record) == before.signature.record_hash
    assert after.record == forget_words(before.record)
    with pytest.raises(s.Gone):
        s.sound_bytes(any_store, visit.id)
    assert "365 days" in s.recordings_of(any_store, visit.id)[0].why_not
    assert "sound and words erased" in [step.what for step in s.history(any_store, visit.id)]
    assert s.verify(any_store, sound=True).faults == ()
    assert s.due(any_store, LATER) == () and s.erase_due(any_store, LATER, cache=cache).visits == 0


def test_a_visit_that_nobody_signed_keeps_its_sound(file_store: s.Store, tmp_path: Path) -> None:
    """The rule counts from the last signature, so a draft keeps what is needed to review it."""
    boss, _ = people(file_store)
    reviewed(file_store, tmp_path, boss, sound=SOUND)
    s.set_retention(file_store, 0, by=boss)
    assert s.due(file_store, LATER) == ()


def test_refused_consent_erases_at_once_and_keeps_later_sound_away(any_store: s.Store, tmp_path: Path) -> None:
    """After a refusal neither sound nor words are there, later drafts bring none back, and the record can be signed."""
    boss, _ = people(any_store)
    visit = reviewed(any_store, tmp_path, boss, sound=SOUND)
    assert s.consent(any_store, visit.id) is None
    s.set_consent(any_store, visit.id, False, by=boss, why="the owner asked", cache=tmp_path / "cache")
    assert s.consent(any_store, visit.id) is False
    assert files(any_store) == [] and words_kept(any_store) == 0
    assert not in_files(any_store, TALK)
    again = s.add_draft(any_store, draft(SOUND), sound=sound_file(tmp_path, SOUND))
    assert not again.new and files(any_store) == []
    done = sign(any_store, visit, boss)
    assert is_signed(s.signed(any_store, visit.id)[0].record) and done.status == "final"
    assert words_kept(any_store) == 0
    assert s.verify(any_store, sound=True).faults == ()


def test_consent_refused_before_the_talk_keeps_nothing_of_it(file_store: s.Store, tmp_path: Path) -> None:
    """A visit whose owner refused takes a draft's observations, but neither its sound nor its words."""
    boss, _ = people(file_store)
    visit = s.add_visit(file_store, day=date(2026, 5, 4), by=boss)
    s.set_consent(file_store, visit.id, False, by=boss, cache=tmp_path / "cache")
    added = s.add_draft(file_store, draft(SOUND), visit_id=visit.id, sound=sound_file(tmp_path, SOUND))
    assert added.new and files(file_store) == [] and words_kept(file_store) == 0
    assert s.recordings_of(file_store, visit.id)[0].why_not == "consent was refused"
    base = s.working(file_store, visit.id).base
    assert [o.finding for o in base.observations] == ["cloudiness", "pain"] and base.talk is None


def test_the_program_cannot_give_consent(file_store: s.Store) -> None:
    """Consent is what a person was told; the program itself cannot enter it."""
    visit = s.add_visit(file_store, day=date(2026, 5, 4), by=s.PROGRAM)
    with pytest.raises(s.Refused):
        s.set_consent(file_store, visit.id, True, by=s.PROGRAM)


def test_files_that_a_crash_left_behind_are_found_and_swept(file_store: s.Store, tmp_path: Path) -> None:
    """A sound file of an erased recording, or one that no recording names for a day, is named and deleted later."""
    boss, _ = people(file_store)
    signed_visit(file_store, tmp_path, boss, sound=SOUND)
    s.set_retention(file_store, 0, by=boss)
    s.erase_due(file_store, LATER, cache=tmp_path / "cache")
    for sound, age in ((SOUND, 0), (b"old", 90_000), (b"new", 0)):
        file = file_store.place.sound / hashlib.sha256(sound).hexdigest()[:2] / hashlib.sha256(sound).hexdigest()
        file.parent.mkdir(exist_ok=True)
        file.write_bytes(sound)
        os.utime(file, (file.stat().st_mtime - age,) * 2)
    assert len(s.verify(file_store, sound=True).faults) == 3
    s.erase_due(file_store, LATER, cache=tmp_path / "cache")
    assert files(file_store) == [hashlib.sha256(b"new").hexdigest()]


def test_the_cache_forgets_the_sounds_it_is_told(tmp_path: Path) -> None:
    """Every cached transcript of a sound is deleted, whatever its settings; damaged files go too; others stay."""
    one, two = "1" * 64, "2" * 64
    places = [cache_file(tmp_path, one, {"beam": str(n)}) for n in range(3)] + [cache_file(tmp_path, two, {})]
    for place, source in zip(places, (one, one, one, two), strict=True):
        keep_transcript(place, Transcript((), "", source))
    places[0].write_text("damaged")
    assert forget(tmp_path, [one]) == 3
    assert kept_transcript(places[3], two) is not None
    assert forget(tmp_path, [one]) == 0 and forget(tmp_path / "nowhere", [one]) == 0


texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
quotes = st.builds(
    Evidence, text=texts, char_start=st.integers(0, 9), char_end=st.integers(0, 9), by=st.none() | st.just("Reed")
)


@given(evidence=st.lists(quotes, max_size=4), talk=st.none() | texts, unheard=texts, plan=st.lists(quotes, max_size=2))
def test_lifting_words_out_and_joining_them_is_whole(
    evidence: list[Evidence], talk: str | None, unheard: str, plan: list[Evidence]
) -> None:
    """What is lifted and joined again is the same record; without the words it is what `forget_words` makes of it."""
    base = draft()
    first = base.observations[0].model_copy(update={"evidence": tuple(evidence)})
    record = base.model_copy(
        update={
            "talk": talk,
            "observations": (first,),
            "unplaced": tuple(Unplaced(**e.model_dump(), why="x") for e in evidence),
            "other": base.other.model_copy(update={"plan": tuple(plan)}),
            "sound": Sound(seconds=3.0, unheard=(Unheard(start=0.0, end=1.0, kind="not kept", text=unheard),)),
        }
    )
    lifted = lift(record_data(record))
    assert Record.model_validate(join(lifted.body, lifted.words)) == record
    forgotten = Record.model_validate(join(lifted.body, None))
    assert forgotten.observations == forget_words(record).observations
    assert forgotten.other == record.other and forgotten.talk is None
    spoken = {e.text for e in evidence if e.text and not e.by}
    assert not spoken & {e["text"] for e in json.loads(lifted.body)["observations"][0]["evidence"] if not e["by"]}
