"""Makers for the tests of the pages: a practice with its people, a small draft with doubts, and browsers logged in."""

from __future__ import annotations

import atexit
import hashlib
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import httpx
from starlette.testclient import TestClient

from dictate import store as s
from dictate.exam.record import (
    Coverage,
    Doubt,
    Evidence,
    MadeBy,
    Measured,
    Observation,
    Other,
    Patient,
    Record,
    Source,
    Unplaced,
)
from dictate.web.app import make_app
from dictate.web.asking import House
from dictate.web.clips import wav
from dictate.web.server import make_house

HOST = "http://127.0.0.1"
PASSWORD, PIN = "saltmarsh reeds", "274951"
NOW = datetime(2026, 5, 4, 10, 30, tzinfo=UTC)
TALK = "weight 8.6 the lens is hazy right ear canal sore heart sounds normal and the stifle was fine brush her teeth"
SOUND = wav(bytes(2 * 16_000 * 20))
MARKUP = '<script>alert("x")</script>&<img src=x onerror=alert(1)>=1+2'


def quote(text: str) -> Evidence:
    at = TALK.index(text)
    return Evidence(text=text, start=at / 10, end=(at + len(text)) / 10, char_start=at, char_end=at + len(text))


SIDE = Doubt(kind="side", message="The side was not said.", choices=("left", "right", "both"))
VALUE = Doubt(kind="unit", message="8.6 was said without a unit.", choices=("8.6 kg", "8.6 [lb_av]"))


def draft(*, sound: bytes = SOUND, name: str | None = "Bramble", notes: str = "") -> Record:
    """A draft with two doubts and an unplaced phrase."""
    said = (
        Observation(id="w", site="weight", status="normal", value=Measured(number=8.6), doubts=(VALUE,),
                    evidence=(quote("weight 8.6"),)),
        Observation(id="l", site="lens", status="abnormal", finding="opacity", doubts=(SIDE,),
                    evidence=(quote("the lens is hazy"),)),
        Observation(id="e", site="ear canal", side="right", status="abnormal", finding="pain",
                    qualifiers={"character": notes} if notes else {}, evidence=(quote("right ear canal sore"),)),
        Observation(id="h", site="heart", status="normal", evidence=(quote("heart sounds normal"),)),
    )  # fmt: skip
    return Record(
        id=hashlib.sha256(sound).hexdigest()[:16],
        drafted=NOW,
        patient=Patient(name=name, species="dog"),
        observations=said,
        unplaced=(Unplaced(**quote("the stifle was fine").model_dump(), why="no place was found for it"),),
        other=Other(advice=(quote("brush her teeth"),)),
        coverage=Coverage(recorded=("weight", "lens", "ear canal", "heart"), not_recorded=("gait", "teeth")),
        source=Source(name="bramble.wav", kind="sound", sha256=hashlib.sha256(sound).hexdigest()),
        made_by=MadeBy(program="dictate-exam", version="0", rule_set="test"),
        talk=TALK,
    )


@dataclass(frozen=True)
class Practice:
    """A store with its people and one draft of a patient; `visit` is the draft's."""

    house: House
    boss: s.Account
    signer: s.Account
    reviewer: s.Account
    patient: s.Patient
    visit: int
    app: object

    @property
    def store(self) -> s.Store:
        return self.house.store

    def browser(self, account: s.Account | None = None) -> Browser:
        client = TestClient(self.app, base_url=HOST, follow_redirects=False)  # type: ignore[arg-type]
        if account is not None:
            client.cookies.set("dictate", self.house.sessions.open(account.id))
        return Browser(client)

    def record(self) -> Record:
        return s.working(self.store, self.visit).record


@dataclass(frozen=True)
class Browser:
    """A browser that sends forms with what stands hidden in the page they are on."""

    client: TestClient

    def get(self, path: str) -> httpx.Response:
        return self.client.get(path)

    def send(self, page: str, action: str, **fields: object) -> httpx.Response:
        """Load `page`, then send `fields` to `action` with the page's token and, unless given, its state."""
        text = self.get(page).text
        return self.post(action, **{**hidden(text), **fields})

    def post(self, action: str, **fields: object) -> httpx.Response:
        return self.client.post(action, data=fields)


def hidden(text: str) -> dict[str, str]:
    """The token of a page's forms, and what else names the state that it shows."""
    found = {}
    for name in ("form_token", "state", "question", "parent", "next", "seen", "patient", "version", "phrase", "of"):
        if match := re.search(rf'<input type="hidden" name="{name}" value="([^"]*)">', text):
            found[name] = match[1]
    return found


@cache
def _people() -> Path:
    """A store with the practice's people in it, made once: hashing passwords takes its time."""
    folder = Path(tempfile.mkdtemp(prefix="dictate-tests-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    with s.make_store(folder / "store") as made:
        boss = s.first_administrator(made, "Reed", PASSWORD, title="veterinarian")
        signer = s.add_account(made, "Tern", PASSWORD, {"signer"}, by=boss)
        s.set_pin(made, signer.id, PIN, by=signer, password=PASSWORD)
        s.add_account(made, "Knot", PASSWORD, {"reviewer"}, by=boss)
        s.add_account(made, "Spare", PASSWORD, {"reviewer"}, by=boss)
    return folder / "store"


@contextmanager
def practice(
    folder: Path, *, record: Record | None = None, patient_name: str = "Bramble", owner: str = "A. Sedge"
) -> Iterator[Practice]:
    """A practice in this folder; its draft's visit has a patient, and its sound is kept."""
    shutil.copytree(_people(), folder / "store")
    with s.open_store(folder / "store") as made:
        boss, signer, reviewer = (s.account_named(made, name) for name in ("Reed", "Tern", "Knot"))
        (folder / "bramble.wav").write_bytes(SOUND)
        facts = s.Facts(name=patient_name, species="dog", practice_number="1042", owner=owner)
        patient = s.add_patient(made, facts, by=signer)
        added = s.add_draft(made, record or draft(), sound=folder / "bramble.wav")
        s.assign_patient(made, added.visit.id, patient.id, by=signer, expected=added.visit.version)
        house = make_house(made, practice="Saltmarsh")
        yield Practice(house, boss, signer, reviewer, patient, added.visit.id, make_app(house))


def settle_all(p: Practice, account: s.Account) -> None:
    """Answer every question with its first digit, or dismiss the phrase."""
    browser = p.browser(account)
    for _ in range(20):
        page = browser.get(f"/visits/{p.visit}/review")
        if page.status_code == 303:
            return
        key = "d" if "It is a finding" in page.text else "1"
        browser.post(f"/visits/{p.visit}/review", **hidden(page.text), key=key)
    raise AssertionError("the questions do not come to an end")


def sign(p: Practice, account: s.Account, *, secret: str = PIN) -> httpx.Response:
    return p.browser(account).send(f"/visits/{p.visit}/sign", f"/visits/{p.visit}/sign", secret=secret)
