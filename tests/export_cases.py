"""Hand-made records for the tests of exports, and what a reader sees of a form."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pypdfium2

from dictate.exam.content import content_hash
from dictate.exam.record import (
    Coverage,
    Doubt,
    Evidence,
    MadeBy,
    Measured,
    Observation,
    Other,
    Patient,
    Quantity,
    Record,
    Signature,
    Source,
    Unplaced,
)
from dictate.export import KINDS, PatientFacts, Standing, make
from dictate.lexicon import Lexicon, load

DRAFTED = datetime(2026, 5, 4, 10, 30, tzinfo=UTC)
SIGNED = datetime(2026, 5, 4, 18, 5, tzinfo=UTC)
NARRATIONS = Path(__file__).resolve().parent.parent / "scripts" / "sample_narrations"
DOUBT = Doubt(kind="side", message="The side was not said.", choices=("left", "right"))
STANDING = Standing(
    practice="Saltmarsh Veterinary Practice",
    examined=date(2026, 5, 4),
    patient=PatientFacts(number="S-1042", microchip="900012000345678", owner="Ines Ode", birth_date=date(2019, 4, 2)),
    chain_head="ab" * 32,
    chain_number=12,
)
READABLE = [kind for kind in KINDS if kind.endswith(("text", "html", "pdf"))]


def seen(site: str, number: int = 0, **more: Any) -> Observation:
    """An observation, normal unless said otherwise; its words are made of what it is."""
    given = {"status": "normal", **more}
    words = f"{site} number {number}"
    evidence = (Evidence(text=words, start=number + 1.0, end=number + 2.0, char_start=0, char_end=len(words)),)
    return Observation(id=f"{site.replace(' ', '-')}-{number}", site=site, **{"evidence": evidence, **given})


def words(text: str) -> Evidence:
    return Evidence(text=text, char_start=0, char_end=len(text))


OBSERVATIONS = (
    seen("weight", value=Measured(number=8.6, unit="kg")),
    seen("heart rate", value=Measured(number=96, unit="/min")),
    seen("heart", status="abnormal", finding="murmur", qualifiers={"grade": "2", "location": "apex"}),
    seen("heart", 1, finding="arrhythmia", present=False),
    seen("lens", side="left", status="abnormal", finding="nuclear sclerosis", stated_as="possible"),
    seen("cornea", side="left"),
    seen("cornea", 1, side="right"),
    seen("elbow", status="abnormal", finding="swelling", doubts=(DOUBT,)),
    seen("kidney", side="left", status="not_examined", qualifiers={"reason": "she would not stand still"}),
    seen(
        "teeth",
        status="abnormal",
        finding="fractured tooth",
        qualifiers={"tooth": "108", "size": Quantity(number=2, unit="mm")},
    ),
)


def record(observations: tuple[Observation, ...] = OBSERVATIONS, **more: Any) -> Record:
    """A draft of Bramble's exam with these observations."""
    given: dict[str, Any] = {
        "id": "0123456789abcdef",
        "drafted": DRAFTED,
        "patient": Patient(
            name="Bramble",
            species="dog",
            breed="Border Terrier",
            sex="female",
            neutered=True,
            age=Quantity(number=7, unit="a"),
        ),
        "observations": observations,
        "unplaced": (Unplaced(**words("something stifle").model_dump(), why="no place was found for it"),),
        "other": Other(history=(words("coughed last week"),), advice=(words("brush her teeth"),)),
        "coverage": Coverage(recorded=tuple(o.site for o in observations), not_recorded=("tongue", "blood pressure")),
        "source": Source(name="bramble.ogg", kind="sound", sha256="0" * 64),
        "made_by": MadeBy(program="dictate-exam", version="0", rule_set="test"),
        **more,
    }
    return Record(**given)


def signed(status: str = "final", **more: Any) -> Record:
    """The same exam without doubts and unplaced words, signed."""
    settled = tuple(o.model_copy(update={"doubts": ()}) for o in OBSERVATIONS)
    given = record(settled, **{"unplaced": (), "status": status, **more})
    over = content_hash(given)
    return given.model_copy(update={"signature": Signature(by="Dr Mira Holt", role="signer", time=SIGNED, over=over)})


def lexicon() -> Lexicon:
    return load()


def shown(kind: str, given: Record, standing: Standing = STANDING) -> str:
    """What a reader sees of a form: its text, with white space as one space."""
    content = make(kind, given, load(), standing)
    if kind.endswith("pdf"):
        text = " ".join(pdf_pages(content))
    elif kind.endswith("html"):
        text = Page(content.decode()).text
    else:
        text = content.decode()
    return " ".join(text.split())


def pdf_pages(content: bytes) -> list[str]:
    """The text of each page of a PDF."""
    document = pypdfium2.PdfDocument(content)
    try:
        pages = []
        for number in range(len(document)):
            page = document[number]
            text = page.get_textpage()
            pages.append(text.get_text_bounded())
            text.close()
            page.close()
        return pages
    finally:
        document.close()


class Page(HTMLParser):
    """An HTML page's text, and every tag and attribute in it."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.text = ""
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.text += data if self.tags and self.tags[-1] != "style" else ""


def narration(number: int) -> str:
    """The text of one of the sample narrations."""
    return str(json.loads((NARRATIONS / f"saltmarsh_{number:02}.json").read_text(encoding="utf-8"))["text"])
