"""Every form that a record can be handed on in, by name. A form is a pure function: the same record, the same bytes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from dictate.errors import InputError
from dictate.exam.record import Record
from dictate.export.anaesthesia import anaesthesia
from dictate.export.document import Document
from dictate.export.full import full
from dictate.export.harmless import for_file_name
from dictate.export.owner import owner
from dictate.export.standing import Standing, examined
from dictate.lexicon.tables import Lexicon

Many = Sequence[tuple[Record, Standing]]


@dataclass(frozen=True, slots=True)
class Export:
    """A form: its name, what it is called in a menu, the end of its file's name, its media type.

    `for_many` tells that one file takes many records; otherwise `make` wants exactly one.
    """

    kind: str
    title: str
    ending: str
    media_type: str
    make: Callable[[Many, Lexicon], bytes]
    for_many: bool = False


def _text(document: Document) -> bytes:
    from dictate.export.as_text import as_text

    return as_text(document).encode()


def _html(document: Document) -> bytes:
    from dictate.export.as_html import as_html

    return as_html(document).encode()


def _pdf(document: Document) -> bytes:
    from dictate.export.as_pdf import as_pdf

    return as_pdf(document)


def _fhir(records: Many, lexicon: Lexicon) -> bytes:
    from dictate.export.fhir import as_fhir

    ((record, standing),) = records
    return as_fhir(record, lexicon, standing).encode()


def _csv(records: Many, lexicon: Lexicon) -> bytes:
    from dictate.export.as_csv import as_csv

    return as_csv(records).encode()


def _parquet(records: Many, lexicon: Lexicon) -> bytes:
    from dictate.export.as_parquet import as_parquet

    return as_parquet(records)


FORMS = (
    ("text", "plain text", ".txt", "text/plain; charset=utf-8", _text),
    ("html", "page for the printer (HTML)", ".html", "text/html; charset=utf-8", _html),
    ("pdf", "PDF", ".pdf", "application/pdf", _pdf),
)
SHEETS = (
    ("", "record", "exam record", full),
    ("owner-", "owner-sheet", "owner's sheet", owner),
    ("anaesthesia-", "anaesthesia-sheet", "sheet before anaesthesia", anaesthesia),
)


def _of(
    sheet: Callable[[Record, Lexicon, Standing], Document], form: Callable[[Document], bytes]
) -> Callable[[Many, Lexicon], bytes]:
    def make_one(records: Many, lexicon: Lexicon) -> bytes:
        ((record, standing),) = records
        return form(sheet(record, lexicon, standing))

    return make_one


KINDS: Mapping[str, Export] = MappingProxyType(
    {
        export.kind: export
        for export in (
            *(
                Export(f"{prefix}{kind}", f"{title}, {form}", f".{name}{ending}", media, _of(sheet, write))
                for prefix, name, title, sheet in SHEETS
                for kind, form, ending, media, write in FORMS
            ),
            Export("fhir", "HL7 FHIR R4 bundle", ".fhir.json", "application/fhir+json", _fhir),
            Export("csv", "table, CSV", ".csv", "text/csv; charset=utf-8", _csv, for_many=True),
            Export("parquet", "table, Parquet", ".parquet", "application/vnd.apache.parquet", _parquet, for_many=True),
        )
    }
)


def make(kind: str, record: Record, lexicon: Lexicon, standing: Standing | None = None) -> bytes:
    """The record in one form; text forms are UTF-8. InputError for a form that there is not."""
    return make_table(kind, [(record, standing or Standing())], lexicon)


def make_table(kind: str, records: Many, lexicon: Lexicon) -> bytes:
    """Many records in a form that takes many, or one in any form."""
    if kind not in KINDS:
        raise InputError(f"there is no such form; the forms are {', '.join(KINDS)}", where=kind)
    if len(records) != 1 and not KINDS[kind].for_many:
        raise InputError(f"this form takes one record, {len(records)} are given", where=kind)
    return KINDS[kind].make(records, lexicon)


def file_name(record: Record, kind: str, standing: Standing | None = None) -> str:
    """A harmless name for a file or download: patient, practice number, day, form; letters, digits, "-" and "."."""
    number = for_file_name(standing.patient.number) if standing else ""
    day = f"{examined(record, standing or Standing()) or record.drafted:%Y-%m-%d}"
    draft = "draft" if record.status == "preliminary" else ""
    parts = (for_file_name(record.patient.name or "") or "patient", number, day, for_file_name(record.id)[:8], draft)
    return "-".join(part for part in parts if part) + KINDS[kind].ending
