"""A document as one HTML page for the screen and the printer: no script, nothing from elsewhere, its own style."""

from __future__ import annotations

from functools import cache
from importlib import resources

from jinja2 import Environment, StrictUndefined, Template

from dictate.export.document import Document, with_texts
from dictate.export.harmless import clean


def as_html(document: Document) -> str:
    """The page. All text is escaped; the running head is repeated on every printed page."""
    return _template().render(document=with_texts(document, clean))


@cache
def _template() -> Template:
    text = resources.files("dictate.export").joinpath("document.html").read_text(encoding="utf-8")
    return Environment(autoescape=True, undefined=StrictUndefined, keep_trailing_newline=True).from_string(text)
