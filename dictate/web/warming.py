"""What is loaded once and used by many pages, loaded before anybody waits for it."""

from __future__ import annotations

import gc
from datetime import UTC, datetime

from dictate.exam.record import MadeBy, Record, Source
from dictate.export import make
from dictate.review import before_you_sign
from dictate.speech.words import Transcript
from dictate.web.asking import House
from dictate.web.pickers import name_lists


def warm_up(house: House) -> None:
    """Compile the templates, write the lists of names, load what reading typed words and writing a PDF file needs; the
    quick things first."""
    lexicon = house.words.lexicon
    for name in house.templates.list_templates():
        house.templates.get_template(name)
    name_lists(lexicon)
    before_you_sign(_nothing(), lexicon)
    make("pdf", _nothing(), lexicon)
    house.words.read(Transcript((), "", ""), lexicon)
    gc.collect()
    gc.freeze()  # what was loaded stays: looking through it for waste would hold a page up for a fifth of a second


def _nothing() -> Record:
    return Record(
        id="",
        drafted=datetime(2000, 1, 1, tzinfo=UTC),
        source=Source(name="", kind="text", sha256=""),
        made_by=MadeBy(program="", version="", rule_set=""),
        talk="",
    )
