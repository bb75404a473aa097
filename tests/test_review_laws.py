"""Laws of the review that hold for every draft and every list of decisions."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from review_cases import LAW, NOW, WHO, drafts, reviews

from dictate.errors import InputError
from dictate.exam.content import content_hash, forget_words
from dictate.exam.phrases import told
from dictate.exam.record import Record, from_json, to_json
from dictate.review import (
    DECISIONS,
    Decision,
    Undo,
    apply,
    blocks,
    decide,
    in_force,
    is_signed,
    last_to_undo,
    questions,
    replay,
    sign,
    untold,
)

Reviewed = tuple[Record, tuple[Decision, ...]]


@LAW
@given(reviews())
def test_undo_restores_exactly(review: Reviewed) -> None:
    """The undo of what was decided last gives the very record that stood before; undoing the undo brings it back."""
    draft, decisions = review
    last = last_to_undo(decisions)
    if last is None:
        return
    undo = Undo(by=WHO, time=NOW, of=last.id)
    without = tuple(d for d in in_force(decisions) if d.id != last.id)
    assert apply(draft, (*decisions, undo)) == apply(draft, without)
    assert apply(draft, (*decisions, undo, Undo(by=WHO, time=NOW, of=undo.id))) == apply(draft, decisions)


@LAW
@given(reviews())
def test_undoing_all_gives_the_draft(review: Reviewed) -> None:
    """When every decision is undone, one after the other, the record is the draft again, with no mark in it."""
    draft, decisions = review
    while (last := last_to_undo(decisions)) is not None:
        decisions = (*decisions, Undo(by=WHO, time=NOW, of=last.id))
    assert apply(draft, decisions) == draft


@LAW
@given(reviews())
def test_same_decisions_give_the_same_record(review: Reviewed) -> None:
    """Decisions in one order give one record, also after they were written to JSON and read back."""
    draft, decisions = review
    written = DECISIONS.validate_json(DECISIONS.dump_json(decisions))
    assert written == decisions
    assert to_json(apply(from_json(to_json(draft)), written)) == to_json(apply(draft, decisions))


@LAW
@given(reviews())
def test_draft_is_never_changed(review: Reviewed) -> None:
    """The draft's JSON is the same before and after any decisions about it."""
    draft, decisions = review
    before = to_json(draft)
    apply(draft, decisions)
    questions(draft)
    assert to_json(draft) == before


@LAW
@given(reviews())
def test_record_is_in_order(review: Reviewed) -> None:
    """Ids are unique; what is recorded and what is not never overlap; recorded is what observations are of."""
    draft, decisions = review
    record = apply(draft, decisions)
    ids = [o.id for o in record.observations]
    assert len(ids) == len(set(ids))
    assert set(record.coverage.recorded) == {o.site for o in record.observations}
    assert not set(record.coverage.recorded) & set(record.coverage.not_recorded)
    every = {*draft.coverage.recorded, *draft.coverage.not_recorded}
    assert {*record.coverage.recorded, *record.coverage.not_recorded} == every


@LAW
@given(reviews())
def test_every_decision_in_force_is_marked_or_named_idle(review: Reviewed) -> None:
    """A decision leaves a mark with its person in the record, or is named as one without effect: none is lost."""
    draft, decisions = review
    after = replay(draft, decisions)
    assert len(after.record.review) + len(after.idle) == len(in_force(decisions))


@LAW
@given(drafts())
def test_every_doubt_is_settled_by_cannot_be_told(draft: Record) -> None:
    """Pressing "t" on every doubt settles them all, and each prints its words where the observation stays."""
    decisions: list[Decision] = []
    record = draft
    while doubts := [q for q in questions(record) if q.about == "doubt"]:
        question = doubts[0]
        answer = question.answer("t")
        assert answer is not None and question.doubt is not None
        decisions.append(decide(question, answer, by=WHO, time=NOW))
        record = apply(draft, decisions)
        kept = [o for o in record.observations if o.id in [before.id for before in question.observations]]
        words = untold(question.doubt)
        assert kept and all(words in told(o) or "value not certain" in told(o) for o in kept)
    assert not any(o.doubts for o in record.observations)


@LAW
@given(drafts(), st.data())
def test_every_question_is_answered_by_one_key(draft: Record, data: st.DataObject) -> None:
    """Each question has answers of different single keys, and each answer that needs no typing clears it."""
    for question in questions(draft):
        keys = [a.key for a in question.answers]
        assert len(set(keys)) == len(keys) and all(len(key) == 1 for key in keys)
        simple = [a for a in question.answers if a.does not in ("correct", "place", "patient", "one by one")]
        answer = data.draw(st.sampled_from(simple))
        after = apply(draft, [decide(question, answer, by=WHO, time=NOW)])
        assert question.id not in [q.id for q in questions(after)]


@LAW
@given(reviews())
def test_what_is_open_cannot_be_signed(review: Reviewed) -> None:
    """A record with an open doubt or an unplaced phrase is refused; one without can be signed, over its content."""
    record = apply(*review)
    is_open = any(o.doubts for o in record.observations) or bool(record.unplaced)
    assert bool(blocks(record)) == is_open
    if is_open:
        with pytest.raises(InputError, match="cannot be signed"):
            sign(record, by=WHO, role="signer", time=NOW)
        return
    signed = sign(record, by=WHO, role="signer", time=NOW)
    assert signed.status == "final" and is_signed(signed)
    assert not is_signed(signed.model_copy(update={"observations": (), "id": "other"}))
    with pytest.raises(InputError, match="final"):
        sign(signed, by=WHO, role="signer", time=NOW)


@LAW
@given(reviews())
def test_words_can_be_deleted_from_a_signed_record(review: Reviewed) -> None:
    """Deleting the words of the talk, when the sound's time is over, leaves none and the signature whole."""
    record = apply(*review)
    bare = forget_words(record)
    assert content_hash(bare) == content_hash(record)
    assert forget_words(bare) == bare
    for words in ("left elbow thick", "lungs clear", "something odd"):
        places = {key: value for key, value in json.loads(to_json(bare)).items() if key != "other"}
        assert words not in json.dumps(places)
