"""The review in the pages: answers, corrections, undo, two people at once, signing, amending, moving, handing on."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from web_cases import PIN, SOUND, Practice, draft, hidden, practice, settle_all, sign

from dictate import store as s
from dictate.exam.record import from_json, to_json
from dictate.export import KINDS
from dictate.web.taking_in import FOLDER, open_or_make, take_in


@pytest.fixture
def p(tmp_path: Path) -> Iterator[Practice]:
    with practice(tmp_path) as made:
        yield made


def question(p: Practice, text: str = "") -> str:
    """The review page of the question that says `text`, or of the first."""
    browser, path = p.browser(p.reviewer), f"/visits/{p.visit}/review"
    for _ in range(8):
        page = browser.get(path).text
        if text in page:
            return page
        path = unescape(re.search(r'href="([^"]*)" data-key="s"', page)[1])  # type: ignore[index]
    raise AssertionError(f"no question says {text}")


def of(p: Practice, site: str) -> list[tuple[str | None, str, str | None]]:
    return [(o.side, o.status, o.finding) for o in p.record().observations if o.site == site]


def test_a_question_shows_the_words_around_it_its_sound_and_a_key_for_each_choice(p: Practice) -> None:
    page = question(p, "The side was not said")
    assert "<mark>the lens is hazy</mark>" in page and "weight 8.6" in page and "right ear canal sore" in page
    assert re.search(r'data-sound="/visits/\d+/sound\?from=[\d.]+&amp;to=[\d.]+" data-key="p"', page)
    keys = re.findall(r'name="key" value="(\w)" data-key="(\w)"', page)
    assert all(value == key for value, key in keys)
    assert {key for key, _ in keys} >= {"1", "2", "3", "t", "e", "n"}
    assert "of 3" in page and "2 doubts, 1 not placed" in page


def test_one_key_settles_a_doubt_and_leads_to_the_next(p: Practice) -> None:
    page = question(p, "The side was not said")
    answer = p.browser(p.reviewer).post(f"/visits/{p.visit}/review", **hidden(page), key="3")
    assert answer.status_code == 303 and "/review?at=" in answer.headers["location"]
    assert of(p, "lens") == [("left", "abnormal", "opacity"), ("right", "abnormal", "opacity")]


@pytest.fixture(autouse=True)
def one_session(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every browser of an account is the same one here, so that a page of one is sent by the next."""
    sessions: dict[int, object] = {}
    fresh = Practice.browser

    def same(self: Practice, account: s.Account | None = None) -> object:
        if account is None:
            return fresh(self, account)
        return sessions.setdefault(account.id, fresh(self, account))

    monkeypatch.setattr(Practice, "browser", same)


def test_cannot_be_told_is_printed_as_such(p: Practice) -> None:
    page = question(p, "The side was not said")
    p.browser(p.reviewer).post(f"/visits/{p.visit}/review", **hidden(page), key="t")
    assert "side not stated" in p.browser(p.reviewer).get(f"/visits/{p.visit}/whole").text


def test_not_examined_and_not_a_finding_have_a_key_each(p: Practice) -> None:
    p.browser(p.reviewer).post(f"/visits/{p.visit}/review", **hidden(question(p, "without a unit")), key="e")
    p.browser(p.reviewer).post(f"/visits/{p.visit}/review", **hidden(question(p, "side was not said")), key="n")
    assert of(p, "weight") == [(None, "not_examined", None)] and of(p, "lens") == []


def test_undo_takes_back_the_newest_and_asks_again(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    browser.post(f"/visits/{p.visit}/review", **hidden(question(p, "side was not said")), key="1")
    assert of(p, "lens") == [("left", "abnormal", "opacity")]
    page = browser.get(f"/visits/{p.visit}/review").text
    answer = browser.post(f"/visits/{p.visit}/undo", **hidden(page), back=f"/visits/{p.visit}/review")
    assert of(p, "lens") == [(None, "abnormal", "opacity")]
    assert "The side was not said" in browser.get(answer.headers["location"]).text


def test_a_correction_in_fields_takes_the_place_of_what_was_drafted(p: Practice) -> None:
    said = {"site": "lens", "side": "right", "what": "abnormal", "finding": "nuclear scl"}
    fields = {"ids": "l", **said, "detail": "severity", "detail_text": "mild"}
    answer = p.browser(p.reviewer).post(
        f"/visits/{p.visit}/correct", **hidden(question(p, "side was not said")), **fields
    )
    assert answer.status_code == 303
    assert of(p, "lens") == [("right", "abnormal", "nuclear sclerosis")]
    changed = next(o for o in p.record().observations if o.site == "lens")
    assert changed.qualifiers == {"severity": "mild"} and changed.id == "l"
    assert changed.evidence[0].text == "the lens is hazy", "what was heard stays beside what was typed"


def test_a_correction_in_words_is_read_like_the_talk(p: Practice) -> None:
    page = question(p, "side was not said")
    sent = {**hidden(page), "ids": "l", "words": "left lens has mild nuclear sclerosis", "by_words": "1"}
    assert p.browser(p.reviewer).post(f"/visits/{p.visit}/correct", **sent).status_code == 303
    assert of(p, "lens") == [("left", "abnormal", "nuclear sclerosis")]
    words = {**hidden(question(p)), "ids": "h", "words": "la la la", "by_words": "1"}
    assert p.browser(p.reviewer).post(f"/visits/{p.visit}/correct", **words).status_code == 400
    assert of(p, "heart") == [(None, "normal", None)]


def test_a_phrase_is_placed_by_a_few_letters_of_its_site(p: Practice) -> None:
    page = question(p, "It is a finding")
    fields = {"site": "stif", "side": "both", "what": "normal"}
    assert p.browser(p.reviewer).post(f"/visits/{p.visit}/place", **hidden(page), **fields).status_code == 303
    assert of(p, "stifle") == [("left", "normal", None), ("right", "normal", None)]
    assert p.record().unplaced == ()


def test_a_phrase_is_dismissed_or_kept_in_a_section_by_one_key_and_never_lost(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    browser.post(f"/visits/{p.visit}/review", **hidden(question(p, "It is a finding")), key="d")
    assert [u.text for u in p.record().dismissed] == ["the stifle was fine"]
    assert "the stifle was fine" in browser.get(f"/visits/{p.visit}/whole").text
    browser.post(f"/visits/{p.visit}/undo", **hidden(browser.get(f"/visits/{p.visit}/whole").text), back="/")
    browser.post(f"/visits/{p.visit}/review", **hidden(question(p, "It is a finding")), key="1")
    assert [e.text for e in p.record().other.history] == ["the stifle was fine"]


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"site": "zzzz", "what": "normal"}, "no site fits"),
        ({"site": "lens", "what": "abnormal", "side": ""}, "which side"),
        ({"site": "weight", "what": "normal", "number": "heavy"}, "is no number"),
        ({"site": "lens", "side": "left", "what": ""}, "choose one of"),
        ({"site": "lens", "side": "left", "what": "absent"}, "name what was looked for"),
    ],
)
def test_a_form_that_cannot_be_used_is_told_in_one_line_and_changes_nothing(
    fields: dict[str, str], told: str, p: Practice
) -> None:
    page = p.browser(p.reviewer).get(f"/visits/{p.visit}/whole?edit=new").text
    before = p.record()
    answer = p.browser(p.reviewer).post(f"/visits/{p.visit}/add", **hidden(page), **fields)
    assert answer.status_code == 400 and told in answer.text
    assert p.record() == before


def test_a_site_that_nobody_spoke_of_is_listed_and_can_be_marked(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    page = browser.get(f"/visits/{p.visit}/whole?mark=gait").text
    sent = {"site": "gait", "what": "not examined", "reason": "she was carried in"}
    assert browser.post(f"/visits/{p.visit}/add", **hidden(page), **sent).status_code == 303
    assert of(p, "gait") == [(None, "not_examined", None)]
    assert "gait" not in p.record().coverage.not_recorded
    assert "she was carried in" in browser.get(f"/visits/{p.visit}/whole").text


def test_sections_and_what_was_told_of_the_patient_are_edited_in_place(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    page = browser.get(f"/visits/{p.visit}/whole?edit=section-advice").text
    browser.post(
        f"/visits/{p.visit}/section", **hidden(page), section="advice", text="brush her teeth\nweigh her monthly"
    )
    advice = p.record().other.advice
    assert [(e.text, e.by) for e in advice] == [("brush her teeth", None), ("weigh her monthly", "Knot")]
    page = browser.get(f"/visits/{p.visit}/whole?edit=patient").text
    told = {"name": "Bramble", "species": "dog", "breed": "Terrier", "sex": "female", "age": "7", "age_unit": "a"}
    assert browser.post(f"/visits/{p.visit}/patient", **hidden(page), **told).status_code == 303
    assert p.record().patient.breed == "Terrier" and p.record().patient.age.number == 7  # type: ignore[union-attr]


def test_of_two_reviewers_at_once_no_answer_is_lost_and_the_second_is_told(p: Practice) -> None:
    page_of_first, page_of_second = question(p, "side was not said"), None
    second = p.browser(p.signer)
    for path in (f"/visits/{p.visit}/review", f"/visits/{p.visit}/review?at=" + hidden(page_of_first)["next"]):
        page_of_second = second.get(path).text
        if "without a unit" in page_of_second:
            break
    p.browser(p.reviewer).post(f"/visits/{p.visit}/review", **hidden(page_of_first), key="1")
    answer = second.post(f"/visits/{p.visit}/review", **hidden(page_of_second or ""), key="1")
    assert answer.status_code == 409
    assert "Knot" in answer.text and "Your answer was not recorded" in answer.text
    assert of(p, "lens") == [("left", "abnormal", "opacity")]
    again = second.post(f"/visits/{p.visit}/review", **hidden(answer.text), key="1")
    assert again.status_code == 303
    weight = next(o for o in p.record().observations if o.site == "weight")
    assert weight.value is not None and weight.value.unit == "kg"
    assert of(p, "lens") == [("left", "abnormal", "opacity")]


def test_an_answer_to_what_is_not_asked_any_more_is_told_and_not_applied(p: Practice) -> None:
    page = question(p, "side was not said")
    p.browser(p.reviewer).post(f"/visits/{p.visit}/review", **hidden(page), key="1")
    answer = p.browser(p.reviewer).post(f"/visits/{p.visit}/review", **hidden(page), key="2")
    assert answer.status_code == 409 and of(p, "lens") == [("left", "abnormal", "opacity")]


def test_what_is_open_blocks_the_signature(p: Practice) -> None:
    page = p.browser(p.signer).get(f"/visits/{p.visit}/sign").text
    assert "It cannot be signed yet" in page and 'name="secret"' not in page
    answer = p.browser(p.signer).post(
        f"/visits/{p.visit}/sign", form_token=hidden(page)["form_token"], secret=PIN, seen="", patient=str(p.patient.id)
    )
    assert answer.status_code in (400, 409) and s.signed(p.store, p.visit) == ()


def test_a_record_is_signed_with_a_pin_and_shown_with_its_signature(p: Practice) -> None:
    settle_all(p, p.reviewer)
    page = p.browser(p.signer).get(f"/visits/{p.visit}/sign").text
    assert "Abnormal findings" in page and "Not recorded" in page and "number 1042" in page
    assert 'name="secret"' not in p.browser(p.reviewer).get(f"/visits/{p.visit}/sign").text
    assert sign(p, p.signer, secret="000000").status_code == 400
    assert sign(p, p.signer).status_code == 303
    signed = s.signed(p.store, p.visit)[-1]
    page = p.browser(p.reviewer).get(f"/visits/{p.visit}/record").text
    assert signed.status == "final" and signed.signature.record_hash in page and "Tern" in page


def test_what_was_signed_in_one_window_cannot_be_signed_in_another(p: Practice) -> None:
    settle_all(p, p.reviewer)
    page = p.browser(p.signer).get(f"/visits/{p.visit}/sign").text
    assert sign(p, p.signer).status_code == 303
    answer = p.browser(p.signer).post(f"/visits/{p.visit}/sign", **hidden(page), secret=PIN)
    assert answer.status_code == 409 and len(s.signed(p.store, p.visit)) == 1


def test_a_page_that_is_older_than_the_last_decision_signs_nothing(p: Practice) -> None:
    settle_all(p, p.reviewer)
    page = p.browser(p.signer).get(f"/visits/{p.visit}/sign").text
    browser = p.browser(p.reviewer)
    form = browser.get(f"/visits/{p.visit}/whole?mark=gait").text
    browser.post(f"/visits/{p.visit}/add", **hidden(form), site="gait", what="normal")
    answer = p.browser(p.signer).post(f"/visits/{p.visit}/sign", **hidden(page), secret=PIN)
    assert answer.status_code == 409 and s.signed(p.store, p.visit) == ()


def test_an_amendment_needs_a_change_and_a_reason_and_every_state_stays(p: Practice) -> None:
    settle_all(p, p.reviewer)
    sign(p, p.signer)
    browser = p.browser(p.signer)
    form = browser.get(f"/visits/{p.visit}/whole?mark=gait").text
    assert "amendment" in form
    browser.post(f"/visits/{p.visit}/add", **hidden(form), site="gait", what="normal")
    page = hidden(browser.get(f"/visits/{p.visit}/sign").text)
    assert browser.post(f"/visits/{p.visit}/amend", **page, secret=PIN, why="").status_code == 400
    page = hidden(browser.get(f"/visits/{p.visit}/sign").text)
    assert browser.post(f"/visits/{p.visit}/amend", **page, secret=PIN, why="gait was left out").status_code == 303
    states = s.signed(p.store, p.visit)
    assert [state.status for state in states] == ["final", "amended"] and states[-1].why == "gait was left out"
    first = browser.get(f"/visits/{p.visit}/record?version=1").text
    assert "A newer one was signed" in first and "gait was left out" in browser.get(f"/visits/{p.visit}/record").text


def test_a_record_entered_in_error_stays_readable_and_says_so(p: Practice) -> None:
    settle_all(p, p.reviewer)
    sign(p, p.signer)
    browser = p.browser(p.signer)
    page = browser.get(f"/visits/{p.visit}/record").text
    error = page[page.index("/error") :]
    sent = {
        "form_token": hidden(page)["form_token"],
        "version": hidden(error)["version"],
        "secret": PIN,
        "why": "wrong day",
    }
    assert browser.post(f"/visits/{p.visit}/error", **sent).status_code == 303
    page = browser.get(f"/visits/{p.visit}/record").text
    assert "Do not use" in page and "wrong day" in page and "opacity" in page


def test_a_visit_is_moved_to_the_right_patient_by_a_signature(p: Practice) -> None:
    settle_all(p, p.reviewer)
    sign(p, p.signer)
    other = s.add_patient(p.store, s.Facts(name="Bramble", species="dog", practice_number="2077"), by=p.signer)
    browser = p.browser(p.signer)
    page = browser.get(f"/visits/{p.visit}/record").text
    sent = {**hidden(page[page.index("/move") :]), "number": "2077", "why": "two of one name", "secret": PIN}
    sent["form_token"] = hidden(page)["form_token"]
    assert browser.post(f"/visits/{p.visit}/move", **sent).status_code == 303
    moved = s.visit(p.store, p.visit).patient
    assert moved is not None and moved.id == other.id
    assert "two of one name" in browser.get(f"/visits/{p.visit}/history").text


def test_every_form_of_export_comes_as_a_file_and_is_noted(p: Practice) -> None:
    settle_all(p, p.reviewer)
    sign(p, p.signer)
    for kind in KINDS:
        answer = p.browser(p.reviewer).get(f"/visits/{p.visit}/export/{kind}")
        assert answer.status_code == 200 and answer.content
        assert answer.headers["content-disposition"].startswith("attachment")
    history = p.browser(p.reviewer).get(f"/visits/{p.visit}/history").text
    assert "exported: fhir" in history and "Knot" in history


def test_the_sound_of_a_stretch_is_cut_and_nothing_else_is_sent(p: Practice) -> None:
    answer = p.browser(p.reviewer).get(f"/visits/{p.visit}/sound?from=2&to=3")
    assert answer.headers["content-type"] == "audio/wav"
    assert len(answer.content) == pytest.approx((1 + 2 * 0.4) * 32_000, abs=200)
    for wrong in ("from=x&to=2", "from=nan&to=2", "from=-1&to=2", "from=1"):
        assert p.browser(p.reviewer).get(f"/visits/{p.visit}/sound?{wrong}").status_code == 400


def test_consent_refused_erases_the_sound_and_the_pages_say_so(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    browser.post(f"/visits/{p.visit}/consent", **hidden(browser.get(f"/visits/{p.visit}/history").text), given="no")
    assert browser.get(f"/visits/{p.visit}/sound?from=2&to=3").status_code == 404
    page = browser.get(f"/visits/{p.visit}/review").text
    assert "data-sound" not in page and "no sound" in page.lower()


def test_drafts_given_as_files_go_into_a_store_beside_them(tmp_path: Path) -> None:
    sound = tmp_path / "bramble.wav"
    file = tmp_path / "bramble.record.json"
    file.write_text(to_json(draft()), encoding="utf-8")
    sound.write_bytes(SOUND)
    for _ in range(2):
        with open_or_make(None, [file]) as made:
            page, notes = take_in(made, [file])
            assert notes == () and page == "/visits/1"
            assert s.recordings_of(made, 1)[0].kept
    assert (tmp_path / FOLDER).is_dir()
    assert from_json(file.read_text(encoding="utf-8")) == draft(), "the draft's file stays as it is"
