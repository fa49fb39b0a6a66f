"""The second engine, formulon (Apache 2.0 licence): slower, nearer to spreadsheets, optional.

It was checked by its authors against Excel, so that it is the judge where the first engine cannot compute a
formula, or gets another value than the file stores. It says nothing of circles: those are never left to it.
"""

from __future__ import annotations

import importlib.util
import math
from functools import cache
from typing import Any

from pressfuncs.batch.book import Book, Run
from pressfuncs.batch.doubts import doubt_anywhere
from pressfuncs.batch.engine import Failure
from pressfuncs.batch.formulas import NotUnderstood, Template
from pressfuncs.errors import CellError

_ERRORS = {0: "#NULL!", 1: "#DIV/0!", 2: "#VALUE!", 3: "#REF!", 4: "#NAME?", 5: "#NUM!", 6: "#N/A"}
_CODES = {code: number for number, code in _ERRORS.items()}
_SPILL = 8
_ROOM = 450 << 20
"""bytes: 260 MB to start, and a hundred or so for 200 000 cells"""
_PREFIXES = ("_xlfn.", "_xlws.")


def installed() -> bool:
    """Whether the engine is there."""
    return importlib.util.find_spec("formulon") is not None


def has_room() -> bool:
    """Whether the memory that this process may still use is enough to start it, and for some 100 000 cells.

    It would take the process with it otherwise. Where nothing is bounded, or nobody can tell, there is room.
    """
    try:
        import resource

        most, _ = resource.getrlimit(resource.RLIMIT_DATA)
        with open("/proc/self/status", encoding="ascii") as status:
            used = int(next(line for line in status if line.startswith("VmData:")).split()[1]) << 10
    except (ImportError, AttributeError, OSError, StopIteration, ValueError):
        return True
    return most == resource.RLIM_INFINITY or most - used >= _ROOM


class Formulon:
    """The formulon engine, one workbook an instance; its first one in a process takes seconds to start."""

    name = "formulon"

    def __init__(self, date1904: bool = False) -> None:
        """Start an empty workbook with the file's date system."""
        self._book = _module().Workbook.create_empty()
        if date1904:
            self._book.set_date1904(True)
        self._sheets: dict[str, int] = {}

    def check(self, formula: str) -> None:
        """Raise NotUnderstood if the formula cannot be parsed."""
        try:
            _scratch().set_formula(0, 0, 0, "=" + formula)
        except Exception as error:  # the package's own class, imported only where the engine is used
            raise NotUnderstood("the engine cannot read the formula") from error

    def knows(self, function: str) -> bool:
        """Whether the engine has a function of this name."""
        return _known(function.upper())

    def doubt(self, run: Run, book: Book) -> None:
        """Raise NotUnderstood if the formula means something else in the engine's copy of the workbook."""
        doubt_anywhere(run, book)

    def adapt(self, template: Template) -> Template:
        """Return the formula as it is: the engine keeps spreadsheets' rules for the last digits itself."""
        return template

    def add_sheet(self, name: str) -> None:
        """Add an empty sheet."""
        self._sheets[name] = len(self._sheets)
        self._book.add_sheet(name)

    def set_values(self, sheet: str, row: int, column: int, values: list[Any]) -> None:
        """Write values downwards from a cell."""
        number = self._sheets[sheet]
        for place, value in enumerate(values, row - 1):
            self._set(number, place, column - 1, value)

    def _set(self, sheet: int, row: int, column: int, value: Any) -> None:
        if value is None:
            self._book.set_blank(sheet, row, column)
        elif isinstance(value, bool):
            self._book.set_bool(sheet, row, column, value)
        elif isinstance(value, str):
            self._book.set_text(sheet, row, column, value)
        elif isinstance(value, CellError):
            self._book.set_error(sheet, row, column, _CODES.get(value.code, _CODES["#VALUE!"]))
        elif math.isfinite(value):
            self._book.set_number(sheet, row, column, float(value))
        else:
            self._book.set_error(sheet, row, column, _CODES["#NUM!"])

    def set_formulas(self, sheet: str, row: int, column: int, formulas: list[str]) -> None:
        """Write formulas downwards from a cell."""
        number = self._sheets[sheet]
        for place, formula in enumerate(formulas, row - 1):
            self._book.set_formula(number, place, column - 1, "=" + formula)

    def evaluate(self) -> None:
        """Compute everything that is out of date."""
        self._book.recalc()

    def values(self, sheet: str, column: int, first: int, last: int) -> list[Any]:
        """Return the computed values of some rows of a column."""
        number = self._sheets[sheet]
        return [_value(self._book.get_value(number, row - 1, column - 1)) for row in range(first, last + 1)]

    def is_array(self, sheet: str, row: int, column: int) -> bool:
        """Whether the formula in a cell fills more cells than its own."""
        spill = self._book.spill_info(self._sheets[sheet], row - 1, column - 1)
        anchor = (spill.anchor_row, spill.anchor_col) == (row - 1, column - 1)
        return bool(spill.engaged and anchor and spill.rows * spill.cols > 1)

    def array(self, sheet: str) -> list[list[Any]]:
        """Return the rows of the array that the formula in A1 gives."""
        spill = self._book.spill_info(self._sheets[sheet], 0, 0)
        rows, columns = (spill.rows, spill.cols) if spill.engaged else (1, 1)
        by_column = [self.values(sheet, column, 1, rows) for column in range(1, columns + 1)]
        return [list(row) for row in zip(*by_column)]


def _value(value: Any) -> Any:
    kind = value.kind.name
    if kind == "NUMBER":
        return value.number
    if kind == "TEXT":
        return value.text
    if kind == "BOOL":
        return value.boolean
    if kind == "BLANK":
        return None
    if kind == "ERROR" and value.error_code in _ERRORS:
        return CellError(_ERRORS[value.error_code])
    if kind == "ERROR" and value.error_code == _SPILL:
        return Failure("its array has no room", True)
    return Failure("the engine cannot compute it")


@cache
def _module() -> Any:
    return importlib.import_module("formulon")


@cache
def _scratch() -> Any:
    book = _module().Workbook.create_empty()
    book.add_sheet("Scratch")
    return book


@cache
def _known(function: str) -> bool:
    for prefix in _PREFIXES:
        function = function.removeprefix(prefix.upper())
    return _module().Workbook.function_metadata(function) is not None
