"""The pages of the review in a real browser: a server in a thread that times its own answers, and headless Chromium.

Used by `walk_review.py` and by the tests in a browser; needs chromium, its driver and selenium.
"""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import uvicorn
from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dictate.web.app import make_app
from dictate.web.asking import House

CHROMIUM, DRIVER = shutil.which("chromium") or shutil.which("google-chrome"), shutil.which("chromedriver")
MISSING = "" if CHROMIUM and DRIVER else "chromium or its driver is not installed"


@dataclass
class Answered:
    """What the server answered, and how long it took from the first byte asked to the last sent: on the clock, and of
    the processor (of this whole process, so the one who walks is counted in)."""

    method: str
    path: str
    milliseconds: float
    processor: float
    status: int


@dataclass
class Timed:
    """An application whose answers are timed."""

    app: ASGIApp
    answers: list[Answered] = field(default_factory=list)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        begin, worked, status = time.perf_counter(), time.process_time(), 0

        async def noted(message: Message) -> None:
            nonlocal status
            status = message.get("status", status)
            await send(message)
            if message["type"] == "http.response.body" and not message.get("more_body"):
                took, used = (time.perf_counter() - begin) * 1000, (time.process_time() - worked) * 1000
                self.answers.append(Answered(scope["method"], scope["path"], took, used, status))

        await self.app(scope, receive, noted)


@contextmanager
def serving(house: House) -> Iterator[tuple[str, Timed]]:
    """The pages on a free port of loopback, for as long as the block lasts; their address, and the timed answers."""
    timed = Timed(make_app(house))
    with socket.socket() as bound:
        bound.bind(("127.0.0.1", 0))
        server = uvicorn.Server(uvicorn.Config(timed, log_level="error", lifespan="off"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [bound]}, daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{bound.getsockname()[1]}", timed
        finally:
            server.should_exit = True
            thread.join(timeout=5)


@contextmanager
def browser(
    downloads: Path, *, width: int = 1280, height: int = 900, dark: bool = False, speech: Path | None = None
) -> Iterator[webdriver.Chrome]:
    """Headless Chromium; what it downloads goes into a folder, what its microphone hears is the WAV file `speech`, from
    when the microphone is opened."""
    options = webdriver.ChromeOptions()
    options.binary_location = str(CHROMIUM)
    for argument in (
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--hide-scrollbars",
        "--mute-audio",
        "--lang=en-GB",
        "--autoplay-policy=no-user-gesture-required",
        "--use-fake-device-for-media-stream",  # a microphone that beeps, and no question whether it may be used
        "--use-fake-ui-for-media-stream",
        f"--window-size={width},{height}",
        *([f"--use-file-for-fake-audio-capture={speech}%noloop"] if speech else []),
        *(["--blink-settings=preferredColorScheme=0"] if dark else []),
    ):
        options.add_argument(argument)
    options.add_experimental_option("prefs", {"download.default_directory": str(downloads)})
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(str(DRIVER)))
    try:
        yield driver
    finally:
        driver.quit()


@dataclass
class Keyboard:
    """The keyboard of somebody who uses nothing else; it counts what is pressed."""

    driver: webdriver.Chrome
    pressed: int = 0

    def press(self, *keys: str) -> None:
        """Press keys one after the other, without waiting for a page."""
        for key in keys:
            ActionChains(self.driver).send_keys(key).perform()
            self.pressed += 1

    def go(self, *keys: str) -> float:
        """Press keys and wait for the page to which they lead; milliseconds from the request until it was shown."""
        mark = "window.left = true"
        self.driver.execute_script(mark)
        self.press(*keys)
        return self.arrived()

    def write(self, text: str) -> None:
        for letter in text:
            self.press(letter)

    def arrived(self) -> float:
        """Wait until a page that was not there before is loaded; its own time in milliseconds."""
        until = time.monotonic() + 20
        shown = "performance.getEntriesByType('navigation')[0].loadEventEnd"
        ready = f"return !window.left && document.readyState === 'complete' && {shown}"
        while time.monotonic() < until:
            if (end := self.driver.execute_script(ready)) and end > 0:
                return float(end)
            time.sleep(0.01)
        focus = self.driver.execute_script("return document.activeElement.outerHTML.slice(0, 200)")
        raise TimeoutError(f"no new page came; still at {self.driver.current_url}, focus on {focus}")

    def tab_to(self, text: str, *, key: str = "\ue004") -> None:
        """Press Tab until the focus is on a link or button whose text begins so."""
        told = "return (document.activeElement.textContent || document.activeElement.value || '').trim()"
        for _ in range(200):
            self.press(key)
            if self.driver.execute_script(told).startswith(text):
                return
        raise LookupError(f"Tab does not lead to “{text}”")
