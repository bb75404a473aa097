"""Every address of the pages, tried as nobody, as reviewer, as signer and as administrator."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.routing import Route
from web_cases import Practice, hidden, practice

from dictate import store as s
from dictate.web.routes import ANYBODY, WAYS, Way, pages_of


@pytest.fixture(scope="module")
def p(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Practice]:
    with practice(tmp_path_factory.mktemp("routes")) as made:
        yield made


def address(way: Way, p: Practice) -> str:
    """The way with real numbers in it; the account that is changed is one that nobody else uses."""
    number = {"people": s.account_named(p.store, "Spare").id, "patients": p.patient.id}.get(
        way.path.split("/")[1], p.visit
    )
    return way.path.replace("{number:int}", str(number)).replace("{kind}", "text").replace("{name}", "look.css")


def named(way: Way) -> str:
    return f"{way.method} {way.path}"


def test_the_application_answers_exactly_the_addresses_of_the_table(p: Practice) -> None:
    routes = [r for r in p.app.routes if isinstance(r, Route)]  # type: ignore[attr-defined]
    answered = {(m, r.path) for r in routes for m in r.methods or () if m != "HEAD"}
    assert answered == {(way.method, way.path) for way in WAYS}
    assert len(routes) == len(p.app.routes) == len(WAYS)  # type: ignore[attr-defined]


@pytest.mark.parametrize("way", WAYS, ids=named)
@pytest.mark.parametrize("who", ["nobody", "reviewer", "signer", "administrator"])
def test_an_address_is_open_to_its_roles_and_to_nobody_else(way: Way, who: str, p: Practice) -> None:
    account = {"reviewer": p.reviewer, "signer": p.signer, "administrator": p.boss}.get(who)
    browser = p.browser(account)
    token = hidden(browser.get("/me" if account else "/enter").text)["form_token"]
    before = s.head(p.store)
    path = address(way, p)
    answer = browser.get(path) if way.method == "GET" else browser.post(path, form_token=token)
    allowed = way.roles == ANYBODY or (account is not None and bool(way.roles & account.roles))
    if allowed and way.path != "/first":
        assert answer.status_code not in (401, 404, 405) and answer.status_code < 500
        assert "Your account may not do this" not in answer.text
        assert not answer.headers.get("location", "").startswith("/enter") or way.path == "/leave"
        return
    assert s.head(p.store) == before, "who may not do it changes nothing"
    if account is None and way.method == "GET" and way.path != "/first":
        assert answer.status_code == 303 and answer.headers["location"].startswith("/enter")
    else:
        assert answer.status_code == (401 if account is None and way.path != "/first" else 403)


def test_only_a_signer_signs_and_only_an_administrator_keeps_accounts() -> None:
    roles = {(way.method, way.path): way.roles for way in WAYS}
    signing = {
        path for (method, path) in roles if path.endswith(("/sign", "/amend", "/error", "/move")) and method == "POST"
    }
    assert len(signing) == 4
    assert all(roles["POST", path] == {"signer"} for path in signing)
    assert all(roles[key] == {"administrator"} for key in roles if key[1].startswith("/people"))


def test_the_links_at_the_top_lead_where_the_account_may_go(p: Practice) -> None:
    for account in (p.reviewer, p.signer, p.boss):
        browser = p.browser(account)
        assert all(browser.get(path).status_code == 200 for path, _ in pages_of(account))


def test_what_is_not_in_the_table_is_told_plainly(p: Practice) -> None:
    for path in (
        "/nothing",
        "/visits/x",
        "/visits/-1",
        "/own/../app.py",
        "/own/%2e%2e%2fapp.py",
        "/visits/1/export/../../x",
    ):
        answer = p.browser(p.signer).get(path)
        assert answer.status_code == 404, path
        assert "Traceback" not in answer.text
    assert p.browser(p.signer).get("/visits/987654").status_code == 400


def test_the_mark_is_also_where_browsers_look_for_it(p: Practice) -> None:
    """A browser that asks for the icon at the usual address gets the mark, and no session for it."""
    answer = p.browser(None).get("/favicon.ico")
    assert answer.status_code == 200 and answer.headers["content-type"] == "image/svg+xml"
    assert "set-cookie" not in answer.headers
