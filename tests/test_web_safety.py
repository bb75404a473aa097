"""Strangers stay out: hosts, other sites, tokens, cookies, headers, sizes; and no markup of a name becomes a page's."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from importlib import resources
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from web_cases import HOST, MARKUP, PASSWORD, Practice, draft, hidden, practice, settle_all, sign

from dictate import store as s
from dictate.errors import InputError
from dictate.web.app import make_app
from dictate.web.asking import own_address
from dictate.web.forms import LARGEST_FORM
from dictate.web.routes import WAYS
from dictate.web.server import check_network, is_loopback, make_house, serve
from dictate.web.sessions import IDLE_SECONDS, LONGEST_SECONDS, Sessions


@pytest.fixture(scope="module")
def p(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Practice]:
    with practice(tmp_path_factory.mktemp("safety")) as made:
        yield made


def test_another_host_name_is_not_answered(p: Practice) -> None:
    client = TestClient(p.app, base_url="http://saltmarsh.example")  # type: ignore[arg-type]
    assert client.get("/enter").status_code == 400
    for host in ("127.0.0.1:8000", "localhost:1"):
        assert p.browser().client.get("/enter", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_form_that_another_site_sends_is_refused_even_with_a_token(headers: dict[str, str], p: Practice) -> None:
    browser = p.browser(p.boss)
    token = hidden(browser.get("/me").text)["form_token"]
    before = s.head(p.store)
    assert browser.client.post("/leave", data={"form_token": token}, headers=headers).status_code == 403
    assert s.head(p.store) == before and browser.get("/me").status_code == 200


def test_a_form_without_the_token_of_this_session_changes_nothing(p: Practice) -> None:
    one, other = p.browser(p.boss), p.browser(p.boss)
    foreign = hidden(other.get("/me").text)["form_token"]
    for token in ({}, {"form_token": ""}, {"form_token": foreign}):
        assert one.post("/leave", **token).status_code == 403
    assert one.get("/me").status_code == 200


def test_cookies_are_out_of_reach_of_scripts_and_other_sites(p: Practice) -> None:
    cookies = p.browser().get("/enter").headers["set-cookie"].lower()
    assert "httponly" in cookies and "samesite=strict" in cookies


def test_with_tls_the_cookie_is_bound_to_host_and_tls(tmp_path: Path) -> None:
    with s.make_store(tmp_path / "store") as made:
        s.first_administrator(made, "Reed", PASSWORD)
        client = TestClient(make_app(make_house(made, secure=True)), base_url="https://127.0.0.1")
        answer = client.get("/enter")
        assert answer.headers["set-cookie"].startswith("__Host-dictate=") and "Secure" in answer.headers["set-cookie"]
        assert "strict-transport-security" in answer.headers


def test_every_answer_forbids_what_a_page_does_not_need(p: Practice) -> None:
    for path in ("/enter", "/", "/nothing", "/own/page.js", f"/visits/{p.visit}/export/html"):
        headers = p.browser(p.signer).get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert (
            "script-src" not in headers["content-security-policy"]
            or "'unsafe-inline'" not in headers["content-security-policy"]
        )
        assert headers["x-content-type-options"] == "nosniff" and headers["x-frame-options"] == "DENY"


def test_no_template_has_script_or_style_of_its_own() -> None:
    for template in resources.files("dictate.web").joinpath("templates").iterdir():
        text = template.read_text(encoding="utf-8")
        assert not re.search(r"\sstyle=|\son\w+=|<style|javascript:", text), template.name
        assert re.findall(r"<script(?! src=\"\{\{ file\()", text) == [], template.name
        assert "| safe" not in text and "|safe" not in text, template.name


def test_every_form_that_changes_something_carries_the_token() -> None:
    for template in resources.files("dictate.web").joinpath("templates").iterdir():
        text = template.read_text(encoding="utf-8")
        for form in re.findall(r'<form method="post".*?</form>', text, flags=re.S):
            assert "token()" in form or "hidden(" in form, f"{template.name}: {form[:80]}"


def test_too_much_is_refused_before_it_is_read(p: Practice) -> None:
    browser = p.browser(p.boss)
    token = hidden(browser.get("/me").text)["form_token"]
    assert browser.post("/me/pin", form_token=token, pin="1" * (LARGEST_FORM + 1)).status_code == 413
    many = {f"field{n}": "x" for n in range(500)}
    assert browser.post("/me/pin", form_token=token, **many).status_code == 400
    list_of_days = {"list": ("days.csv", b"x" * (3 * 1024 * 1024), "text/csv")}
    assert browser.client.post("/day-list", data={"form_token": token}, files=list_of_days).status_code == 413


def test_nobody_is_sent_to_another_site_after_logging_in(p: Practice) -> None:
    for address in (
        "//elsewhere.example",
        "http://elsewhere.example/",
        "/\\elsewhere.example",
        "javascript:alert(1)",
        "/a\nb",
    ):
        assert own_address(address) == "/"
    assert own_address("/visits/1/review?at=a#b") == "/visits/1/review?at=a#b"
    browser = p.browser()
    answer = browser.send("/enter", "/enter", name="Reed", password=PASSWORD, next="//elsewhere.example")
    assert answer.status_code == 303 and answer.headers["location"] == "/"


def test_logging_in_gives_a_new_session_and_logging_out_ends_it(p: Practice) -> None:
    browser = p.browser()
    browser.get("/enter")
    before = browser.client.cookies["dictate"]
    assert browser.send("/enter", "/enter", name="reed", password=PASSWORD).status_code == 303
    token = browser.client.cookies["dictate"]
    assert token != before and browser.get("/me").status_code == 200
    browser.send("/me", "/leave")
    browser.client.cookies.set("dictate", token)
    assert browser.get("/me").status_code == 303


def test_a_wrong_name_and_a_wrong_password_are_told_in_the_same_words(tmp_path: Path) -> None:
    with practice(tmp_path) as p:
        told = set()
        for name in ("Reed", "Nobody"):
            answer = p.browser().send("/enter", "/enter", name=name, password="wrong words here")
            assert answer.status_code == 403
            told |= set(re.findall(r'role="alert"><p>(.*?)</p>', answer.text))
        assert len(told) == 1


def test_after_failures_even_the_right_password_has_to_wait(tmp_path: Path) -> None:
    with practice(tmp_path) as p:
        for _ in range(3):
            p.browser().send("/enter", "/enter", name="Tern", password="wrong words here")
        answer = p.browser().send("/enter", "/enter", name="Tern", password=PASSWORD)
        assert answer.status_code == 403 and "too many failed tries" in answer.text.lower()


def test_a_session_ends_when_idle_and_after_a_day_of_work() -> None:
    clock = [0.0]
    sessions = Sessions(lambda: clock[0])
    token = sessions.open(1)
    for _ in range(int(LONGEST_SECONDS / (IDLE_SECONDS - 1))):
        clock[0] += IDLE_SECONDS - 1
        assert sessions.find(token)
    clock[0] += IDLE_SECONDS - 1
    assert sessions.find(token) is None
    token = sessions.open(1)
    clock[0] += IDLE_SECONDS
    assert sessions.find(token) is None


def test_a_closed_account_and_a_changed_password_end_the_sessions(tmp_path: Path) -> None:
    with practice(tmp_path) as p:
        closed, changed = p.browser(p.reviewer), p.browser(p.signer)
        s.change_account(p.store, p.reviewer.id, by=p.boss, active=False)
        assert closed.get("/me").status_code == 303
        answer = p.browser(p.signer).send(
            "/me", "/me/password", old=PASSWORD, new="other reeds here", again="other reeds here"
        )
        assert answer.status_code == 303 and changed.get("/me").status_code == 303


def test_the_first_account_needs_the_printed_key_and_is_made_once(tmp_path: Path) -> None:
    with s.make_store(tmp_path / "store") as made:
        house = make_house(made)
        client = TestClient(make_app(house), base_url=HOST, follow_redirects=False)
        assert client.get("/enter").status_code == 403
        assert client.get("/first?key=guess").status_code == 403
        token = hidden(client.get(f"/first?key={house.first_key}").text)["form_token"]
        form = {"form_token": token, "name": "Reed", "password": PASSWORD, "again": PASSWORD, "signs": "on"}
        assert client.post("/first", data=form).status_code == 403
        assert not s.has_accounts(made)
        assert client.post("/first", data={**form, "key": house.first_key}).status_code == 303
        assert client.get("/me").status_code == 200
        assert s.account_named(made, "Reed").roles == {"administrator", "reviewer", "signer"}
        token = hidden(client.get("/me").text)["form_token"]
        form = {**form, "form_token": token, "name": "Other", "key": house.first_key}
        assert client.post("/first", data=form).status_code == 403


def test_others_reach_the_pages_only_with_tls_and_accounts(tmp_path: Path) -> None:
    assert is_loopback("127.0.0.1") and is_loopback("::1") and is_loopback("localhost")
    assert not is_loopback("0.0.0.0") and not is_loopback("192.168.1.4") and not is_loopback("saltmarsh")
    with pytest.raises(InputError, match="TLS"):
        check_network("0.0.0.0", None, None)
    certificate, key = tmp_path / "c.pem", tmp_path / "k.pem"
    certificate.touch(), key.touch()
    with pytest.raises(InputError, match="together"):
        check_network("127.0.0.1", certificate, None)
    assert check_network("0.0.0.0", certificate, key)
    s.make_store(tmp_path / "store").close()
    with pytest.raises(InputError, match="first account"):
        serve((), store=str(tmp_path / "store"), host="0.0.0.0", certificate=certificate, key=key, open_browser=False)


class Tags(HTMLParser):
    """All tags of a page with their attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def test_markup_in_names_notes_and_talk_stays_text_on_every_page(tmp_path: Path) -> None:
    record = draft(name=MARKUP, notes=MARKUP)
    record = record.model_copy(update={"talk": MARKUP + (record.talk or "")[len(MARKUP) :]})
    with practice(tmp_path, record=record, patient_name=MARKUP[:70], owner=MARKUP) as p:
        settle_pages = [f"/visits/{p.visit}/review"]
        browser = p.browser(p.signer)
        pages = [browser.get(path).text for path in settle_pages]
        settle_all(p, p.signer)
        assert sign(p, p.signer).status_code == 303
        for way in WAYS:
            if (
                way.method == "GET"
                and "{kind}" not in way.path
                and "{name}" not in way.path
                and not way.path.endswith("sound")
            ):
                number = p.patient.id if way.path.startswith("/patients") else p.visit
                who = p.boss if way.path == "/people" else p.signer
                pages.append(p.browser(who).get(way.path.replace("{number:int}", str(number))).text)
        pages.append(browser.get("/find?patient=" + "script").text)
        assert sum("&lt;script&gt;" in page for page in pages) >= 8
        for page in pages:
            tags = Tags()
            tags.feed(page)
            assert all(tag != "img" and not any(name.startswith("on") for name in given) for tag, given in tags.found)
            assert all("src" in given for tag, given in tags.found if tag == "script")
