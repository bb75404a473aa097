"""The room display: who may see it, what it shows, its letters for two metres, and that it comes back by itself."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from live_cases import full_view, noise
from starlette.testclient import TestClient

from dictate.live.board import Board
from dictate.live.phone import PhoneSource
from dictate.live.room import Room, make_room_app
from dictate.live.serving import RoomServer
from dictate.live.view import View

KEY = "k" * 24
CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
needs_chromium = pytest.mark.skipif(not (CHROMIUM and DRIVER), reason="chromium and chromedriver are not installed")


def client(**more: Any) -> TestClient:
    return TestClient(make_room_app(Room(board=Board(full_view()), key=KEY, **more)), base_url="http://127.0.0.1")


def test_nobody_sees_the_room_without_its_key() -> None:
    """Pages, view and sound are refused without the key; with it the address is left clean and a cookie kept."""
    web = client(phone=PhoneSource())
    for address in ("/", "/microphone", "/view"):
        assert web.get(address).status_code == 403
    assert web.post("/sound?number=0&rate=16000", content=b"").status_code == 403
    answer = web.get(f"/?key={KEY}&screen=11", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/?screen=11")
    assert web.get("/").status_code == 200
    assert web.get("/", headers={"host": "elsewhere.example"}).status_code == 400


def test_pages_load_nothing_from_elsewhere() -> None:
    """The policy allows our own files alone, and every file that a page names is there."""
    web = client()
    web.cookies.set("exam-room", KEY)
    for page in ("/", "/microphone"):
        answer = web.get(page)
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        names = [part.split('"')[0] for part in answer.text.split("/own/")[1:]]
        assert names
        assert all(web.get(f"/own/{name}").status_code == 200 for name in names)
    assert web.get("/own/..%2froom.py").status_code == 404


def test_sound_of_a_phone_is_kept_once_and_in_order() -> None:
    """A piece that comes twice counts once, one ahead of its turn is asked for again, a page opened anew goes on."""
    phone = PhoneSource()
    web = client(phone=phone)
    web.cookies.set("exam-room", KEY)
    sound = noise(0.25)

    def send(number: int, page: str = "a") -> str:
        body = sound.tobytes()
        answer = web.post(
            f"/sound?from={page}&number={number}&rate=16000", content=body, headers={"origin": "http://127.0.0.1"}
        )
        return answer.text

    assert [send(0), send(0), send(2), send(1), send(2)] == ["0", "0", "0", "1", "2"]
    assert send(0, page="b") == "0"
    assert web.post("/sound?from=a&number=x&rate=16000", content=b"").status_code == 400
    stop, got = threading.Event(), 0
    for block in phone.blocks(stop):
        got += len(block.samples)
        if got >= 4 * len(sound):
            stop.set()
    assert got == 4 * len(sound)


def test_sound_of_another_rate_is_brought_to_ours() -> None:
    """A second at 48 kHz is a second at 16 kHz, but for what the resampler still holds."""
    phone = PhoneSource()
    for n in range(4):
        phone.take("a", n, 48000, np.zeros(12000, dtype=np.int16))
    phone._queue.close()
    assert sum(len(b.samples) for b in phone.blocks(threading.Event())) == pytest.approx(16000, abs=200)


@pytest.fixture
def driver() -> Iterator[Any]:
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    options = Options()
    options.binary_location = str(CHROMIUM)
    fake = ("--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream", "--ignore-certificate-errors")
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", *fake):
        options.add_argument(argument)
    browser = webdriver.Chrome(options=options, service=Service(str(DRIVER)))
    yield browser
    browser.quit()


def sized(browser: Any, width: int, height: int) -> None:
    screen = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
    told = screen | {"screenWidth": width, "screenHeight": height}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", told)


def until(browser: Any, script: str, seconds: float = 60.0) -> Any:
    ends = time.monotonic() + seconds
    while time.monotonic() < ends:
        if found := browser.execute_script(f"return {script}"):
            return found
        time.sleep(0.1)
    raise AssertionError(f"never true: {script}")


SMALLEST = """(() => {
  const shown = [...document.querySelectorAll("body *")].filter((n) => n.getClientRects().length
    && [...n.childNodes].some((c) => c.nodeType === 3 && c.textContent.trim()));
  return Math.min(...shown.map((n) => parseFloat(getComputedStyle(n).fontSize)));
})()"""
INSIDE = """[...document.querySelectorAll("#questions li, #values div, #lines li, #state, #clock, #level")]
  .filter((n) => n.getClientRects().length)
  .every((n) => { const r = n.getBoundingClientRect(), b = n.closest("main, aside, header").getBoundingClientRect();
    return r.bottom <= b.bottom + 4 && r.right <= b.right + 4; })"""
# Contrast as WCAG 2.2 defines it, of every text with what it stands on.
CONTRAST = """(() => {
  const part = (v) => v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  const light = (c) => { const [r, g, b] = c.match(/[\\d.]+/g).map((v) => part(Number(v) / 255));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const ground = (n) => { for (; n; n = n.parentElement) { const c = getComputedStyle(n).backgroundColor;
    if (!/, 0\\)$|transparent/.test(c)) return c; } return "rgb(255,255,255)"; };
  const shown = [...document.querySelectorAll("body *")].filter((n) => n.getClientRects().length
    && [...n.childNodes].some((c) => c.nodeType === 3 && c.textContent.trim()));
  return Math.min(...shown.map((n) => {
    const [a, b] = [light(getComputedStyle(n).color), light(ground(n))].sort((x, y) => y - x);
    return (a + 0.05) / (b + 0.05); }));
})()"""


@needs_chromium
@pytest.mark.parametrize(("width", "height", "inches"), [(1920, 1080, 24), (1180, 820, 11), (820, 1180, 11)])
@pytest.mark.parametrize("look", ["light", "dark"])
def test_it_can_be_read_from_two_metres(driver: Any, width: int, height: int, inches: int, look: str) -> None:
    """No letter is below 16 minutes of arc at two metres (NUREG-0700 rev. 2, 1.3.1-4), contrast is AA at least
    (WCAG 2.2, 1.4.3), and nothing that is shown is cut off."""
    emulated = {"features": [{"name": "prefers-color-scheme", "value": look}]}
    with RoomServer(Room(board=Board(full_view()), key=KEY), "127.0.0.1", 0) as server:
        sized(driver, width, height)
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", emulated)
        driver.get(server.address())
        until(driver, "document.querySelectorAll('#questions li').length === 2")
        until(driver, "document.fonts.status === 'loaded'")
        pixel = inches * 25.4 / (width**2 + height**2) ** 0.5
        capital = driver.execute_script(f"return {SMALLEST}") * 0.668 * pixel
        assert capital >= 6.283 * 2000 * 16 / 21600 - 0.1
        assert until(driver, INSIDE, 5)
        assert driver.execute_script(f"return {CONTRAST}") >= 4.5
        assert driver.execute_script("return document.documentElement.scrollHeight <= innerHeight")


@needs_chromium
def test_states_are_told_in_words_and_the_page_comes_back_by_itself(driver: Any) -> None:
    """The bar follows the level; paused is a word, a lost connection too; the view comes back with the program."""
    board = Board(full_view())
    with RoomServer(Room(board=board, key=KEY), "127.0.0.1", 0) as server:
        driver.get(server.address())
        until(driver, "document.querySelector('#state').textContent.includes('Listening')")
        until(driver, "parseFloat(document.querySelector('#level span').style.inlineSize) === 0")
        board.level = -30.0
        until(driver, "parseFloat(document.querySelector('#level span').style.inlineSize) === 50")
        board.show(state="paused")
        until(driver, "document.querySelector('#state').textContent.includes('Paused')")
        board.trouble("disk", "the sound is NOT being kept")
        until(driver, "document.querySelector('#trouble').textContent.includes('NOT being kept')")
        port = server.port
    until(driver, "document.querySelector('#state').textContent.includes('No connection')")
    with RoomServer(Room(board=Board(View(state="listening", heard="Back again.")), key=KEY), "127.0.0.1", port):
        until(driver, "document.querySelector('#heard').textContent.includes('Back again.')")


@needs_chromium
def test_words_of_a_talk_are_text_and_nothing_else(driver: Any) -> None:
    """What was heard is shown letter for letter, whatever it looks like."""
    told = "<img src=x onerror=alert(1)> & <b>bold</b>"
    with RoomServer(Room(board=Board(full_view(heard=told, provisional="")), key=KEY), "127.0.0.1", 0) as server:
        sized(driver, 1920, 1080)
        driver.get(server.address())
        until(driver, "document.querySelector('#heard').textContent.includes('<b>bold</b>')")
        assert driver.execute_script("return document.querySelectorAll('#heard img, #heard b').length") == 0


@needs_chromium
def test_a_phone_sends_its_microphone_over_https(driver: Any, tmp_path: Any) -> None:
    """With the room's own certificate the page gets the microphone, and its sound arrives."""
    from dictate.live.certificate import make_certificates

    made = make_certificates(tmp_path, ("localhost", "127.0.0.1"))
    phone = PhoneSource()
    room = Room(board=Board(), key=KEY, phone=phone, secure=True, authority=made.authority)
    with RoomServer(room, "127.0.0.1", 0, certificates=made) as server:
        driver.get(server.address("/microphone"))
        assert driver.execute_script("return window.isSecureContext")
        driver.find_element("id", "start").click()
        stop, got = threading.Event(), 0
        ends = time.monotonic() + 60
        for block in phone.blocks(stop):
            got += len(block.samples)
            if got > 16000 or time.monotonic() > ends:
                stop.set()
        assert got > 16000
        until(driver, "document.querySelector('#told').textContent === 'Sending.'", 10)
