"""Screenshots small enough to lie beside the code: as many colours as a plain page needs, not more."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image
from selenium import webdriver

COLOURS = 48


def shoot(driver: webdriver.Chrome, file: Path, *, whole: bool = False) -> None:
    """Write what the window shows; with `whole` the page down to its end, at most 2,400 pixels."""
    size = driver.get_window_size()
    if whole:
        height = driver.execute_script("return document.documentElement.scrollHeight")
        driver.set_window_size(size["width"], min(height + 143, 2400))
    image = Image.open(io.BytesIO(driver.get_screenshot_as_png())).convert("RGB")
    if whole:
        driver.set_window_size(size["width"], size["height"])
    file.parent.mkdir(parents=True, exist_ok=True)
    image.quantize(COLOURS, dither=Image.Dither.NONE).save(file, optimize=True)
