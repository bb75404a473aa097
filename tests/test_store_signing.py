"""Reviewing and signing: two people at once, two windows, amendments, and that nobody signs for a machine."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest
from store_cases import (
    DOUBT,
    NOW,
    PASSWORD,
    PIN,
    bramble,
    dismiss,
    draft,
    people,
    reviewed,
    settle,
    sign,
    signed_visit,
)

from dictate import store as s
from dictate.errors import InputError
from dictate.exam.content import content_hash
from dictate.review import CannotTell, EditSection, Remove, Undo, is_signed, typed


def remove(by: str = "Reed") -> Remove:
    return Remove(by=by, time=NOW, observations=("b",))


def test_two_people_at_once_lose_no_decision_and_the_second_is_told(any_store: s.Store) -> None:
    """Both look at the same draft and decide: the first decision is kept, the second person is told whose and what it
    was, and can send theirs again; at the end both stand."""
    boss, tern = people(any_store)
    visit = s.add_draft(any_store, draft()).visit
    shown = s.working(any_store, visit.id).state
    first = settle()
    s.decide(any_store, visit.id, [first], by=boss, state=shown)
    with pytest.raises(s.Conflict, match="Dr Reed decided meanwhile") as told:
        s.decide(any_store, visit.id, [dismiss()], by=tern, state=shown)
    assert [d.decision.id for d in told.value.since] == [first.id]
    after = s.decide(any_store, visit.id, [dismiss()], by=tern, state=told.value.working.state)
    assert [(d.by, d.decision.by, d.decision.kind) for d in after.decisions] == [
        ("Dr Reed", "Dr Reed", "settle"),
        ("Tern", "Tern", "dismiss"),
    ]
    assert (after.visit.open_doubts, after.visit.unplaced) == (0, 0)


def test_many_writers_at_the_same_moment(any_store: s.Store) -> None:
    """Eight threads decide at the same moment on one state: exactly one is kept, seven are told, the chain is whole."""
    boss, _ = people(any_store)
    visit = s.add_draft(any_store, draft()).visit
    state = s.working(any_store, visit.id).state
    start, outcomes = threading.Barrier(8), []

    def one() -> None:
        start.wait()
        try:
            s.decide(any_store, visit.id, [settle()], by=boss, state=state)
            outcomes.append("kept")
        except s.Conflict:
            outcomes.append("told")

    threads = [threading.Thread(target=one) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["kept"] + ["told"] * 7
    assert len(s.working(any_store, visit.id).decisions) == 1
    assert s.verify(any_store).faults == ()


def test_a_signed_record_holds_who_when_and_over_what(any_store: s.Store, tmp_path: Path) -> None:
    """After signing, the visit is final, the record carries name, title and hash, and every reading gives the same."""
    boss, _ = people(any_store)
    done = sign(any_store, reviewed(any_store, tmp_path, boss), boss)
    assert (done.status, done.version, done.signature.by, done.signature.title) == (
        "final",
        1,
        "Dr Reed",
        "veterinarian",
    )
    assert done.signature.how == "PIN"
    (kept,) = s.signed(any_store, done.visit_id)
    assert kept == done
    assert is_signed(kept.record) and kept.signature.record_hash == content_hash(kept.record)
    assert kept.record.patient.name == "Bramble"
    assert s.visit(any_store, done.visit_id).status == "final"
    assert s.working(any_store, done.visit_id).record == kept.record


def test_a_record_signed_in_one_window_cannot_be_signed_in_another(any_store: s.Store, tmp_path: Path) -> None:
    """Two windows show the same record; after one has signed, the other is refused, and there is one signature."""
    boss, _ = people(any_store)
    visit = reviewed(any_store, tmp_path, boss)
    assert visit.patient
    windows = [s.before_signing(any_store, visit.id) for _ in range(2)]
    s.sign(any_store, visit.id, by=boss, secret=PIN, seen=windows[0].seen, patient_id=visit.patient.id)
    with pytest.raises(s.Conflict, match="signed already"):
        s.sign(any_store, visit.id, by=boss, secret=PIN, seen=windows[1].seen, patient_id=visit.patient.id)
    with pytest.raises(s.Conflict, match="signed meanwhile"):
        s.decide(any_store, visit.id, [remove()], by=boss, state=windows[1].working.state)
    assert len(s.signed(any_store, visit.id)) == 1


def test_only_what_was_shown_is_signed(file_store: s.Store, tmp_path: Path) -> None:
    """A decision, another patient, or other facts of the patient after the page was shown: the signature is refused."""
    boss, tern = people(file_store)
    visit = reviewed(file_store, tmp_path, boss)
    assert visit.patient

    def attempt(seen: str) -> None:
        assert visit.patient
        with pytest.raises(s.Conflict, match="not any more what was shown"):
            s.sign(file_store, visit.id, by=boss, secret=PIN, seen=seen, patient_id=visit.patient.id)

    seen = s.before_signing(file_store, visit.id).seen
    s.decide(file_store, visit.id, [remove()], by=tern, state=s.working(file_store, visit.id).state)
    attempt(seen)
    seen = s.before_signing(file_store, visit.id).seen
    facts = s.Facts(name="Bramble", species="dog", practice_number="1042", owner="B. Thrift")
    s.change_patient(file_store, visit.patient.id, facts, by=tern, why="owner moved", expected=1)
    attempt(seen)
    other = bramble(file_store, by=boss, number="7")
    before = s.before_signing(file_store, visit.id)
    s.move_visit(file_store, visit.id, other.id, by=boss, secret=PIN, why="wrong one", expected=visit.version)
    with pytest.raises(s.Conflict, match="belongs to Bramble"):
        s.sign(file_store, visit.id, by=boss, secret=PIN, seen=before.seen, patient_id=visit.patient.id)
    assert s.signed(file_store, visit.id) == ()


def test_open_doubts_phrases_and_an_unknown_patient_block_the_signature(file_store: s.Store) -> None:
    """Each thing that is open is named before signing, and signing is refused until all are settled."""
    boss, _ = people(file_store)
    visit = s.add_draft(file_store, draft()).visit
    before = s.before_signing(file_store, visit.id)
    assert len(before.blocks) == 3 and "which patient" in before.blocks[0]
    with pytest.raises(InputError, match=r"cannot be signed.*2 more"):
        s.sign(file_store, visit.id, by=boss, secret=PIN, seen=before.seen, patient_id=0)
    unsure = CannotTell(by="x", time=NOW, observations=("a",), doubt=DOUBT)
    s.decide(file_store, visit.id, [unsure, dismiss()], by=boss, state=before.working.state)
    s.assign_patient(file_store, visit.id, bramble(file_store, by=boss).id, by=boss, expected=1)
    assert s.before_signing(file_store, visit.id).blocks == ()


def test_a_talk_of_another_species_blocks_the_signature(file_store: s.Store) -> None:
    """A draft of a dog in a cat's visit is most likely the wrong patient, and is not signed."""
    boss, _ = people(file_store)
    cat = s.add_patient(file_store, s.Facts(name="Bramble", species="cat"), by=boss)
    visit = s.add_draft(file_store, draft(open_doubt=False)).visit
    s.assign_patient(file_store, visit.id, cat.id, by=boss, expected=1)
    assert s.before_signing(file_store, visit.id).blocks == ("The talk is of a dog, and Bramble is a cat.",)


def test_another_name_in_the_talk_is_shown(file_store: s.Store) -> None:
    """A draft that names another patient than the visit's is shown as a warning before signing."""
    boss, _ = people(file_store)
    visit = s.add_draft(file_store, draft(open_doubt=False, name="Burdock")).visit
    s.assign_patient(file_store, visit.id, bramble(file_store, by=boss).id, by=boss, expected=1)
    before = s.before_signing(file_store, visit.id)
    assert before.warnings == ("The talk names Burdock; the visit is Bramble's.",)


def test_nobody_signs_for_a_machine(file_store: s.Store, tmp_path: Path) -> None:
    """The program itself, a reviewer, a closed account and a wrong secret cannot sign, and nothing is signed."""
    boss, tern = people(file_store)
    visit = reviewed(file_store, tmp_path, boss)
    assert visit.patient
    knot = s.add_account(file_store, "Knot", PASSWORD, {"signer"}, by=boss)
    s.change_account(file_store, knot.id, by=boss, active=False)
    pretended = s.Account(0, "the program", frozenset({"signer"}))
    before = s.before_signing(file_store, visit.id)
    tries: list[tuple[s.Account, str]] = [
        (s.PROGRAM, ""),
        (pretended, ""),
        (tern, PASSWORD),
        (knot, PASSWORD),
        (boss, "274952"),
    ]
    for by, secret in tries:
        with pytest.raises(s.Refused):
            s.sign(file_store, visit.id, by=by, secret=secret, seen=before.seen, patient_id=visit.patient.id)
    with pytest.raises(s.Refused):
        s.decide(file_store, visit.id, [remove()], by=s.PROGRAM, state=before.working.state)
    assert s.signed(file_store, visit.id) == ()


def test_the_role_at_the_time_of_signing_counts(file_store: s.Store, tmp_path: Path) -> None:
    """A signer who lost the role after logging in cannot sign with what the session still believes."""
    boss, _ = people(file_store)
    knot = s.add_account(file_store, "Knot", PASSWORD, {"signer"}, by=boss)
    visit = reviewed(file_store, tmp_path, boss)
    s.change_account(file_store, knot.id, by=boss, roles={"reviewer"})
    with pytest.raises(s.Refused, match="signer"):
        sign(file_store, visit, knot, secret=PASSWORD)


def amended(store: s.Store, visit: s.Visit, by: s.Account, made: Any, why: str = "heard again") -> s.SignedRecord:
    s.decide(store, visit.id, [made], by=by, state=s.working(store, visit.id).state)
    before = s.before_signing(store, visit.id)
    assert visit.patient
    return s.amend(store, visit.id, by=by, secret=PASSWORD, seen=before.seen, patient_id=visit.patient.id, why=why)


def test_an_amendment_is_signed_with_its_reason_and_the_older_state_stays(any_store: s.Store, tmp_path: Path) -> None:
    """The amended state names what it amends and why; the first one is still readable, byte for byte."""
    boss, _ = people(any_store)
    visit = signed_visit(any_store, tmp_path, boss)
    (first,) = s.signed(any_store, visit.id)
    done = amended(any_store, visit, boss, remove())
    assert (done.status, done.version, done.amends, done.why) == ("amended", 2, 1, "heard again")
    assert done.record.amends and done.record.amends.over == first.signature.record_hash
    assert [o.id for o in done.record.observations] == ["a"]
    assert s.signed(any_store, visit.id) == (first, done)
    record, standing = s.standing_of(any_store, visit.id, practice="Saltmarsh")
    assert record == done.record
    assert standing.amends and standing.amends.reason == "heard again"
    assert s.Head(standing.chain_number or 0, standing.chain_head) == s.head(any_store)
    assert [d.decision.kind for d in s.working(any_store, visit.id).decisions] == []


def test_an_amendment_needs_a_reason_and_a_change(file_store: s.Store, tmp_path: Path) -> None:
    """Without a reason, without a change, or before the first signature, an amendment is refused."""
    boss, _ = people(file_store)
    visit = signed_visit(file_store, tmp_path, boss)
    with pytest.raises(InputError, match="reason of the amendment"):
        amended(file_store, visit, boss, remove(), why="  ")
    first = s.working(file_store, visit.id).decisions[0].decision
    with pytest.raises(InputError, match="nothing was changed"):
        amended(file_store, visit, boss, Undo(by="x", time=NOW, of=first.id))
    other = reviewed(file_store, tmp_path, boss, sound=b"sound two", number="2")
    before = s.before_signing(file_store, other.id)
    with pytest.raises(InputError, match="not signed yet"):
        s.amend(file_store, other.id, by=boss, secret=PIN, seen=before.seen, patient_id=2, why="x")


def test_a_record_entered_in_error_stays_readable_and_is_changed_no_more(any_store: s.Store, tmp_path: Path) -> None:
    """It is signed too, with the reason; afterwards nothing more is decided or signed, and searches do not find it."""
    boss, _ = people(any_store)
    visit = signed_visit(any_store, tmp_path, boss)
    assert s.search(any_store, finding="pain").hits
    done = s.enter_in_error(any_store, visit.id, by=boss, secret=PIN, why="another patient", version=1)
    assert (done.status, done.version, done.why) == ("entered-in-error", 2, "another patient")
    assert is_signed(done.record)
    assert s.search(any_store, finding="pain").hits == ()
    with pytest.raises(InputError, match="entered in error"):
        s.decide(any_store, visit.id, [remove()], by=boss, state=s.working(any_store, visit.id).state)
    with pytest.raises(InputError, match="only a signed record"):
        s.enter_in_error(any_store, visit.id, by=boss, secret=PIN, why="again", version=2)
    assert [r.status for r in s.signed(any_store, visit.id)] == ["final", "entered-in-error"]
    _, standing = s.standing_of(any_store, visit.id)
    assert standing.withdrawn and standing.withdrawn_why == "another patient"


def test_what_a_person_typed_is_kept_with_all_its_steps(file_store: s.Store, tmp_path: Path) -> None:
    """The history of a visit names every step with who and when: draft, decisions, signature, amendment."""
    boss, tern = people(file_store)
    visit = signed_visit(file_store, tmp_path, boss)
    plan = EditSection(by="x", time=NOW, section="plan", parts=(typed("see again in May", "Tern"),))
    state = s.working(file_store, visit.id).state
    s.decide(file_store, visit.id, [plan], by=tern, state=state)
    steps = s.history(file_store, visit.id)
    assert [step.number for step in steps] == sorted(step.number for step in steps)
    assert [step.what for step in steps if step.by == "Tern"] == ["decision 1"]
    assert {"draft", "signed, version 1: final"} <= {step.what for step in steps}


def test_a_reviewed_draft_is_never_replaced(file_store: s.Store) -> None:
    """The same draft again changes nothing; a newer one of the same sound replaces an untouched draft only."""
    boss, _ = people(file_store)
    first = s.add_draft(file_store, draft())
    assert first.new and not s.add_draft(file_store, draft()).new
    newer = s.add_draft(file_store, draft(open_doubt=False))
    assert newer.new and newer.visit.id == first.visit.id and newer.visit.open_doubts == 0
    s.decide(file_store, newer.visit.id, [remove()], by=boss, state=s.working(file_store, newer.visit.id).state)
    again = s.add_draft(file_store, draft())
    assert not again.new and "was reviewed" in again.note
    with pytest.raises(InputError, match="has a draft of another recording"):
        s.add_draft(file_store, draft(b"another sound"), visit_id=newer.visit.id)
    signed_one = draft().model_copy(update={"status": "final"})
    with pytest.raises(InputError, match="only drafts come in"):
        s.add_draft(file_store, signed_one)
