"""Screenshots of the room display in headless Chromium: a monitor and a tablet, light and dark, every state.

    python scripts/walk_room.py [--shots tests/walk]

What is shown is an invented exam (`tests/live_cases.py`). Letters are set for two metres (`dictate/live/pages/size.js`
has the rule and its source; `tests/test_live_room.py` measures them, and the contrast, in the same browser).
"""

from __future__ import annotations

import argparse
import shutil
import sys
import time
from pathlib import Path
from typing import Any

from shots import shoot

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests")]

from live_cases import full_view  # noqa: E402

from dictate.live.board import Board  # noqa: E402
from dictate.live.room import Room  # noqa: E402
from dictate.live.serving import RoomServer  # noqa: E402

# Name, width, height and diagonal of the screen, the look, and what is otherwise than in the full view.
SHOTS: tuple[tuple[str, int, int, int, str, dict[str, Any]], ...] = (
    ("room-asks", 1920, 1080, 24, "light", {}),
    ("room-dark", 1920, 1080, 24, "dark", {}),
    ("room-listens", 1920, 1080, 24, "light", {"questions": (), "waiting": 0}),
    (
        "room-missing", 1920, 1080, 24, "light",
        {"questions": (), "waiting": 0, "said": ("forelimbs: carpus, shoulder", "nothing yet of: hindlimbs, perineum")},
    ),
    ("room-paused", 1920, 1080, 24, "light", {"state": "paused", "heard": "", "provisional": ""}),
    (
        "room-trouble", 1920, 1080, 24, "dark",
        {"questions": (), "waiting": 0, "troubles": ("sound: the microphone was lost",)},
    ),
    ("room-finished", 1920, 1080, 24, "light", {"state": "finished", "questions": (), "waiting": 0, "provisional": ""}),
    ("room-tablet", 1180, 820, 11, "light", {}),
    ("room-tablet-listens", 1180, 820, 11, "dark", {"questions": (), "waiting": 0}),
    ("room-tablet-upright", 820, 1180, 11, "light", {}),
)  # fmt: skip


def browser() -> Any:
    """Headless Chromium."""
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    options = Options()
    options.binary_location = str(shutil.which("chromium"))
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"):
        options.add_argument(argument)
    return webdriver.Chrome(options=options, service=Service(str(shutil.which("chromedriver"))))


def main() -> int:
    """Write the screenshots."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--shots", type=Path, default=HERE.parent / "tests" / "walk")
    options = parser.parse_args()
    driver = browser()
    board = Board(full_view())
    board.level = -24.0
    try:
        for name, width, height, inches, look, changes in SHOTS:
            board.show(**vars_of(full_view(**changes)))
            with RoomServer(Room(board=board, key="k" * 24, inches=inches), "127.0.0.1", 0) as server:
                screen = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
                told = screen | {"screenWidth": width, "screenHeight": height}
                driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", told)
                emulated = {"features": [{"name": "prefers-color-scheme", "value": look}]}
                driver.execute_cdp_cmd("Emulation.setEmulatedMedia", emulated)
                driver.get(server.address())
                ends = time.monotonic() + 20
                ready = "document.fonts.status === 'loaded' && document.querySelector('#clock').textContent"
                while not driver.execute_script(f"return {ready}") and time.monotonic() < ends:
                    time.sleep(0.1)
                time.sleep(0.5)
                shoot(driver, options.shots / f"{name}.png")
                print(options.shots / f"{name}.png", flush=True)
    finally:
        driver.quit()
    return 0


def vars_of(view: Any) -> dict[str, Any]:
    """The fields of a view as they are."""
    return {name: getattr(view, name) for name in view.__dataclass_fields__}


if __name__ == "__main__":
    raise SystemExit(main())
