"""Names and notes with markup, formulas or hidden characters come out harmless in every form."""

from __future__ import annotations

import csv
import io
import json
import re

import pytest
from export_cases import READABLE, Page, lexicon, pdf_pages, record, seen, shown, words
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.exam.record import Other, Patient, Record
from dictate.export import KINDS, PatientFacts, Standing, file_name, make
from dictate.export.harmless import cell, clean, for_file_name
from dictate.lexicon import Lexicon

MARKUP = "<script>alert(1)</script><img src=x onerror=alert(1)>&amp;</td><b>Rex</b>"
FORMULAS = [
    "=1+1",
    "+1",
    "-1+1",
    "@SUM(A1)",
    '=HYPERLINK("http://x","y")',
    "=cmd|' /C calc'!A0",
    "＝1+1",
    "\t=1+1",
    "\r=1",
]
HIDDEN = ["Re\u202ex", "Re\x00x", "Re\u2066x\u2069", "Re\ufeffx", "Re\x1b[31mx", "Re\u2028x"]


def named(name: str) -> tuple[Record, Standing]:
    """A record in which everything that comes from outside is `name`."""
    observation = seen("skin", status="abnormal", finding="mass", qualifiers={"location": name, name or "key": name})
    given = record(
        (observation, seen("tail", status="not_examined", qualifiers={"reason": name})),
        patient=Patient(name=name, breed=name),
        other=Other(history=(words(name),), advice=(words(name),)),
        unplaced=(),
    )
    return given, Standing(practice=name, patient=PatientFacts(number=name, microchip=name, owner=name))


def test_markup_is_text_in_html() -> None:
    """A name made of markup is shown as it is written and adds no element and no attribute to the page."""
    plain = Page(make("html", *_with("Rex")).decode())
    marked = Page(make("html", *_with(MARKUP)).decode())
    assert set(marked.tags) == set(plain.tags)
    assert set(marked.attributes) == set(plain.attributes)
    assert marked.tags.count("script") == marked.tags.count("img") == marked.tags.count("b") == 0
    assert "<script>alert(1)</script>" in marked.text


def test_html_brings_nothing_from_elsewhere() -> None:
    """The page has no script, link, image, form or event, and its own policy forbids them."""
    page = Page(make("html", *_with("Rex")).decode())
    assert not {"script", "link", "img", "form", "iframe", "object", "a"} & set(page.tags)
    assert not [name for name, _ in page.attributes if name.startswith("on") or name in ("src", "href", "style")]
    assert ("content", "default-src 'none'; style-src 'unsafe-inline'") in page.attributes


def test_markup_is_text_in_pdf() -> None:
    """Markup in a name is printed as it is written, and no action, link or file is put into the PDF."""
    content = make("pdf", *_with(MARKUP))
    assert "<script>alert(1)</script>" in " ".join(" ".join(pdf_pages(content)).split())
    assert not re.search(rb"/(JavaScript|JS|Launch|URI|OpenAction|AA|EmbeddedFile)\b", content)


@pytest.mark.parametrize("formula", FORMULAS)
def test_no_cell_of_a_table_is_a_formula(formula: str) -> None:
    """In CSV every cell that would begin like a formula begins with an apostrophe, and the words stay readable."""
    given, standing = named(formula)
    cells = [
        c for row in csv.reader(io.StringIO(make("csv", given, lexicon(), standing).decode("utf-8-sig"))) for c in row
    ]
    assert not [c for c in cells if c.startswith(("=", "+", "-", "@", "\t", "\r", "＝"))]
    assert f"'{clean(formula)}" in cells


@pytest.mark.parametrize("formula", FORMULAS)
def test_no_line_of_plain_text_is_a_formula(formula: str) -> None:
    """Pasted into a spreadsheet no line of the text is a formula."""
    for kind in ("text", "owner-text", "anaesthesia-text"):
        given, standing = named(formula)
        lines = make(kind, given, lexicon(), standing).decode().splitlines()
        assert not [line for line in lines if line.startswith(("=", "+", "-", "@", "\t", "＝"))]


@pytest.mark.parametrize("kind", READABLE)
@pytest.mark.parametrize("name", HIDDEN)
def test_hidden_characters_are_taken_out(kind: str, name: str) -> None:
    """Controls and marks that turn the direction of writing do not reach a reader's page."""
    given, standing = named(name)
    text = make(kind, given, lexicon(), standing)
    if not kind.endswith("pdf"):
        assert not set("\x00\x1b\u202e\u2066\u2069\ufeff\u2028") & set(text.decode())
    assert "Re x" in shown(kind, given, standing) or "Re [31mx" in shown(kind, given, standing)


@settings(deadline=None, max_examples=40)
@given(name=st.text(max_size=40))
def test_any_text_gives_a_good_form(name: str) -> None:
    """Whatever the text, each form is made, is valid in its own kind, and tables keep their number of columns."""
    given_record, standing = named(name)
    for kind in KINDS:
        content = make(kind, given_record, lexicon(), standing)
        if kind == "fhir":
            assert json.loads(content)["resourceType"] == "Bundle"
        if kind == "csv":
            rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))
            assert len({len(row) for row in rows}) == 1
        if kind == "pdf":
            assert content.startswith(b"%PDF") and pdf_pages(content)


@given(text=st.text())
def test_cleaning_is_done_once(text: str) -> None:
    """Cleaned text is one line without hidden characters, and cleaning it again changes nothing."""
    assert clean(clean(text)) == clean(text)
    assert len(clean(text).splitlines()) <= 1
    assert not cell(text).startswith(("=", "+", "-", "@"))


@given(name=st.text())
def test_file_names_are_harmless(name: str) -> None:
    """A file's name has letters, digits, "-" and "." alone, whatever the patient is called."""
    given_record, standing = named(name)
    for kind in KINDS:
        assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9.-]*", file_name(given_record, kind, standing))
        assert ".." not in file_name(given_record, kind, standing)
    assert len(for_file_name(name)) <= 40


def _with(name: str) -> tuple[Record, Lexicon, Standing]:
    given, standing = named(name)
    return given, lexicon(), standing
