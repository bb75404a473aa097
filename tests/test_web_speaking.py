"""What is said into the browser's microphone at the review: words in a field, entered only after a person read them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import numpy as np
import pytest
from web_cases import Browser, Practice, hidden, practice

from dictate import store as s
from dictate.sound import RATE
from dictate.web.clips import wav
from dictate.web.hearing import LARGEST, LONGEST


@pytest.fixture
def p(tmp_path: Path) -> Iterator[Practice]:
    """A practice whose program hears "the gait is sound" in whatever is said."""
    with practice(tmp_path) as made:
        made.house.hearing.listen = lambda sound: "the gait\n is sound"
        yield made


def said(browser: Browser, p: Practice, content: bytes, query: str = "edit=new") -> httpx.Response:
    page = f"/visits/{p.visit}/whole"
    token = hidden(browser.get(page).text)["form_token"]
    return browser.client.post(f"{page}?{query}", data={"form_token": token}, files={"sound": ("said.wav", content)})


def seconds(number: float) -> bytes:
    return wav(np.zeros(round(number * RATE), np.int16).tobytes())


def words_in(text: str) -> str:
    return re.search(r'<textarea id="words"[^>]*>([^<]*)</textarea>', text)[1]  # type: ignore[index]


def test_what_was_said_stands_in_a_field_and_is_entered_only_when_it_is_sent(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    before = s.head(p.store)
    page = said(browser, p, seconds(2))
    assert page.status_code == 200 and words_in(page.text) == "the gait is sound"
    assert s.head(p.store) == before and all(o.site != "gait" for o in p.record().observations)
    sent = {**hidden(page.text), "words": "the gait is sound", "by_words": "1"}
    assert browser.post(f"/visits/{p.visit}/add", **sent).status_code == 303
    (gait,) = [o for o in p.record().observations if o.site == "gait"]
    assert gait.status == "normal" and gait.evidence[-1].by == "Knot"
    assert [r.name for r in s.recordings_of(p.store, p.visit)] == ["bramble.wav"], "the sound is kept nowhere"


def test_words_given_for_a_site_are_of_that_site(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    page = said(browser, p, seconds(2), "mark=gait").text
    assert re.search(r'name="chosen" value="gait"', page)
    browser.post(f"/visits/{p.visit}/add", **hidden(page), chosen="gait", words="normal", by_words="1")
    assert [(o.site, o.status) for o in p.record().observations if o.site == "gait"] == [("gait", "normal")]


def test_words_that_name_a_site_themselves_are_taken_as_they_are(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    page = browser.get(f"/visits/{p.visit}/whole?mark=gait").text
    browser.post(f"/visits/{p.visit}/add", **hidden(page), chosen="gait", words="The gait is normal.", by_words="1")
    (gait,) = [o for o in p.record().observations if o.site == "gait"]
    assert gait.evidence[-1].text == "The gait is normal."


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "this is no WAV sound"),
        (b"ID3 something else", "this is no WAV sound"),
        (b"RIFFbroken", "What was said"),
        (seconds(LONGEST + 5), "is longer than 60 seconds"),
    ],
)
def test_what_is_no_short_sound_is_refused_in_a_sentence(content: bytes, told: str, p: Practice) -> None:
    answer = said(p.browser(p.reviewer), p, content)
    assert answer.status_code == 400 and told in answer.text and "Traceback" not in answer.text


def test_a_recording_without_speech_is_told(p: Practice) -> None:
    p.house.hearing.listen = lambda sound: " "
    assert "no speech was heard in it" in said(p.browser(p.reviewer), p, seconds(1)).text


def test_more_than_a_minute_of_sound_needs_is_not_read_at_all(p: Practice) -> None:
    answer = said(p.browser(p.reviewer), p, b"RIFF" + b"\0" * LARGEST)
    assert answer.status_code == 413


def test_the_microphone_is_open_to_this_page_alone(p: Practice) -> None:
    browser = p.browser(p.reviewer)
    assert "microphone=(self)" in browser.get(f"/visits/{p.visit}/whole").headers["permissions-policy"]
    for path in ("/", "/waiting", f"/visits/{p.visit}/review", f"/visits/{p.visit}/sign"):
        assert "microphone=()" in browser.get(path).headers["permissions-policy"]
