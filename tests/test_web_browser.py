"""The pages in a real browser: axe-core on every page, light and dark, enlarged, on a tablet; keys and sound."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from web_cases import Practice, draft, practice, settle_all, sign

from dictate.sound import Sound

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "scripts"))
pytest.importorskip("selenium", reason="selenium is not installed")
from review_pages import MISSING, Keyboard, browser, serving

pytestmark = pytest.mark.skipif(bool(MISSING), reason=MISSING)
AXE = Path(__file__).resolve().parent / "third_party" / "axe.min.js"
RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
CHECK = """
const done = arguments[arguments.length - 1];
axe.run({runOnly: %s, resultTypes: ['violations']}).then(
  (found) => done(found.violations.map((v) => [v.impact, v.id, v.nodes.slice(0, 3).map((n) => n.html.slice(0, 160))])),
  (error) => done([['critical', String(error), []]]));
"""


@pytest.fixture(scope="module")
def driver(tmp_path_factory: pytest.TempPathFactory) -> Iterator[object]:
    with browser(tmp_path_factory.mktemp("downloads")) as started:
        yield started


@pytest.fixture(scope="module")
def p(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Practice]:
    """A practice with one open draft and a signed record of an earlier one."""
    import hashlib

    from web_cases import SOUND

    from dictate import store as s

    folder = tmp_path_factory.mktemp("browser")
    with practice(folder) as made:
        settle_all(made, made.signer)
        assert sign(made, made.signer).status_code == 303
        other = SOUND + b"\0\0"
        (folder / "second.wav").write_bytes(other)
        second = draft(sound=other)
        assert second.source.sha256 == hashlib.sha256(other).hexdigest()
        added = s.add_draft(made.store, second, sound=folder / "second.wav")
        yield replace(made, visit=added.visit.id)


@pytest.fixture(scope="module")
def at(p: Practice) -> Iterator[str]:
    with serving(p.house) as (address, _):
        yield address


def enter(driver, at: str, p: Practice, account, look: str = "light") -> None:  # type: ignore[no-untyped-def]
    driver.get(f"{at}/own/mark.svg")
    driver.delete_all_cookies()
    cookie = {"name": "dictate", "value": p.house.sessions.open(account.id), "sameSite": "Strict", "httpOnly": True}
    driver.add_cookie(cookie)
    driver.add_cookie({"name": "look", "value": look, "sameSite": "Strict"})


def pages(p: Practice) -> list[str]:
    v = f"/visits/{p.visit}"
    return [
        "/", "/waiting", "/find?patient=bram&finding=opacity", "/words", "/me", "/patients/1", "/patients/1/compare",
        f"{v}/who", f"{v}/review", f"{v}/whole", f"{v}/whole?edit=l#line-l", f"{v}/whole?mark=gait#mark",
        f"{v}/whole?edit=patient", f"{v}/whole?edit=section-advice", f"{v}/sign", f"{v}/history",
        "/visits/1/record", "/visits/1/whole", "/nothing",
    ]  # fmt: skip


def faults(driver) -> list:  # type: ignore[no-untyped-def, type-arg]
    """What axe finds, with everything unfolded; what it calls minor is left out."""
    driver.execute_script("for (const fold of document.querySelectorAll('details')) fold.open = true")
    driver.execute_script(AXE.read_text(encoding="utf-8"))
    return [
        fault
        for fault in driver.execute_async_script(CHECK % list(RULES))
        if fault[0] in ("serious", "critical", "moderate")
    ]


@pytest.mark.parametrize("look", ["light", "dark"])
def test_axe_finds_nothing_serious_on_any_page(look: str, driver, at: str, p: Practice) -> None:  # type: ignore[no-untyped-def]
    enter(driver, at, p, p.signer, look)
    found = {}
    for path in pages(p):
        driver.get(at + path)
        if wrong := faults(driver):
            found[path] = wrong
    for path in ("/people",):
        enter(driver, at, p, p.boss, look)
        driver.get(at + path)
        if wrong := faults(driver):
            found[path] = wrong
    driver.delete_all_cookies()
    driver.get(f"{at}/enter")
    assert faults(driver) == [] and found == {}


@pytest.mark.parametrize(("width", "what"), [(640, "1280 pixels enlarged to 200 %"), (768, "a tablet"), (320, "400 %")])
def test_no_page_has_to_be_moved_sideways(width: int, what: str, driver, at: str, p: Practice) -> None:  # type: ignore[no-untyped-def]
    enter(driver, at, p, p.signer)
    try:
        for path in pages(p):
            driver.execute_cdp_cmd(
                "Emulation.setDeviceMetricsOverride",
                {"width": width, "height": 720, "deviceScaleFactor": 1280 / width, "mobile": False},
            )
            driver.get(at + path)
            over = driver.execute_script(
                "return document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
            assert over <= 0, f"{what}: {path} is {over} pixels too wide"
    finally:
        driver.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_no_page_breaks_the_policy_against_foreign_script_and_style(driver, at: str, p: Practice) -> None:  # type: ignore[no-untyped-def]
    enter(driver, at, p, p.signer)
    driver.get_log("browser")
    for path in pages(p):
        driver.get(at + path)
        told = [line["message"] for line in driver.get_log("browser") if "Content Security" in line["message"]]
        assert told == [], path


def test_keys_press_what_they_stand_on_and_nothing_while_one_writes(driver, at: str, p: Practice) -> None:  # type: ignore[no-untyped-def]
    enter(driver, at, p, p.signer)
    driver.get(f"{at}/visits/{p.visit}/review")
    keyboard = Keyboard(driver)
    keyboard.press("c")
    before = driver.current_url
    keyboard.write("123 n")
    assert driver.current_url == before, "digits that are typed into a correction answer nothing"
    assert driver.switch_to.active_element.get_attribute("value").endswith("123 n")
    keyboard.press("\ue00c")
    assert driver.switch_to.active_element.tag_name == "summary"
    keyboard.go("s")
    assert driver.current_url != before


def test_single_keys_can_be_turned_off(driver, at: str, p: Practice) -> None:  # type: ignore[no-untyped-def]
    enter(driver, at, p, p.signer)
    driver.add_cookie({"name": "keys", "value": "off", "sameSite": "Strict"})
    driver.get(f"{at}/visits/{p.visit}/review")
    before = driver.current_url
    Keyboard(driver).press("s", "1", "n")
    assert driver.current_url == before
    assert driver.execute_script("return document.querySelector('kbd').checkVisibility()") is False


def test_a_stretch_of_sound_is_played_by_one_key(driver, at: str, p: Practice) -> None:  # type: ignore[no-untyped-def]
    enter(driver, at, p, p.signer)
    driver.get(f"{at}/visits/{p.visit}/review")
    Keyboard(driver).press("p")
    wait = """
    const done = arguments[0];
    const until = Date.now() + 8000;
    (function look() {
      const heard = performance.getEntriesByType('resource').some((r) => r.name.includes('/sound?'));
      if (heard || Date.now() > until) done(heard); else setTimeout(look, 20);
    })();
    """
    assert driver.execute_async_script(wait)


def test_what_is_said_into_the_microphone_comes_back_as_words_to_be_read(driver, at: str, p: Practice) -> None:  # type: ignore[no-untyped-def]
    """By keyboard alone: a key listens, the same key ends it, Enter enters the words that were heard."""
    taken: list[Sound] = []

    def listen(sound: Sound) -> str:
        taken.append(sound)
        return "the gait is sound"

    p.house.hearing.listen = listen
    enter(driver, at, p, p.signer)
    driver.get(f"{at}/visits/{p.visit}/whole")
    keyboard = Keyboard(driver)
    keyboard.press("d")
    until = time.monotonic() + 10
    while not driver.find_elements("css selector", "[data-speak] [aria-pressed=true]") and time.monotonic() < until:
        time.sleep(0.05)
    time.sleep(1.5)
    keyboard.go("d")
    assert len(taken) == 1 and taken[0].seconds > 1 and np.abs(taken[0].samples).max() > 100
    assert driver.switch_to.active_element.get_attribute("value") == "the gait is sound"
    assert [fault for fault in driver.get_log("browser") if fault["level"] == "SEVERE"] == []
    keyboard.go("\ue007")
    assert "gait" in driver.find_element("css selector", ".lines").text
    driver.find_element("css selector", "form[action$='/undo'] button").click()


def test_a_page_works_without_script(driver, at: str, p: Practice) -> None:  # type: ignore[no-untyped-def]
    enter(driver, at, p, p.signer)
    driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        driver.get(f"{at}/visits/{p.visit}/review")
        driver.find_element("css selector", ".answer[value='1']").click()
        assert "/review?at=" in driver.current_url
        driver.find_element("css selector", "form[action$='/undo'] button").click()
    finally:
        driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
