"""Read the tables of the lexicon, check them, and lay a practice's own tables over them."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType, NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from dictate.errors import InputError
from dictate.lexicon.tables import FindingName, Lexicon, Row, SiteName, Source, Words

SHIPPED = Path(__file__).resolve().parent
UNPUBLISHED = ("common practice, no source", "from memory")
YES_NO = {"yes": True, "no": False, "true": True, "false": False}


def load(folder_over: Path | None = None, *, shipped: Path = SHIPPED) -> Lexicon:
    """All tables of `shipped`, with those of `folder_over` laid over them.

    A table of the practice has the name and the header of the shipped one. Its rows are added; where one has the same
    key (the row class's `replaces` columns), all shipped rows with this key give way to it.

    Raises:
        InputError: a header, cell, reference or duplicate is wrong; the message names file and row.
    """
    if folder_over is not None:
        check_folder(folder_over)
    return _load(folder_over, shipped, _stamp(shipped), _stamp(folder_over))


@lru_cache(maxsize=4)
def _load(folder_over: Path | None, shipped: Path, *_stamps: object) -> Lexicon:
    digest = hashlib.sha256()
    tables: dict[str, tuple[Row, ...]] = {}
    places: dict[str, list[str]] = {}
    for name, row_class in table_classes().items():
        rows = (
            list(read_table(shipped / f"{name}.csv", row_class, digest)) if (shipped / f"{name}.csv").exists() else []
        )
        check_duplicates(rows, row_class)
        own_file = folder_over / f"{name}.csv" if folder_over else None
        if own_file and own_file.exists():
            own = list(read_table(own_file, row_class, digest))
            check_duplicates(own, row_class)
            rows = lay_over(rows, own, row_class)
        tables[name] = tuple(row for _, row in rows)
        places[name] = [place for place, _ in rows]
    check_references(tables, places)
    return Lexicon(**tables, rule_set=digest.hexdigest()[:12])  # type: ignore[arg-type]


def table_classes() -> dict[str, type[Row]]:
    """Every table's name and the class of its rows, in the order of `Lexicon`."""
    hints = get_type_hints(Lexicon)
    return {f.name: get_args(hints[f.name])[0] for f in fields(Lexicon) if f.metadata.get("table", True)}


def check_folder(folder: Path) -> None:
    """Raise InputError unless `folder` is a folder whose CSV files all have the name of a table."""
    if not folder.is_dir():
        raise InputError("there is no such folder of lexicon tables", where=str(folder))
    known = table_classes()
    files = sorted(folder.glob("*.csv"))
    for file in files:
        if file.stem not in known:
            raise InputError(f"no table has this name; the tables are {', '.join(known)}", where=str(file))
    if not files:
        raise InputError("the folder holds no lexicon table (NAME.csv)", where=str(folder))


def read_table(file: Path, row_class: type[Row], digest: Any = None) -> Iterator[tuple[str, Row]]:
    """The rows of one table, each with its place ("file, row N" counted as an editor or spreadsheet does)."""
    try:
        content = file.read_bytes()
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("the table is not UTF-8; save it as UTF-8 (or 'CSV UTF-8')", where=str(file)) from None
    except OSError as error:
        raise InputError(f"the table cannot be read ({error.strerror})", where=str(file)) from None
    if digest is not None:
        digest.update(file.name.encode() + b"\0" + content)
    readers = cell_readers(row_class)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    header: list[str] = []
    try:
        for cells in reader:
            place = f"{file}, row {reader.line_num}"
            if not any(cell.strip() for cell in cells):
                continue
            if not header:
                header = check_header([cell.strip() for cell in cells], list(readers), str(file))
                continue
            if len(cells) != len(header):
                raise InputError(f"{len(cells)} cells where the header has {len(header)}", where=place)
            values = {}
            for column, cell in zip(header, cells, strict=True):
                try:
                    values[column] = readers[column](cell.strip())
                except ValueError as error:
                    raise InputError(f"column {column}: {error}", where=place) from None
            yield place, row_class(**values)
    except csv.Error as error:
        raise InputError(f"not a CSV row ({error})", where=f"{file}, row {reader.line_num}") from None
    if not header:
        raise InputError(f"the table is empty; its header is {','.join(readers)}", where=str(file))


def check_header(header: list[str], wanted: list[str], where: str) -> list[str]:
    missing = [c for c in wanted if c not in header]
    unknown = [c for c in header if c not in wanted]
    twice = sorted({c for c in header if header.count(c) > 1})
    if missing:
        raise InputError(f"column {', '.join(missing)} is missing; the header is {','.join(wanted)}", where=where)
    if unknown:
        raise InputError(f"unknown column {', '.join(unknown)}; the header is {','.join(wanted)}", where=where)
    if twice:
        raise InputError(f"column {', '.join(twice)} stands twice", where=where)
    return header


def cell_readers(row_class: type[Row]) -> Mapping[str, Callable[[str], Any]]:
    """For every column of a table, the function that reads its cell or raises ValueError."""
    hints = get_type_hints(row_class)
    return {f.name: read_cell(hints[f.name]) for f in fields(row_class)}


def read_cell(kind: Any) -> Callable[[str], Any]:
    """The reader of one type of cell: text, words, yes/no, a number, one of a few words, a ";" list, "key=value; …",
    or any of these left blank."""
    origin, args = get_origin(kind), get_args(kind)
    if origin in (Union, UnionType) and NoneType in args:
        inner = read_cell(next(a for a in args if a is not NoneType))
        return lambda cell: inner(cell) if cell else None
    if origin is Literal:
        return lambda cell: _one_of(cell, args)
    if origin is tuple:
        return lambda cell: tuple(part.strip() for part in cell.split(";") if part.strip())
    if kind is bool:
        return lambda cell: YES_NO[_one_of(cell.lower(), tuple(YES_NO))]
    if kind is float:
        return _number
    if kind is Source:
        return read_source
    if kind in (SiteName, FindingName, Words):
        return _needed
    if origin is not None and issubclass(origin, Mapping):
        return _pairs
    return str


def _one_of(cell: str, allowed: tuple[str, ...]) -> str:
    if cell not in allowed:
        raise ValueError(f"{cell!r} is none of {', '.join(allowed)}")
    return cell


def _needed(cell: str) -> str:
    if not cell:
        raise ValueError("the cell must not be empty")
    return cell


def read_source(cell: str) -> str:
    """Where the fact of a row comes from: a published source, or one of UNPUBLISHED. ValueError where it is empty."""
    if not cell:
        told = " or ".join(repr(words) for words in UNPUBLISHED)
        raise ValueError(f"the row needs a source: a published one, {told}")
    return cell


def kind_of_source(source: str) -> str:
    """ "from memory" where any part of the fact is, "common practice" where nothing of it is published, "published"."""
    practice, memory = UNPUBLISHED
    if memory in source:
        return memory
    return practice.partition(",")[0] if source.startswith(practice) else "published"


def _number(cell: str) -> float:
    try:
        return float(cell)
    except ValueError:
        raise ValueError(f"{cell!r} is no number") from None


def _pairs(cell: str) -> Mapping[str, str]:
    pairs = [part.partition("=") for part in cell.split(";") if part.strip()]
    for key, sign, value in pairs:
        if not (key.strip() and sign and value.strip()):
            raise ValueError(f"{cell!r} is not written as key=value; key=value")
    return MappingProxyType({key.strip(): value.strip() for key, _, value in pairs})


def _key(row: Row, columns: tuple[str, ...]) -> tuple[Any, ...]:
    values = (getattr(row, column) for column in columns)
    return tuple(v.casefold() if isinstance(v, str) else v for v in values)


def check_duplicates(rows: list[tuple[str, Row]], row_class: type[Row]) -> None:
    """Raise InputError where two rows of one file say the same thing."""
    seen: dict[tuple[Any, ...], str] = {}
    for place, row in rows:
        key = _key(row, row_class.unique)
        if key in seen:
            words = ", ".join(str(v) for v in key if v is not None)
            raise InputError(f"{words!r} stands already in row {seen[key].rpartition(' ')[2]}", where=place)
        seen[key] = place


def lay_over(shipped: list[tuple[str, Row]], own: list[tuple[str, Row]], row_class: type[Row]) -> list[tuple[str, Row]]:
    """The shipped rows, less those whose key an own row has, then the own rows."""
    replaced = {_key(row, row_class.replaces) for _, row in own}
    return [(p, row) for p, row in shipped if _key(row, row_class.replaces) not in replaced] + own


def check_references(tables: Mapping[str, tuple[Row, ...]], places: Mapping[str, list[str]]) -> None:
    """Raise InputError where a cell names a site or finding that the tables do not have."""
    known = {
        SiteName: {row.site for row in tables["sites"]},  # type: ignore[attr-defined]
        FindingName: {row.finding for row in tables["findings"]},  # type: ignore[attr-defined]
    }
    for name, rows in tables.items():
        if not rows:
            continue
        hints = get_type_hints(type(rows[0]))
        for column in (f.name for f in fields(rows[0])):
            target = next((t for t in (SiteName, FindingName) if t in _leaves(hints[column])), None)
            if target is None or not known[target]:
                continue
            for place, row in zip(places[name], rows, strict=True):
                cell = getattr(row, column)
                for value in cell if isinstance(cell, tuple) else (cell,):
                    if value is not None and value not in known[target]:
                        kind = "site" if target is SiteName else "finding"
                        raise InputError(f"column {column}: unknown {kind} {value!r}", where=place)


def _leaves(kind: Any) -> set[Any]:
    args = [a for a in get_args(kind) if a is not Ellipsis]
    return {kind} if not args else {leaf for a in args for leaf in _leaves(a)}


def _stamp(folder: Path | None) -> tuple[tuple[str, int, int], ...]:
    """Names, times and sizes of a folder's tables, so that an edited table is read anew within one process."""
    if folder is None:
        return ()
    stats = ((f.name, f.stat()) for f in sorted(folder.glob("*.csv")))
    return tuple((name, s.st_mtime_ns, s.st_size) for name, s in stats)
