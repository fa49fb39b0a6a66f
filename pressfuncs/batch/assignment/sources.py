"""The files a register may stand in, as grids of cell values: .xlsx and .xlsm, .ods, .csv."""

from __future__ import annotations

import csv
import io
import re
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

from pressfuncs.batch.addresses import range_boundaries
from pressfuncs.batch.archive import Archive
from pressfuncs.batch.book import Book, Sheet
from pressfuncs.batch.book_reading import read_book
from pressfuncs.batch.csv_texts import unguarded
from pressfuncs.batch.package import Package
from pressfuncs.batch.refusals import Refused
from pressfuncs.errors import CellError

_ODS_CONTENT = "content.xml"
_ODS_ERROR = re.compile(rb'<table:table-cell\b[^>]*calcext:value-type="error"[^>]*>')
_ERROR_SHOWN = re.compile(r"#(N/A|DIV/0!|VALUE!|REF!|NAME\?|NUM!|NULL!)|Err:[0-9]+")
_MOST_CELLS = 200_000_000
_LOOKED_AT = 30  # rows from which the delimiter of a CSV file is told
_MERGED = re.compile(rb'<mergeCell ref="([A-Z]{1,3}[0-9]{1,7}:[A-Z]{1,3}[0-9]{1,7})"')
_ODS_NO_RESULT = re.compile(rb"<table:table-cell\b(?=[^>]*\btable:formula=)(?![^>]*\boffice:value-type=)[^>]*>")
_OFFICE = re.compile(rb"<meta:generator>[^<]*Office")


class NoResult:
    """Stands in a cell whose formula has no stored result."""


NO_RESULT = NoResult()


@dataclass
class Grid:
    """The cells of one sheet, table or file, row by row."""

    name: str
    cells: list[list[Any]]
    row_numbers: Sequence[int]
    """row in the file of each row of cells"""
    column_numbers: Sequence[int]
    table: bool = False
    plain_text: bool = False
    """numbers are written as text, as CSV does"""
    usual_mark: str = ""
    """decimal mark where no number shows it: a point in a file with commas between its cells"""
    merged: dict[int, list[tuple[int, int]]] | None = None
    """first and last column of merged cells by row, numbered as in the file; None where that is not known"""


def read_grids(path: Path) -> list[Grid]:
    """Return all sheets and tables of a file; Refused with one sentence if it cannot be read."""
    suffix = path.suffix.lower()
    if suffix in (".csv", ".tsv", ".txt"):
        return [_read_csv(path)]
    if suffix == ".ods":
        return _read_ods(path)
    with Package.open(path) as package:
        book, merged = _read(package, path)
        if any(_without_result(sheet) for sheet in book.sheets.values()):
            book = _recalculated(path) or book
    return _book_grids(book, merged)


_Merged = dict[str, dict[int, list[tuple[int, int]]]]


def _read(package: Package, path: Path) -> tuple[Book, _Merged]:
    try:
        book = read_book(package)
    except Refused as refused:
        raise Refused(refused.sentence, path) from None
    merged: _Merged = {}
    for sheet in book.sheets.values():
        rows: dict[int, list[tuple[int, int]]] = {}
        for reference in _MERGED.findall(package.read(sheet.part)):
            c1, row, c2, _ = range_boundaries(reference.decode())
            rows.setdefault(row, []).append((c1, c2))
        merged[sheet.name] = rows
    return book, merged


def _recalculated(path: Path) -> Book | None:
    """Return the book as our own recalculation writes it; None if it cannot be recalculated."""
    from pressfuncs.batch.recalc import Options, recalculate

    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / path.name
        try:
            recalculate(path, copy, Options(everything=True))
            with Package.open(copy if copy.exists() else path) as package:
                return read_book(package)
        except (Refused, OSError):
            return None


def _without_result(sheet: Sheet) -> set[tuple[int, int]]:
    """Return row and column of every formula that stores no result; a text of no letters is a result."""
    found = set()
    for run in sheet.runs:
        held = sheet.values.get(run.column, {})
        found |= {(row, run.column) for row in run.rows if held.get(row) is None}
    return found


def _book_grids(book: Book, merged: _Merged) -> list[Grid]:
    grids = []
    missing = {sheet.name: _without_result(sheet) for sheet in book.sheets.values()}
    for table_name, table in book.tables.items():
        r1, c1, _, c2 = table.area
        rows = range(r1, table.data_rows[1] + 1)
        if table.heading_rows and len(rows) * (c2 - c1 + 1) <= _MOST_CELLS:
            sheet = book.sheets[table.sheet]
            cells = _cells(book, sheet, missing[sheet.name], rows, range(c1, c2 + 1))
            grids.append(Grid(table_name, cells, rows, range(c1, c2 + 1), table=True))
    for sheet in book.sheets.values():
        # only rows and columns that hold something: a stray cell may stand a million rows below
        without = missing[sheet.name]
        used = sorted({row for rows in sheet.values.values() for row in rows} | {row for row, _ in without})
        columns = sorted({c for c, rows in sheet.values.items() if rows} | {column for _, column in without})
        if used and len(used) * len(columns) <= _MOST_CELLS:
            cells = _cells(book, sheet, without, used, columns)
            grids.append(Grid(sheet.name, cells, used, columns, merged=merged.get(sheet.name)))
    return grids


def _cells(
    book: Book, sheet: Sheet, missing: set[tuple[int, int]], rows: Sequence[int], columns: Sequence[int]
) -> list[list[Any]]:
    epoch = CALENDAR_MAC_1904 if book.date1904 else CALENDAR_WINDOWS_1900
    of_columns = []
    for column in columns:
        values = sheet.values.get(column, {})
        of_columns.append([values.get(row) for row in rows])
    cells = [list(row) for row in zip(*of_columns)]
    row_places = {row: place for place, row in enumerate(rows)}
    column_places = {column: place for place, column in enumerate(columns)}
    for row, column in sheet.dates:
        if row in row_places and column in column_places:
            place, cell = row_places[row], column_places[column]
            cells[place][cell] = _date(cells[place][cell], epoch)
    for row, column in missing:
        if row in row_places and column in column_places:
            cells[row_places[row]][column_places[column]] = NO_RESULT
    return cells


def _date(value: Any, epoch: Any) -> Any:
    """Return a number that is shown as a date as one; what no calendar holds stays a text."""
    if not isinstance(value, float):
        return value
    try:
        return from_excel(value, epoch)
    except (OverflowError, ValueError):
        return f"date {value:.15g}"


def _read_csv(path: Path) -> Grid:
    try:
        text = _decoded(path.read_bytes())
    except OSError as error:
        raise Refused(f"cannot be read ({error.strerror})", path) from error
    except UnicodeDecodeError as error:
        raise Refused("is no text that can be read; save it as CSV UTF-8", path) from error
    if "\0" in text:
        raise Refused("is not UTF-8 text (it holds zero bytes); save it as CSV UTF-8", path)
    delimiter = _delimiter(text)
    try:
        rows = [[unguarded(cell.strip()) or None for cell in row] for row in _csv_rows(text, delimiter)]
    except csv.Error as error:
        raise Refused(f"cannot be read as CSV ({error})", path) from error
    width = max(map(len, rows), default=0)
    mark = "." if delimiter == "," else ""
    return Grid("", rows, range(1, len(rows) + 1), range(1, width + 1), plain_text=True, usual_mark=mark)


def _decoded(data: bytes) -> str:
    """Return the text of a CSV file: UTF-8, UTF-16 with its mark, or the Windows code page of Western Europe."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252")


def _csv_rows(text: str, delimiter: str) -> Iterator[list[str]]:
    return csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)


def _delimiter(text: str) -> str:
    """Return what separates the cells: what gives most rows of the same number of cells, among the first rows."""
    head = "\n".join(text.splitlines()[:_LOOKED_AT])
    best = (0, 0, ",")
    for delimiter in (",", "\t", ";"):
        try:
            sizes = Counter(len(row) for row in _csv_rows(head, delimiter) if len(row) > 1)
        except csv.Error:
            continue
        for size, count in sizes.items():
            best = max(best, (count, size, delimiter))
    return best[2]


def _read_ods(path: Path) -> list[Grid]:
    import python_calamine

    try:
        archive = Archive(path.read_bytes())
        content = [entry for entry in archive.entries if entry.name == _ODS_CONTENT]
        # the text that an error cell stores is blank; without it the reader takes what the cell shows
        parts = {entry.name: archive.read(entry) for entry in content}
        meta = b"".join(archive.read(entry) for entry in archive.entries if entry.name == "meta.xml")
        # office programs leave a text of no letters out, and compute every formula before they save
        if not _OFFICE.search(meta) and any(_ODS_NO_RESULT.search(part) for part in parts.values()):
            raise Refused("holds formulas without a stored result; open it in the application and save it")
        shown = {name: _ODS_ERROR.sub(_without_text, part) for name, part in parts.items()}
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(b"".join(archive.rewritten(shown))))
    except Refused as refused:
        raise Refused(refused.sentence, path) from None
    except (python_calamine.CalamineError, OSError) as error:
        raise Refused(f"cannot be read ({error}); save it anew in the application", path) from error
    grids = []
    for name in book.sheet_names:
        sheet = book.get_sheet_by_name(name)
        if 0 < sheet.total_height * sheet.total_width <= _MOST_CELLS:
            rows = [[_ods_value(cell) for cell in row] for row in sheet.to_python(skip_empty_area=False)]
            grids.append(Grid(name, rows, range(1, len(rows) + 1), range(1, len(rows[0]) + 1)))
    return grids


def _without_text(cell: re.Match[bytes]) -> bytes:
    return re.sub(rb' office:string-value="[^"]*"', b"", cell[0])


def _ods_value(value: Any) -> Any:
    if value == "" or value is None:
        return None
    if isinstance(value, str) and _ERROR_SHOWN.fullmatch(value):
        return CellError(value)
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value
