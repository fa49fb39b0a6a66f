"""The formulas of a Calc document: which calls of a function they hold, and with which blank cells.

Only texts of formulas and contents of input cells are read, never a result: asking for one in the middle of a
recalculation would start another. What was read serves one recalculation. Calc computes some cells before it
tells of the change that made it do so; hence it is also forgotten after a pause, and looked at again before use.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from time import monotonic
from typing import Any

import unohelper
from com.sun.star.util import XModifyListener

from pressfuncs.hosts.calc.call_sites import OPEN, Argument, Cell, Column, Name, calls, cell_of
from pressfuncs.hosts.calc.signatures import sheet_arguments
from pressfuncs.registry import FunctionSpec

FORMULAS = 16
CONTENTS = 1 + 2 + 4 + FORMULAS
"""Numbers, dates, texts and formulas: everything a cell may hold that is not blank (constants of CellFlags)."""

_FEW_BLOCKS = 64
_LARGEST_BLOCK = 1_000_000
"""Calc takes long to hand over thousands of small blocks, and much memory for one with millions of cells."""

_SHORTEST_PAUSE = 0.02  # seconds
_MOST_LOOKED_AT = 64
"""Calls that agree in every value and are looked at one by one; of more, only where the sheets have blanks."""


Places = frozenset[int]
"""Places of arguments in a call, from 0."""


@dataclass(frozen=True)
class Site:
    """A call in a formula: where it stands, its text, the cells that are its arguments, which of them are blank.

    `unknown` are the places of names and table columns that could not be followed; they may be blank too.
    """

    sheet: str
    column: int
    row: int
    text: str
    cells: tuple[tuple[int, Cell], ...]
    blank: Places
    unknown: Places


Calls = dict[tuple[bool, ...], dict[tuple[Any, ...], list[Site]]]
"""Calls of one function: which arguments are known -> their values -> the calls."""


class Sheet:
    """The contents of one sheet as they would be typed, read in few large blocks."""

    def __init__(self, sheet: Any, contents: int = CONTENTS) -> None:
        """Read the cells that hold something of these kinds."""
        self.sheet = sheet
        self.contents = contents
        filled = sheet.queryContentCells(contents)
        self.places: str = filled.RangeAddressesAsString
        self.blocks = [
            (
                area.StartColumn,
                area.StartRow,
                sheet.getCellRangeByPosition(
                    area.StartColumn, area.StartRow, area.EndColumn, area.EndRow
                ).getFormulaArray(),
            )
            for area in _areas(filled.RangeAddresses)
        ]

    def is_as_read(self) -> bool:
        """Whether the same cells hold something as when the sheet was read."""
        places: str = self.sheet.queryContentCells(self.contents).RangeAddressesAsString
        return places == self.places

    def text(self, column: int, row: int) -> str:
        """Return what a cell holds; "" for a blank one."""
        for first_column, first_row, rows in self.blocks:
            if 0 <= row - first_row < len(rows) and 0 <= column - first_column < len(rows[0]):
                found: str = rows[row - first_row][column - first_column]
                if found:
                    return found
        return ""

    def formulas(self) -> Iterator[tuple[int, int, str]]:
        """Give column, row and text of every formula."""
        for first_column, first_row, rows in self.blocks:
            for row, texts in enumerate(rows, first_row):
                for column, text in enumerate(texts, first_column):
                    if text.startswith(("=", "{=")):
                        yield column, row, text


def _areas(areas: Sequence[Any]) -> Sequence[Any]:
    """Return the areas of contents, or the one around them all where they are many small ones."""
    if len(areas) <= _FEW_BLOCKS:
        return areas
    around = areas[0]
    around.StartColumn = min(area.StartColumn for area in areas)
    around.StartRow = min(area.StartRow for area in areas)
    around.EndColumn = max(area.EndColumn for area in areas)
    around.EndRow = max(area.EndRow for area in areas)
    size = (around.EndColumn - around.StartColumn + 1) * (around.EndRow - around.StartRow + 1)
    return [around] if size <= _LARGEST_BLOCK else areas


class Formulas(unohelper.Base, XModifyListener):  # type: ignore[misc]
    """What is known of one document."""

    def __init__(self, document: Any, identity: str) -> None:
        """Begin to listen for changes."""
        self.document = document
        self.identity = identity
        self.sheets: dict[str, Sheet] = {}
        self.found: dict[str, Calls] = {}
        self.asked = 0.0
        self.pause = _SHORTEST_PAUSE
        document.addModifyListener(self)

    def modified(self, event: Any) -> None:
        """Forget what was read."""
        self.forget()

    def forget(self) -> None:
        """Forget what was read."""
        self.sheets.clear()
        self.found.clear()

    def disposing(self, event: Any) -> None:
        """Forget the document."""
        _OPEN_DOCUMENTS.pop(self.identity, None)

    def blanks(self, spec: FunctionSpec, values: Sequence[Any], doubtful: Places) -> set[Places]:
        """Return which of the doubtful places are blank cells, in each call that agrees with the values."""
        held_back = self.document.hasControllersLocked() or self.document.isActionLocked()
        if held_back or monotonic() - self.asked > self.pause:
            self.forget()
        sites = self._agreeing(spec, values)
        if not self._are_as_read(sites):
            self.forget()
            sites = self._agreeing(spec, values)
        self.asked = monotonic()
        readings = {site.blank & doubtful for site in sites}
        return readings | {(site.blank | site.unknown) & doubtful for site in sites}

    def _agreeing(self, spec: FunctionSpec, values: Sequence[Any]) -> list[Site]:
        """Return the calls whose known arguments have the given values."""
        if spec.name not in self.found:
            started = monotonic()
            self.found[spec.name] = self._read(spec)
            self.pause = max(_SHORTEST_PAUSE, 2 * (monotonic() - started))
        padded = [*values, *[None] * (len(sheet_arguments(spec)) - len(values))]
        keys = [_key(value) for value in padded]
        sites: list[Site] = []
        for known, by_key in self.found[spec.name].items():
            sites += by_key.get(tuple(key for key, is_known in zip(keys, known) if is_known), ())
        return sites

    def _are_as_read(self, sites: list[Site]) -> bool:
        if len(sites) > _MOST_LOOKED_AT:
            return all(sheet.is_as_read() for sheet in self.sheets.values())
        return all(self._is_as_read(site) for site in sites)

    def _is_as_read(self, site: Site) -> bool:
        """Whether formula and blank cells of a call are still those that were read."""
        if self._cell(site.sheet, site.column, site.row).getFormula() != site.text:
            return False
        return all(
            (self._cell(cell.sheet, cell.column, cell.row).getType().value == "EMPTY") == (place in site.blank)
            for place, cell in site.cells
        )

    def _cell(self, sheet: str, column: int, row: int) -> Any:
        return self._sheet(sheet).sheet.getCellByPosition(column, row)

    def _read(self, spec: FunctionSpec) -> Calls:
        """Return every call of the function that the document holds."""
        found: Calls = {}
        call = spec.sheet_name + "("
        count = len(sheet_arguments(spec))
        for sheet in self.document.Sheets:
            for column, row, text in self._sheet(sheet.Name).formulas():
                if call not in text.upper():
                    continue
                for arguments in calls(text, spec.sheet_name):
                    followed = [self._followed(sheet, row, argument) for argument in arguments]
                    values = [self._value(cell) for cell in followed]
                    values += [None] * (count - len(values))
                    known = tuple(value is not OPEN for value in values)
                    key = tuple(_key(value) for value in values if value is not OPEN)
                    site = Site(
                        sheet.Name,
                        column,
                        row,
                        text,
                        tuple((i, cell) for i, cell in enumerate(followed) if isinstance(cell, Cell)),
                        frozenset(i for i, cell in enumerate(followed) if self._is_blank(cell)),
                        frozenset(i for i, name in enumerate(followed) if isinstance(name, (Name, Column))),
                    )
                    found.setdefault(known, {}).setdefault(key, []).append(site)
        return found

    def _followed(self, sheet: Any, row: int, argument: Argument) -> Argument:
        """Return the cell, with its sheet, that an argument means; any other argument as it is."""
        if isinstance(argument, Cell):
            return argument if argument.sheet else Cell(sheet.Name, argument.column, argument.row)
        if isinstance(argument, Name):
            for names in (sheet.NamedRanges, self.document.NamedRanges):
                if names.hasByName(argument.name):
                    return cell_of(names.getByName(argument.name).Content) or argument
        if isinstance(argument, Column):
            return self._column_cell(argument, row) or argument
        return argument

    def _column_cell(self, column: Column, row: int) -> Cell | None:
        """Return the cell of a table's column in a row."""
        tables = self.document.DatabaseRanges
        if not tables.hasByName(column.table):
            return None
        area = tables.getByName(column.table).DataArea
        sheet = self.document.Sheets[area.Sheet].Name
        for place in range(area.StartColumn, area.EndColumn + 1):
            heading = self._sheet(sheet).text(place, area.StartRow)
            if heading.lower() == column.heading.lower():
                return Cell(sheet, place, row)
        return None

    def _is_blank(self, argument: Argument) -> bool:
        return isinstance(argument, Cell) and not self._sheet(argument.sheet).text(argument.column, argument.row)

    def _value(self, argument: Argument) -> Any:
        """Return the value of an argument as Calc hands it over, OPEN if that is not known."""
        if isinstance(argument, (Name, Column)):
            return OPEN
        if not isinstance(argument, Cell):
            return argument
        text = self._sheet(argument.sheet).text(argument.column, argument.row)
        if not text:
            return 0.0
        if text.startswith(("=", "{=")):
            return OPEN
        try:
            return float(text)
        except ValueError:  # a text, or a number that is written as a date or a percentage
            cell = self._cell(argument.sheet, argument.column, argument.row)
            return cell.getValue() if cell.getType().value == "VALUE" else cell.getString()

    def _sheet(self, name: str) -> Sheet:
        if name not in self.sheets:
            self.sheets[name] = Sheet(self.document.Sheets.getByName(name))
        return self.sheets[name]


def _key(value: Any) -> Any:
    """Return what two values that are one have in common, though one of them went through a text."""
    if isinstance(value, float):
        return format(value + 0.0, ".12g")
    return value if isinstance(value, str) or value is None else OPEN


_OPEN_DOCUMENTS: dict[str, Formulas] = {}


def formulas_of(document: Any) -> Formulas:
    """Return what is known of the formulas of a document."""
    identity = document.RuntimeUID
    if identity not in _OPEN_DOCUMENTS:
        _OPEN_DOCUMENTS[identity] = Formulas(document, identity)
    return _OPEN_DOCUMENTS[identity]
