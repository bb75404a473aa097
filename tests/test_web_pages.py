"""The other pages: day list, finding, patients, whose visit it is, people, own words, comparison; and their values."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime
from html import unescape
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from web_cases import PASSWORD, SOUND, Practice, draft, hidden, practice, settle_all, sign

from dictate import store as s
from dictate.exam.record import Measured, Observation
from dictate.lexicon import load
from dictate.review import Point, Replace, Series, typed
from dictate.review.decisions import now
from dictate.web.chart import HEIGHT, WIDTH, chart
from dictate.web.editing import fields_of, made_of


@pytest.fixture
def p(tmp_path: Path) -> Iterator[Practice]:
    with practice(tmp_path) as made:
        yield made


def another(p: Practice, folder: Path, *, name: str | None = "Bramble", mark: bytes = b"\0\0") -> int:
    """One more draft, of a visit that has no patient yet."""
    sound = SOUND + mark
    (folder / "another.wav").write_bytes(sound)
    return s.add_draft(p.store, draft(sound=sound, name=name), sound=folder / "another.wav").visit.id


def test_the_day_shows_its_visits_and_the_days_beside_it(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    day = s.visit(p.store, p.visit).date
    page = browser.get(f"/?day={day}").text
    assert "Bramble" in page and "1042" in page and "draft, not signed" in page
    assert f'href="/?day={date.fromordinal(day.toordinal() + 1)}"' in page
    assert "No visits on this day" in browser.get("/?day=2001-02-03").text
    assert browser.get("/?day=yesterday").status_code == 200


def test_an_administrator_alone_sees_no_patients(p: Practice) -> None:
    assert p.boss.roles == {"administrator"}
    page = p.browser(p.boss).get(f"/?day={s.visit(p.store, p.visit).date}").text
    assert "Bramble" not in page


def test_a_day_list_is_taken_in_and_a_faulty_row_is_named(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    for content, status, told in (
        (b"date,time,patient,number,owner\n2026-05-05,09:20,Pickle,77,B. Holm\n", 200, "1 visits new"),
        (b"date,patient\n2026-05-05,Moss\nsoon,Wren\n", 400, "soon"),
    ):
        token = hidden(browser.get("/").text)["form_token"]
        files = {"list": ("days.csv", content, "text/csv")}
        answer = browser.client.post("/day-list", data={"form_token": token}, files=files)
        assert answer.status_code == status and told in answer.text
    page = browser.get("/?day=2026-05-05").text
    assert "Pickle" in page and "Moss" not in page, "a list with a fault changes nothing"


def test_drafts_wait_in_the_order_of_how_much_there_is_to_look_at(p: Practice, tmp_path: Path) -> None:
    another(p, tmp_path, name="Sorrel")
    browser = p.browser(p.reviewer)
    page = browser.get(f"/visits/{p.visit}/review").text
    browser.post(f"/visits/{p.visit}/review", **hidden(page), key="1")
    page = browser.get("/waiting").text
    assert page.index("Sorrel (bramble.wav)") < page.index(">Bramble<")
    assert [int(n) for n in re.findall(r"<strong>(\d+)</strong>", page)] == [3, 2]


def test_a_visit_without_a_patient_gets_the_planned_one_another_or_a_new_one(p: Practice, tmp_path: Path) -> None:
    browser = p.browser(p.reviewer)
    visit = another(p, tmp_path)
    day = s.visit(p.store, visit).date
    planned = s.add_visit(p.store, patient_id=p.patient.id, day=day, time="09:40", reason="cough", by=p.reviewer)
    page = browser.get(f"/visits/{visit}/who").text
    assert "09:40 Bramble" in page and "cough" in page and "1042" in page
    assert browser.post(f"/visits/{visit}/who", **hidden(page), planned=str(planned.id)).status_code == 303
    assert s.visit(p.store, visit).time == "09:40"

    second = another(p, tmp_path, mark=b"\1\0")
    page = browser.get(f"/visits/{second}/who?words=sedge").text
    sent = {"form_token": hidden(page)["form_token"], "version": hidden(page)["version"]}
    assert browser.post(f"/visits/{second}/who", **sent, patient=str(p.patient.id)).status_code == 303

    third = another(p, tmp_path, name="Wren", mark=b"\2\0")
    page = browser.get(f"/visits/{third}/who").text
    new = {"new": "1", "name": "Wren", "species": "cat", "practice_number": "1042", "born": "2020-02-30"}
    sent = {"form_token": hidden(page)["form_token"], "version": hidden(page)["version"]}
    assert "is no day" in unescape(browser.post(f"/visits/{third}/who", **sent, **new).text)
    assert "another patient" in browser.post(f"/visits/{third}/who", **sent, **{**new, "born": ""}).text
    good = {**new, "born": "2020-02-29", "practice_number": "1043"}
    assert browser.post(f"/visits/{third}/who", **sent, **good).status_code == 303
    made = s.visit(p.store, third).patient
    assert made is not None and made.facts.born == date(2020, 2, 29)


def test_two_patients_of_one_name_on_one_day_are_shown_before_one_signs(p: Practice) -> None:
    other = s.add_patient(p.store, s.Facts(name="Bramble", practice_number="2077", owner="C. Reeve"), by=p.signer)
    s.add_visit(p.store, patient_id=other.id, day=s.visit(p.store, p.visit).date, by=p.signer)
    settle_all(p, p.reviewer)
    page = p.browser(p.signer).get(f"/visits/{p.visit}/sign").text
    assert "Is this the right patient?" in page and "2077" in page and "C. Reeve" in page


def test_facts_of_a_patient_change_with_a_reason_and_never_over_somebody_else(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    page = hidden(browser.get(f"/patients/{p.patient.id}").text)
    facts = {"name": "Bramble", "species": "dog", "practice_number": "1042", "microchip": "900111000222333"}
    assert browser.post(f"/patients/{p.patient.id}", **page, **facts, why="").status_code == 400
    assert browser.post(f"/patients/{p.patient.id}", **page, **facts, why="chip read").status_code == 303
    assert browser.post(f"/patients/{p.patient.id}", **page, **facts, why="late").status_code == 409
    assert "900111000222333" in browser.get(f"/patients/{p.patient.id}").text


def test_visits_are_found_by_patient_day_site_and_finding(p: Practice) -> None:
    settle_all(p, p.reviewer)
    sign(p, p.signer)
    browser = p.browser(p.reviewer)
    for query in ("patient=bramb", "patient=1042", "site=lens", "finding=opacity", "since=2020-01-01&patient=sedge"):
        assert f'href="/visits/{p.visit}"' in browser.get(f"/find?{query}").text, query
    for query in ("patient=wren", "finding=nuclear+sclerosis", "until=2001-01-01"):
        assert "No visit fits" in browser.get(f"/find?{query}").text, query


def test_an_administrator_makes_accounts_and_takes_roles_away(p: Practice) -> None:
    browser = p.browser(p.boss)
    sent = {"name": "Plover", "title": "veterinarian", "password": PASSWORD, "roles": ["reviewer", "signer"]}
    assert browser.send("/people", "/people", **sent).status_code == 303
    made = s.account_named(p.store, "Plover")
    assert made.roles == {"reviewer", "signer"} and made.title == "veterinarian"
    assert browser.send("/people", "/people", **{**sent, "password": "short", "name": "Rail"}).status_code == 400
    browser.send("/people", f"/people/{made.id}", roles=["reviewer"], active="on", title="veterinarian")
    assert s.account(p.store, made.id).roles == {"reviewer"}


def test_a_mishearing_corrected_twice_is_offered_and_only_taken_by_a_person(p: Practice, tmp_path: Path) -> None:
    for mark in (b"\3\0", b"\4\0"):
        sound = SOUND + mark
        record = draft(sound=sound)
        said = record.observations[1]
        heard = said.evidence[0].model_copy(update={"text": "the lenz is hazy"})
        record = record.model_copy(
            update={"observations": (*record.observations[:1], said.model_copy(update={"evidence": (heard,)}))}
        )
        visit = s.add_draft(p.store, record).visit
        becomes = said.model_copy(update={"side": "left", "doubts": (), "evidence": (typed("x", "Knot"),)})
        made = Replace(by="Knot", time=now(), observations=("l",), becomes=(becomes,), words="the lens is hazy")
        s.decide(p.store, visit.id, [made], by=p.reviewer, state=s.working(p.store, visit.id).state)
    browser = p.browser(p.reviewer)
    page = browser.get("/words").text
    assert "“lenz”" in page and "corrected 2 times" in page
    own = p.house.words.folder / "mishearings.csv"
    assert not own.exists()
    token = hidden(page)["form_token"]
    assert browser.post("/words", form_token=token, heard="lenz", meant="heart", answer="take").status_code == 409
    assert browser.post("/words", form_token=token, heard="lenz", meant="lens", answer="take").status_code == 303
    assert "lenz,lens" in own.read_text(encoding="utf-8")
    assert any(row.heard == "lenz" for row in p.house.words.lexicon.mishearings)
    assert "Nothing is offered" in browser.get("/words").text


def test_the_comparison_shows_signed_visits_with_every_value_in_words(p: Practice, tmp_path: Path) -> None:
    settle_all(p, p.reviewer)
    sign(p, p.signer)
    page = p.browser(p.reviewer).get(f"/patients/{p.patient.id}/compare").text
    assert re.search(r'<svg [^>]*role="img" aria-label="weight: 8\.6 kg on ', page)
    assert "First looked at" in page and "opacity" in page


def test_a_comparison_of_some_visits_says_so_and_leads_to_that_of_all(
    p: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    settle_all(p, p.reviewer)
    sign(p, p.signer)
    monkeypatch.setattr("dictate.web.pages.comparing.NEWEST", 0)
    browser = p.browser(p.reviewer)
    page = browser.get(f"/patients/{p.patient.id}/compare").text
    assert "Only the newest 0 visits are compared" in page and "opacity" not in page
    whole = browser.get(f"/patients/{p.patient.id}/compare?visits=all").text
    assert "Only the newest" not in whole and "opacity" in whole


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 10**6), st.floats(-1e6, 1e6)), min_size=1, max_size=30))
def test_every_value_lies_inside_its_chart_and_later_ones_never_further_left(values: list[tuple[int, float]]) -> None:
    points = tuple(Point(datetime.fromtimestamp(t * 1000, UTC), n) for t, n in sorted(values))
    drawn = chart(Series("weight", "kg", points))
    assert all(0 <= m.x <= WIDTH and 0 <= m.y <= HEIGHT for m in drawn.marks)
    assert [m.x for m in drawn.marks] == sorted(m.x for m in drawn.marks)
    assert len(drawn.line.split()) == len(points) and drawn.told.count(" on ") == len(points)


LEXICON = load(None)
PAIRED = [site.site for site in LEXICON.sites if site.paired]
SINGLE = [site.site for site in LEXICON.sites if not site.paired]


@st.composite
def alike(draw: st.DrawFn) -> tuple[Observation, ...]:
    """One observation, or both sides of one."""
    paired = draw(st.booleans())
    status = draw(st.sampled_from(["normal", "abnormal", "not_examined"]))
    seen = status != "not_examined"
    finding = draw(st.sampled_from([None, *(f.finding for f in LEXICON.findings)])) if seen else None
    one = Observation(
        id="a",
        site=draw(st.sampled_from(PAIRED if paired else SINGLE)),
        side=draw(st.sampled_from(["left", "right"])) if paired else None,
        status=status,
        finding=finding,
        present=not (finding and status == "normal") or draw(st.booleans()),
        stated_as=draw(st.sampled_from(["certain", "possible"])) if seen else "certain",
        value=draw(
            st.none() | st.builds(Measured, number=st.integers(0, 500), unit=st.sampled_from(["kg", "/min", None]))
        )
        if seen
        else None,
        qualifiers={"reason": "she would not stand still"}
        if not seen
        else draw(st.sampled_from([{}, {"severity": "mild"}])),
    )
    both = one.model_copy(update={"id": "b", "side": {"left": "right", "right": "left"}.get(one.side or "")})
    return (one, both) if paired and draw(st.booleans()) else (one,)


@settings(deadline=None)
@given(alike())
def test_a_form_that_is_sent_back_as_it_was_says_the_same(was: tuple[Observation, ...]) -> None:
    made = made_of(fields_of(was), LEXICON, by="Knot", was=was)
    same = {o.id: o.model_copy(update={"evidence": ()}) for o in was}
    assert {o.id: o.model_copy(update={"evidence": ()}) for o in made} == same
