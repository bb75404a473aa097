"""A document as a PDF on A4. The same document gives the same bytes: no date and no random name is written into it."""

from __future__ import annotations

import io
from functools import cache
from importlib import resources
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable, KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from dictate.export.document import Block, Document, Line, with_texts
from dictate.export.harmless import clean
from dictate.export.pdf_pages import PAGE_SIDES, CountedPages

INK, GREY, RED, RULE = HexColor("#1d2326"), HexColor("#4a5458"), HexColor("#8a1c12"), HexColor("#9aa5a8")
FONT, BOLD = "FiraSans-Regular", "FiraSans-Bold"
WIDTH = A4[0] - 2 * PAGE_SIDES
LABEL = 50 * mm
FRAME = 6  # points that the library keeps free inside the margins
NOT_IN_FONT = "\N{INVERTED QUESTION MARK}"
PLAIN = ParagraphStyle("plain", fontName=FONT, fontSize=9.5, leading=12.8, textColor=INK, splitLongWords=True)
LABELS = ParagraphStyle("label", PLAIN, fontName=BOLD)
TITLE = ParagraphStyle("title", PLAIN, fontName=BOLD, fontSize=17, leading=21)
STATE = ParagraphStyle("state", PLAIN, fontName=BOLD, fontSize=10.5, leading=14)
HEAD = ParagraphStyle("head", PLAIN, fontName=BOLD, fontSize=11, leading=14)
WARNING = ParagraphStyle("warning", HEAD, textColor=RED)
SMALL = ParagraphStyle("small", PLAIN, fontSize=7.8, leading=10.2, textColor=GREY)


def as_pdf(document: Document) -> bytes:
    """The PDF's bytes. A character that the font lacks is printed as an inverted question mark, and a line says so."""
    whole = with_texts(document, clean)
    document = with_texts(whole, in_font)
    story: list[Flowable] = [Paragraph(escape(document.practice), STATE)] if document.practice else []
    story += [Paragraph(escape(document.title), TITLE), Paragraph(escape(document.state), STATE)]
    story += [Paragraph(escape(document.subject), PLAIN), Spacer(0, 4 * mm)]
    for part in document.blocks:
        story += _block(part)
    story += [_rule(), *(Paragraph(escape(line), SMALL) for line in document.closing)]
    if document != whole:
        story.append(Paragraph(f"Characters that are not in this font stand as {NOT_IN_FONT}.", SMALL))
    out = io.BytesIO()
    sheet = SimpleDocTemplate(
        out,
        pagesize=A4,
        leftMargin=PAGE_SIDES - FRAME,
        rightMargin=PAGE_SIDES - FRAME,
        topMargin=22 * mm,
        bottomMargin=18 * mm,
        title=f"{document.title}: {document.subject}",
        author=document.practice,
        subject=document.state,
        creator="dictate-exam",
        lang="en",
        invariant=1,
    )
    sheet.build(story, canvasmaker=lambda *args, **more: CountedPages(document, *args, **more))
    return out.getvalue()


@cache
def load_fonts() -> frozenset[int]:
    """Register the fonts (SIL Open Font License) with the library; the characters that they have."""
    folder = resources.files("fontpkg_fira_sans") / "files"
    fonts = [TTFont(name, str(folder / f"{name}.ttf")) for name in (FONT, BOLD)]
    for font in fonts:
        pdfmetrics.registerFont(font)
    return frozenset(fonts[0].face.charToGlyph) & frozenset(fonts[1].face.charToGlyph)


def in_font(text: str) -> str:
    """The text with every character that the fonts lack replaced."""
    known = load_fonts()
    return "".join(c if ord(c) in known else NOT_IN_FONT for c in text)


def _block(part: Block) -> list[Flowable]:
    attention = part.weight == "attention"
    note = f' <font name="{FONT}" color="#4a5458">({escape(part.note)})</font>' if part.note else ""
    head = Paragraph(escape(part.title) + note, WARNING if attention else HEAD)
    rows = [_row(line) for line in part.lines]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 6 if attention else 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 6),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, 0), 3),
        ("TOPPADDING", (0, 1), (-1, 1), 3),
        *(("SPAN", (0, n), (1, n)) for n, line in enumerate(part.lines, start=1) if not line.label),
        ("SPAN", (0, 0), (1, 0)),
        ("BOX", (0, 0), (-1, -1), 1.2, RED) if attention else ("LINEBELOW", (0, 0), (-1, 0), 0.5, RULE),
    ]
    table = Table(
        [[head, ""], *rows],
        colWidths=[LABEL, WIDTH - LABEL],
        style=TableStyle(style),
        hAlign="LEFT",
        repeatRows=1,
        splitInRow=1,
    )
    keep = [KeepTogether(table)] if len(rows) < 8 else [table]
    return [*keep, Spacer(0, 3.5 * mm)]


def _row(line: Line) -> list[Flowable | str]:
    mark = ' <font name="FiraSans-Bold" color="#8a1c12">[?]</font>' if line.open else ""
    explained = escape("; ".join(line.gloss))
    gloss = f'<br/><font size="8.4" color="#4a5458">{explained}</font>' if explained else ""
    text = Paragraph(escape(line.text) + mark + gloss, PLAIN)
    return [Paragraph(escape(line.label), LABELS), text] if line.label else [text, ""]


def _rule() -> Flowable:
    return Table(
        [[""]], colWidths=[WIDTH], rowHeights=[2 * mm], style=TableStyle([("LINEABOVE", (0, 0), (-1, 0), 0.5, RULE)])
    )
