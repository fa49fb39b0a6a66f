"""The files a register may stand in, as grids of cell values: .xlsx and .xlsm, .ods, .csv."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

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
_NUMBER = re.compile(r"[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?")
_CLEAR_COMMA = re.compile(r"[-+]?([0-9]*,([0-9]{1,2}|[0-9]{4,})|[0-9]{4,},[0-9]+|0*,[0-9]+)")


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
    decimal_comma: bool = False
    """ "2,5" in such a text is two and a half"""


def read_grids(path: Path) -> list[Grid]:
    """Return all sheets and tables of a file; Refused with one sentence if it cannot be read."""
    suffix = path.suffix.lower()
    if suffix in (".csv", ".tsv", ".txt"):
        return [_read_csv(path)]
    if suffix == ".ods":
        return _read_ods(path)
    with Package.open(path) as package:
        try:
            book = read_book(package)
        except Refused as refused:
            raise Refused(refused.sentence, path) from None
    return _book_grids(book)


def _book_grids(book: Book) -> list[Grid]:
    grids = []
    for table_name, table in book.tables.items():
        r1, c1, _, c2 = table.area
        rows = range(r1, table.data_rows[1] + 1)
        if table.heading_rows and len(rows) * (c2 - c1 + 1) <= _MOST_CELLS:
            cells = _cells(book, book.sheets[table.sheet], rows, range(c1, c2 + 1))
            grids.append(Grid(table_name, cells, rows, range(c1, c2 + 1), table=True))
    for sheet in book.sheets.values():
        # only rows and columns that hold something: a stray cell may stand a million rows below
        used = sorted({row for rows in sheet.values.values() for row in rows})
        columns = sorted(column for column, rows in sheet.values.items() if rows)
        if used and len(used) * len(columns) <= _MOST_CELLS:
            grids.append(Grid(sheet.name, _cells(book, sheet, used, columns), used, columns))
    return grids


def _cells(book: Book, sheet: Sheet, rows: Sequence[int], columns: Sequence[int]) -> list[list[Any]]:
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
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise Refused(f"cannot be read ({error.strerror})", path) from error
    except UnicodeDecodeError as error:
        raise Refused("is not UTF-8 text; save it as CSV UTF-8", path) from error
    if "\0" in text:
        raise Refused("is not UTF-8 text (it holds zero bytes); save it as CSV UTF-8", path)
    delimiter = _delimiter(text)
    try:
        rows = [[unguarded(cell.strip()) or None for cell in row] for row in _csv_rows(text, delimiter)]
    except csv.Error as error:
        raise Refused(f"cannot be read as CSV ({error})", path) from error
    commas = delimiter != "," and _commas_are_decimal(rows)
    width = max(map(len, rows), default=0)
    return Grid("", rows, range(1, len(rows) + 1), range(1, width + 1), plain_text=True, decimal_comma=commas)


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


def _commas_are_decimal(rows: list[list[str | None]]) -> bool:
    """Whether a file without commas between its cells writes its numbers with decimal commas throughout.

    "1,234" alone could be a thousand: at least one number must be clear, and none may have a point.
    """
    clear = False
    for row in rows:
        for cell in row:
            if cell is None or ("," not in cell and "." not in cell):
                continue
            if not _NUMBER.fullmatch(cell.replace(",", ".", 1)):
                continue
            if "." in cell:
                return False
            clear = clear or bool(_CLEAR_COMMA.fullmatch(cell))
    return clear


def plain_number(text: str, decimal_comma: bool) -> float | None:
    """Return the number that a CSV cell writes; None if it is another text.

    >>> plain_number("2,5", True), plain_number("2,5", False), plain_number("2.5", True)
    (2.5, None, 2.5)
    """
    if decimal_comma:
        text = text.replace(",", ".", 1)
    return float(text) if _NUMBER.fullmatch(text) else None


def _read_ods(path: Path) -> list[Grid]:
    import python_calamine

    try:
        archive = Archive(path.read_bytes())
        content = [entry for entry in archive.entries if entry.name == _ODS_CONTENT]
        # the text that an error cell stores is blank; without it the reader takes what the cell shows
        shown = {entry.name: _ODS_ERROR.sub(_without_text, archive.read(entry)) for entry in content}
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
