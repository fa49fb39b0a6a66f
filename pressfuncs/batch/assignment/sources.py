"""The files a register may stand in, as grids of cell values: .xlsx and .xlsm, .ods, .csv."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

from pressfuncs.batch.book import Book, Sheet, read_book
from pressfuncs.batch.package import Package
from pressfuncs.batch.refusals import Refused


@dataclass
class Grid:
    """The cells of one sheet, table or file, row by row; `first_row` is the row number of the first."""

    name: str
    cells: list[list[Any]]
    first_row: int = 1
    table: bool = False

    def row_number(self, index: int) -> int:
        """Return the row number in the file."""
        return self.first_row + index


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
        sheet = book.sheets[table.sheet]
        r1, c1, _, c2 = table.area
        if table.heading_rows:
            cells = _rows(book, sheet, r1, table.data_rows[1], c1, c2)
            grids.append(Grid(table_name, cells, r1, table=True))
    for sheet in book.sheets.values():
        columns = [column for column, rows in sheet.values.items() if rows]
        if columns:
            last = max(max(sheet.values[column]) for column in columns)
            grids.append(Grid(sheet.name, _rows(book, sheet, 1, last, 1, max(columns))))
    return grids


def _rows(book: Book, sheet: Sheet, r1: int, r2: int, c1: int, c2: int) -> list[list[Any]]:
    epoch = CALENDAR_MAC_1904 if book.date1904 else CALENDAR_WINDOWS_1900
    columns = []
    for column in range(c1, c2 + 1):
        rows = sheet.values.get(column, {})
        columns.append([rows.get(row) for row in range(r1, r2 + 1)])
    cells = [list(row) for row in zip(*columns)]
    for row, column in sheet.dates:
        if r1 <= row <= r2 and c1 <= column <= c2 and isinstance(cells[row - r1][column - c1], float):
            cells[row - r1][column - c1] = from_excel(cells[row - r1][column - c1], epoch)
    return cells


def _read_csv(path: Path) -> Grid:
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise Refused(f"cannot be read ({error.strerror})", path) from error
    except UnicodeDecodeError as error:
        raise Refused("is not UTF-8 text; save it as CSV UTF-8", path) from error
    first = text.partition("\n")[0]
    delimiter = max(";\t,", key=first.count)
    rows = [[_csv_value(cell) for cell in row] for row in csv.reader(io.StringIO(text), delimiter=delimiter)]
    return Grid("", rows)


def _csv_value(text: str) -> Any:
    """Return a cell of a CSV file: a number where it is one, None where it is blank."""
    text = text.strip()
    if not text:
        return None
    try:
        return float(text) if text[-1] in "0123456789." else text
    except ValueError:
        return text


def _read_ods(path: Path) -> list[Grid]:
    import python_calamine

    try:
        book = python_calamine.CalamineWorkbook.from_path(str(path))
    except (python_calamine.CalamineError, OSError) as error:
        raise Refused(f"cannot be read ({error}); save it anew in the application", path) from error
    grids = []
    for name in book.sheet_names:
        rows = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
        grids.append(Grid(name, [[_ods_value(cell) for cell in row] for row in rows]))
    return grids


def _ods_value(value: Any) -> Any:
    if value == "" or value is None:
        return None
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value
