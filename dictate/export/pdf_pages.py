"""What stands on every page of a PDF: the mark of a draft, the patient, the record, the number of the page."""

from __future__ import annotations

from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

from dictate.export.document import Document

PAGE_SIDES = 16 * mm
FONT, BOLD = "FiraSans-Regular", "FiraSans-Bold"


class CountedPages(Canvas):
    """A canvas that keeps its pages until their number is known, and writes head and foot on each at the end."""

    def __init__(self, document: Document, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self._document = document
        self._pages: list[dict[str, Any]] = []

    def showPage(self) -> None:
        self._pages.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for number, page in enumerate(self._pages, start=1):
            self.__dict__.update(page)
            self._head_and_foot(f"page {number} of {len(self._pages)}")
            super().showPage()
        super().save()

    def _head_and_foot(self, counted: str) -> None:
        left, right, top = PAGE_SIDES, A4[0] - PAGE_SIDES, A4[1] - 13 * mm
        marked = self.stringWidth(self._document.page_mark, BOLD, 12)
        if self._document.page_mark:
            self.setFillColor(HexColor("#8a1c12"))
            self.setFont(BOLD, 12)
            self.drawString(left, top, self._document.page_mark)
        self.setFillColor(HexColor("#4a5458"))
        self.setFont(FONT, 8)
        self.drawRightString(right, top, _shortened(self._document.subject, right - left - marked - 5 * mm))
        self.drawString(left, 9 * mm, self._document.stamp)
        self.drawRightString(right, 9 * mm, counted)


def _shortened(text: str, width: float) -> str:
    """As much of `text` as fits in `width` points; all of it stands in the document itself."""
    lines = simpleSplit(text, FONT, 8, width) or [""]
    return lines[0] + ("…" if len(lines) > 1 else "")
