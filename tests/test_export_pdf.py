"""The PDF: every page says what it is of; characters outside the font are not lost in silence."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from pathlib import Path

import pytest
from export_cases import STANDING, lexicon, pdf_pages, record, seen, signed, words

from dictate.exam.record import Other, Patient, Record
from dictate.export import make


def long(given: Record) -> Record:
    more = tuple(
        seen("skin", n, status="abnormal", finding="mass", qualifiers={"location": f"place {n}"}) for n in range(120)
    )
    return given.model_copy(update={"observations": (*given.observations, *more)})


@pytest.mark.parametrize("kind", ["pdf", "owner-pdf", "anaesthesia-pdf"])
def test_every_page_of_a_draft_says_draft(kind: str) -> None:
    """Each page carries DRAFT, the patient, the record and its own number of all pages."""
    pages = pdf_pages(make(kind, long(record()), lexicon(), STANDING))
    assert len(pages) > 2
    for number, page in enumerate(pages, start=1):
        assert "DRAFT" in page
        assert "Bramble, Border Terrier, no. S-1042" in page
        assert "Record 0123456789abcdef" in page
        assert f"page {number} of {len(pages)}" in page


def test_no_page_of_a_signed_record_says_draft() -> None:
    """A signed record carries no mark of a draft; a withdrawn one carries its own on each page."""
    assert not [page for page in pdf_pages(make("pdf", long(signed()), lexicon(), STANDING)) if "DRAFT" in page]
    withdrawn = pdf_pages(make("pdf", long(signed("entered-in-error")), lexicon(), STANDING))
    assert all("ENTERED IN ERROR" in page for page in withdrawn)


def test_names_of_many_scripts_are_printed() -> None:
    """Latin with all its marks, Greek and Cyrillic letters and the signs of values are in the font."""
    text = " ".join(
        pdf_pages(make("pdf", record(patient=Patient(name="Żółć Ödegård Ωμέγα Барсик ≥ µ ½ °")), lexicon()))
    )
    for part in ("Żółć", "Ödegård", "Ωμέγα", "Барсик", "≥", "½", "°"):
        assert part in text
    assert "not in this font" not in text


def test_characters_outside_the_font_are_told() -> None:
    """Where the font lacks characters, the page says so, and shows each as an inverted question mark."""
    text = " ".join(pdf_pages(make("pdf", record(patient=Patient(name="犬 Rex")), lexicon())))
    assert "¿ Rex" in text
    assert "Characters that are not in this font" in text


def test_a_long_word_stays_on_the_page() -> None:
    """A word without a gap that is longer than the line is broken, and all of it is printed."""
    word = "w" * 400
    pages = pdf_pages(make("pdf", record((seen("skin", finding="mass", qualifiers={"location": word}),)), lexicon()))
    assert "".join(" ".join(pages).split()).count("w" * 400) >= 1


def test_a_very_long_talk_is_printed_whole() -> None:
    """A remark of several pages breaks over pages and is not cut."""
    talk = " ".join(f"word{n}" for n in range(4000))
    text = " ".join(pdf_pages(make("pdf", record(other=Other(history=(words(talk),))), lexicon())))
    assert all(f"word{n}" in text for n in (0, 1999, 3999))


def test_the_bytes_do_not_hang_on_what_was_made_before() -> None:
    """A record's PDF is the same after another record was printed, and in another process."""
    first = make("pdf", record(), lexicon(), STANDING)
    make("pdf", record(patient=Patient(name="Żółć Барсик")), lexicon())
    assert make("pdf", record(), lexicon(), STANDING) == first
    script = (
        "import hashlib; from export_cases import *; "
        "print(hashlib.sha256(make('pdf', record(), lexicon(), STANDING)).hexdigest())"
    )
    told = subprocess.run(
        [sys.executable, "-c", script], cwd=Path(__file__).parent, capture_output=True, text=True, check=True
    )
    assert told.stdout.strip() == hashlib.sha256(first).hexdigest()
