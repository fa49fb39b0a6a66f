"""The formulas of a Calc document: which calls of a function they hold, and with which blank cells.

Only texts of formulas and contents of input cells are read, never a result: asking for one in the middle of a
recalculation would start another. What was read is forgotten at every change of the document.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

import unohelper
from com.sun.star.util import XModifyListener

from pressfuncs.hosts.calc.call_sites import OPEN, Argument, Cell, calls, cell_of
from pressfuncs.hosts.calc.signatures import sheet_arguments
from pressfuncs.registry import FunctionSpec

FORMULAS = 16
CONTENTS = 1 + 2 + 4 + FORMULAS
"""Numbers, dates, texts and formulas: everything a cell may hold that is not blank (constants of CellFlags)."""

_FEW_BLOCKS = 64
_LARGEST_BLOCK = 1_000_000
"""Calc takes long to hand over thousands of small blocks, and much memory for one with millions of cells."""

_NAME = re.compile(r"[^\W\d][\w.]*")

Places = frozenset[int]
"""Places of arguments in a call, from 0."""

Calls = dict[tuple[bool, ...], dict[tuple[Any, ...], set[Places]]]
"""Calls of one function: which arguments are known -> their values -> which of them are blank cells."""


class Sheet:
    """The contents of one sheet as they would be typed, read in few large blocks."""

    def __init__(self, sheet: Any, contents: int = CONTENTS) -> None:
        """Read the cells that hold something of these kinds."""
        self.blocks = [
            (
                area.StartColumn,
                area.StartRow,
                sheet.getCellRangeByPosition(
                    area.StartColumn, area.StartRow, area.EndColumn, area.EndRow
                ).getFormulaArray(),
            )
            for area in _areas(sheet.queryContentCells(contents).RangeAddresses)
        ]

    def text(self, column: int, row: int) -> str:
        """Return what a cell holds; "" for a blank one."""
        for first_column, first_row, rows in self.blocks:
            if 0 <= row - first_row < len(rows) and 0 <= column - first_column < len(rows[0]):
                found: str = rows[row - first_row][column - first_column]
                if found:
                    return found
        return ""

    def formulas(self) -> Iterator[str]:
        """Give the text of every formula."""
        for _, _, rows in self.blocks:
            for row in rows:
                for text in row:
                    if text.startswith(("=", "{=")):
                        yield text


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
        document.addModifyListener(self)

    def modified(self, event: Any) -> None:
        """Forget what was read."""
        self.sheets.clear()
        self.found.clear()

    def disposing(self, event: Any) -> None:
        """Forget the document."""
        _OPEN_DOCUMENTS.pop(self.identity, None)

    def blanks(self, spec: FunctionSpec, values: Sequence[Any], doubtful: Places) -> set[Places]:
        """Return which of the doubtful places are blank cells, in each call that agrees with the values."""
        if self.document.hasControllersLocked() or self.document.isActionLocked():
            self.modified(None)  # changes are told only when the lock ends
        if spec.name not in self.found:
            self.found[spec.name] = self._read(spec)
        padded = [*values, *[None] * (len(sheet_arguments(spec)) - len(values))]
        keys = [_key(value) for value in padded]
        agreeing: set[Places] = set()
        for known, calls_by_key in self.found[spec.name].items():
            key = tuple(k for k, is_known in zip(keys, known) if is_known)
            agreeing |= {places & doubtful for places in calls_by_key.get(key, ())}
        return agreeing

    def _read(self, spec: FunctionSpec) -> Calls:
        """Return every call of the function that the document holds."""
        found: Calls = {}
        call = spec.sheet_name + "("
        count = len(sheet_arguments(spec))
        for sheet in self.document.Sheets:
            named_cell = partial(self._named_cell, sheet)
            for formula in self._sheet(sheet.Name).formulas():
                if call not in formula.upper():
                    continue
                for arguments in calls(formula, spec.sheet_name, named_cell):
                    read = [self._read_argument(sheet.Name, argument) for argument in arguments]
                    read += [(None, False)] * (count - len(read))
                    known = tuple(value is not OPEN for value, _ in read)
                    key = tuple(_key(value) for value, _ in read if value is not OPEN)
                    blank = frozenset(i for i, (_, is_blank) in enumerate(read) if is_blank)
                    found.setdefault(known, {}).setdefault(key, set()).add(blank)
        return found

    def _read_argument(self, sheet: str, argument: Argument) -> tuple[Any, bool]:
        """Return an argument as Calc hands it over, OPEN if that is not known; and whether it is a blank cell."""
        if not isinstance(argument, Cell):
            return argument, False
        text = self._sheet(argument.sheet or sheet).text(argument.column, argument.row)
        if not text:
            return 0.0, True
        try:
            return float(text), False
        except ValueError:  # a formula, a text, or a number that is written as a date or a percentage
            return OPEN, False

    def _sheet(self, name: str) -> Sheet:
        if name not in self.sheets:
            self.sheets[name] = Sheet(self.document.Sheets.getByName(name))
        return self.sheets[name]

    def _named_cell(self, sheet: Any, name: str) -> Cell | None:
        """Return the cell that a name stands for, on the sheet or in the whole document."""
        if _NAME.fullmatch(name):
            for names in (sheet.NamedRanges, self.document.NamedRanges):
                if names.hasByName(name):
                    return cell_of(names.getByName(name).Content)
        return None


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
