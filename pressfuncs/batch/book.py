"""A workbook as the batch mode sees it: stored values by column, formulas as runs, names, tables.

A `Run` is a stretch of rows in one column that hold the same formula. Registers are filled down, so a sheet
of 100 000 rows has a few runs, and everything that depends on the formula alone is done once for each.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from pressfuncs.batch.formulas import Template

Cell = tuple[str, int, int]
"""A cell's address: sheet name, row, column."""


@dataclass
class Run:
    """Rows `first` to `last` of one column with the same formula; an array formula is a run of one row."""

    sheet: str
    column: int
    first: int
    last: int
    template: Template | None
    area: tuple[int, int, int, int] | None = None  # of an array formula: row1, column1, row2, column2
    dynamic: bool = False
    frozen: str = ""  # why it cannot be evaluated; "" if it can

    @property
    def rows(self) -> range:
        """The rows it fills."""
        return range(self.first, self.last + 1)

    def cells(self) -> Iterator[Cell]:
        """Yield the addresses of the cells that hold the formula."""
        for row in self.rows:
            yield (self.sheet, row, self.column)

    def part(self, first: int, last: int) -> Run:
        """Return the rows `first` to `last` as a run of their own."""
        return Run(self.sheet, self.column, first, last, self.template, self.area, self.dynamic, self.frozen)


@dataclass
class Sheet:
    """One worksheet: `values[column][row]` is what each cell stores, for inputs and formulas alike."""

    name: str
    part: str
    values: dict[int, dict[int, Any]] = field(default_factory=dict)
    runs: list[Run] = field(default_factory=list)
    dates: set[tuple[int, int]] = field(default_factory=set)
    hidden_rows: bool = False

    def value(self, row: int, column: int) -> Any:
        """Return what a cell stores; None for a blank."""
        found = self.values.get(column)
        return None if found is None else found.get(row)


@dataclass(frozen=True)
class Table:
    """A worksheet table: where it is, and the columns by lower-case name."""

    sheet: str
    area: tuple[int, int, int, int]  # row1, column1, row2, column2, heading and total rows included
    heading_rows: int
    total_rows: int
    columns: dict[str, int]

    @property
    def data_rows(self) -> tuple[int, int]:
        """First and last data row."""
        return self.area[0] + self.heading_rows, self.area[2] - self.total_rows


@dataclass
class Book:
    """A workbook read: sheets in order by name, defined names by (sheet or None, lower-case name), tables."""

    sheets: dict[str, Sheet]
    names: dict[tuple[str | None, str], str]
    tables: dict[str, Table]
    date1904: bool

    def sheet(self, name: str) -> Sheet | None:
        """Return the sheet of this name, whatever its letter case."""
        found = self.sheets.get(name)
        return found or self._by_lower.get(name.lower())

    def __post_init__(self) -> None:
        """Index the sheets by lower-case name; references in formulas may differ in case."""
        self._by_lower = {name.lower(): sheet for name, sheet in self.sheets.items()}

    @property
    def runs(self) -> list[Run]:
        """All runs of all sheets."""
        return [run for sheet in self.sheets.values() for run in sheet.runs]


def split_qualified(text: str) -> tuple[str | None, str]:
    """Split "Sheet!name" or "'Sheet 1'!name" into sheet and name.

    >>> split_qualified("'Shop''s'!rate")
    ("Shop's", 'rate')
    """
    match = re.fullmatch(r"(?:'((?:[^']|'')+)'|([^'!]+))!(.+)", text, re.DOTALL)
    if match is None:
        return None, text
    return (match[1] or match[2]).replace("''", "'"), match[3]
