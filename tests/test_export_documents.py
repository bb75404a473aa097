"""What every readable form of a record shows, whatever the form."""

from __future__ import annotations

from datetime import timedelta

import pytest
from export_cases import READABLE, SIGNED, STANDING, lexicon, record, seen, shown, signed, words

from dictate.errors import InputError
from dictate.exam.phrases import cautions
from dictate.exam.record import Amends as RecordAmends
from dictate.exam.record import Measured, Unplaced
from dictate.export import KINDS, Amends, Signature, Standing, make, make_table

WHOLE = ["text", "html", "pdf"]


@pytest.mark.parametrize("kind", list(KINDS))
def test_same_record_same_bytes(kind: str) -> None:
    """The same record gives the same bytes in every form."""
    assert make(kind, record(), lexicon(), STANDING) == make(kind, record(), lexicon(), STANDING)


@pytest.mark.parametrize("kind", READABLE)
def test_a_draft_says_that_it_is_one(kind: str) -> None:
    """A draft is called one, with its status, and carries no signature even where one was handed over."""
    text = shown(kind, record(), Standing(signature=Signature("Dr Mira Holt", SIGNED)))
    assert "DRAFT" in text
    assert "status: preliminary" in text
    assert "Mira Holt" not in text


@pytest.mark.parametrize("kind", READABLE)
def test_open_doubts_and_unplaced_words_are_shown(kind: str) -> None:
    """Every form of a draft shows what is not settled: the doubt, its choices, the words, and what has no place."""
    text = shown(kind, record())
    assert "To settle before signing (1)".lower() in text.lower()
    assert "The side was not said." in text
    assert "left | right" in text
    assert "something stifle" in text
    assert "[?]" in text


@pytest.mark.parametrize("kind", READABLE)
def test_cautions_stand_in_every_form(kind: str) -> None:
    """The cautions of the manual stand word for word in every form."""
    text = shown(kind, signed())
    assert all(caution in text for caution in cautions())


@pytest.mark.parametrize("kind", READABLE)
def test_a_signed_record_names_signer_time_content_and_chain(kind: str) -> None:
    """Who signed, as what, when, over which content, and the head of the chain are printed; no DRAFT is."""
    given = signed()
    text = shown(kind, given)
    assert "Dr Mira Holt (signer), 2026-05-04 18:05 UTC" in text
    assert given.signature is not None
    assert given.signature.over in text.replace(" ", "") or given.signature.over in text
    assert "ab" * 32 in text
    assert "(entry 12)" in text
    assert "DRAFT" not in text
    assert "status: final" in text


@pytest.mark.parametrize("kind", WHOLE)
def test_an_amendment_says_what_it_replaces_and_why(kind: str) -> None:
    """An amended record names the state before, the reason, and who signed that."""
    earlier = Signature("Dr Ben Aro", SIGNED - timedelta(days=1), "signer")
    standing = Standing(amends=Amends("cd" * 32, "the side was wrong", (earlier,)))
    text = shown(kind, signed("amended"), standing)
    for part in ("AMENDED", "cd" * 32, "the side was wrong", "Dr Ben Aro (signer), 2026-05-03 18:05 UTC"):
        assert part in text
    own = signed("amended", amends=RecordAmends(over="ef" * 32, reason="a typing slip"))
    assert "a typing slip" in shown(kind, own, Standing())


@pytest.mark.parametrize("kind", READABLE)
def test_a_withdrawn_record_says_so_and_by_whom(kind: str) -> None:
    """A record entered in error says that it must not be used, who said so and why."""
    standing = Standing(withdrawn=Signature("Dr Ben Aro", SIGNED), withdrawn_why="wrong patient")
    text = shown(kind, signed("entered-in-error"), standing)
    assert "ENTERED IN ERROR: do not use" in text
    assert "Dr Ben Aro" in text
    assert "wrong patient" in text


@pytest.mark.parametrize("kind", READABLE)
def test_a_final_record_without_its_signature_says_so(kind: str) -> None:
    """Where a record says that it is final and no signature came with it, the form says that."""
    assert "the signature was not handed over" in shown(kind, record((seen("tongue"),), status="final", unplaced=()))


@pytest.mark.parametrize("kind", READABLE)
def test_values_are_printed_as_measured(kind: str) -> None:
    """A value whose status is normal is printed without any judgement, however unusual it is."""
    rate = seen("heart rate", value=Measured(number=333, unit="/min"))
    text = shown(kind, record((rate,), unplaced=()))
    assert "333 /min" in text
    after = text[text.index("333 /min") + len("333 /min") :][:40].lower()
    assert not any(word in after for word in ("normal", "high", "fast", "abnormal"))


@pytest.mark.parametrize("kind", READABLE)
def test_patients_of_one_name_are_told_apart(kind: str) -> None:
    """Practice number, microchip, owner and birth date stand beside the name."""
    text = shown(kind, record())
    assert "Bramble, Border Terrier, no. S-1042, microchip 900012000345678, owner Ines Ode, born 2019-04-02" in text


@pytest.mark.parametrize("kind", WHOLE)
def test_what_was_not_examined_and_not_recorded_is_told_apart(kind: str) -> None:
    """A site that could not be examined stands with its reason; one that nobody spoke of stands as not recorded."""
    text = shown(kind, record())
    assert "she would not stand still" in text
    assert "tongue" in text[text.lower().index("not recorded") :]
    assert "kidney" not in text[text.lower().index("not recorded") :]


@pytest.mark.parametrize("kind", WHOLE)
def test_a_side_that_cannot_be_told_is_printed_as_such(kind: str) -> None:
    """What a reviewer could not tell is printed, once."""
    untold = seen("elbow", status="abnormal", finding="swelling", untold=("side not stated",))
    text = shown(kind, record((untold,), unplaced=()))
    assert text.count("side not stated") == 1


@pytest.mark.parametrize("kind", WHOLE)
def test_words_left_unplaced_by_a_reviewer_are_kept(kind: str) -> None:
    """A phrase that a reviewer left unplaced is printed; so is who typed words, and that words were deleted."""
    left = Unplaced(**words("a bit of a wobble").model_dump(), why="no place")
    deleted = Unplaced(**{**words("").model_dump(), "deleted": "0" * 64}, why="no place")
    typed = Unplaced(**{**words("ears dirty").model_dump(), "by": "Ben Aro"}, why="no place")
    text = shown(kind, signed(dismissed=(left, deleted, typed)))
    assert "a bit of a wobble" in text
    assert "words deleted with the sound" in text
    assert "(typed by Ben Aro)" in text


def test_plain_text_has_one_statement_a_line() -> None:
    """Plain text has no columns to break and no line that begins with words from outside."""
    lines = make("text", record(), lexicon(), STANDING).decode().splitlines()
    assert "* heart: murmur, grade 2, location apex" in lines
    assert all(line == "" or line.startswith("* ") or line[:1].isupper() for line in lines)


def test_unknown_forms_and_too_many_records_are_refused() -> None:
    """A form that there is not, or many records for a form that takes one, is an InputError that says so."""
    with pytest.raises(InputError, match="the forms are text, html"):
        make("fax", record(), lexicon())
    with pytest.raises(InputError, match="takes one record, 2 are given"):
        make_table("pdf", [(record(), STANDING)] * 2, lexicon())
