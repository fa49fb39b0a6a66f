"""The interface to an engine that computes ordinary formulas, and the one that is used: formualizer.

An engine gets values and formulas, knows nothing of our functions, and is asked for values. What it cannot
do it says with `Failure`, which never goes into a file.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any, Protocol

import formualizer

from pressfuncs.batch.addresses import column_index_from_string, coordinate_from_string, get_column_letter
from pressfuncs.batch.book import Book, Run
from pressfuncs.batch.digits import HELPERS, adapt
from pressfuncs.batch.doubts import doubt
from pressfuncs.batch.formulas import NotUnderstood, Template, quote_sheet
from pressfuncs.errors import CellError


@dataclass(frozen=True)
class Failure:
    """The engine's own word that it could not compute a cell."""

    reason: str
    array: bool = False
    """whether it has more values than one, and no room for them"""


class GaveUp(Exception):
    """The engine could not evaluate the workbook as a whole, and does not say because of which formula."""


class Engine(Protocol):
    """What the batch mode asks of an engine; rows and columns count from 1."""

    name: str

    def check(self, formula: str) -> None:
        """Raise NotUnderstood if the formula (without "=") cannot be computed at all."""

    def knows(self, function: str) -> bool:
        """Whether the engine has a function of this name."""

    def doubt(self, run: Run, book: Book) -> None:
        """Raise NotUnderstood if the engine is known to compute the formula otherwise than spreadsheets do."""

    def adapt(self, template: Template) -> Template:
        """Return a formula as this engine must get it to compute what spreadsheets do."""

    def add_sheet(self, name: str) -> None:
        """Add an empty sheet."""

    def set_values(self, sheet: str, row: int, column: int, values: list[Any]) -> None:
        """Write values (None for a blank) downwards from a cell; a formula there is forgotten."""

    def set_formulas(self, sheet: str, row: int, column: int, formulas: list[str]) -> None:
        """Write formulas (without "=") downwards from a cell; never into a cell that held a value before."""

    def evaluate(self) -> None:
        """Compute everything that is out of date; GaveUp if that cannot be done."""

    def values(self, sheet: str, column: int, first: int, last: int) -> list[Any]:
        """Return the computed values of some rows of a column: float, str, bool, None, CellError or Failure."""

    def array(self, sheet: str) -> list[list[Any]]:
        """Return the rows of the array that the formula in A1 gives."""

    def is_array(self, sheet: str, row: int, column: int) -> bool:
        """Whether the formula in a cell fills more cells than its own."""


_ERRORS = {
    "Div": "#DIV/0!",
    "Na": "#N/A",
    "Num": "#NUM!",
    "Value": "#VALUE!",
    "Ref": "#REF!",
    "Name": "#NAME?",
    "Null": "#NULL!",
}
_KINDS = {code: kind for kind, code in _ERRORS.items()}
_FAILURES = {
    "Circ": "it is part of a circular reference",
    "NImpl": "the engine does not have a function in full, or reads a value otherwise than spreadsheets do",
    "Spill": "its array has no room",
    "Calc": "the engine cannot compute this array",
}
_PROBES = ("", "1", "1,1", "1,1,1", "A2:A3,1", "A2:A3,A2:A3,1")


class Formualizer:
    """The formualizer engine (MIT licence), one workbook an instance."""

    name = "formualizer"

    def __init__(self, date1904: bool = False) -> None:
        """Start an empty workbook with the file's date system."""
        settings: Any = formualizer.EvaluationConfig()
        settings.enable_parallel = False  # several times faster for workbooks of this kind
        settings.cycle_detection = "runtime"
        if date1904:
            settings.date_system = "1904"
        self._book = formualizer.Workbook(
            config=formualizer.WorkbookConfig(eval_config=settings, enable_changelog=False)
        )
        self._book.set_temporal_egress("serial")
        for name, (function, least, most) in HELPERS.items():
            self._book.register_function(name, function, min_args=least, max_args=most)
        self._sheets: dict[str, str] = {}
        self._valued: dict[tuple[str, int], bytearray] = {}  # 1 for each row that a value was written to

    def check(self, formula: str) -> None:
        """Raise NotUnderstood if the formula cannot be parsed."""
        try:
            formualizer.parse("=" + formula)
        except Exception as error:  # the engine has no common base class for its parse errors
            raise NotUnderstood("the engine cannot read the formula") from error

    def knows(self, function: str) -> bool:
        """Whether the engine has a function of this name."""
        return _known(function)

    def doubt(self, run: Run, book: Book) -> None:
        """Raise NotUnderstood if the engine is known to compute the formula otherwise than spreadsheets do."""
        doubt(run, book)

    def adapt(self, template: Template) -> Template:
        """Return the formula with spreadsheets' rules for the last digits written into it."""
        return adapt(template)

    def add_sheet(self, name: str) -> None:
        """Add an empty sheet; the engine starts with a Sheet1 of its own, whatever the letter case."""
        inner = "Sheet1" if name.lower() == "sheet1" else name
        self._sheets[name] = inner
        if inner != "Sheet1":
            self._book.add_sheet(inner)

    def set_values(self, sheet: str, row: int, column: int, values: list[Any]) -> None:
        """Write values downwards from a cell."""
        inner = self._sheets[sheet]
        valued = self._valued.setdefault((sheet, column), bytearray())
        if len(valued) < row + len(values):
            valued.extend(bytes(row + len(values) - len(valued)))
        valued[row : row + len(values)] = b"\1" * len(values)
        self._book.set_values_batch(inner, row, column, [[_literal(value)] for value in values])

    def set_formulas(self, sheet: str, row: int, column: int, formulas: list[str]) -> None:
        """Write formulas downwards from a cell.

        The engine loses some of the formulas that are written over values, and says nothing; so that is refused.
        """
        valued = self._valued.get((sheet, column))
        if valued is not None and 1 in valued[row : row + len(formulas)]:
            raise RuntimeError("a formula is written over a value")
        self._book.set_formulas_batch(self._sheets[sheet], row, column, [["=" + text] for text in formulas])

    def evaluate(self) -> None:
        """Compute everything that is out of date."""
        try:
            self._book.evaluate_all()
        except formualizer.ExcelEvaluationError as error:  # as for hundreds of OFFSET that lead to each other
            raise GaveUp(str(error)) from error

    def values(self, sheet: str, column: int, first: int, last: int) -> list[Any]:
        """Return the computed values of some rows of a column."""
        inner = self._sheets[sheet]
        area = formualizer.RangeAddress(inner, first, column, last, column)
        return [_value(row[0]) for row in self._book.sheet(inner).get_values(area)]

    def is_array(self, sheet: str, row: int, column: int) -> bool:
        """Whether the formula in a cell fills more cells than its own."""
        return self._spill(sheet, row, column) is not None

    def _spill(self, sheet: str, row: int, column: int) -> Any:
        place = f"{quote_sheet(self._sheets[sheet])}{get_column_letter(column)}{row}"
        spill = self._book.inspect_cell(place).cell.spill
        return spill if spill is not None and spill.kind == formualizer.SpillRoleKind.Anchor else None

    def array(self, sheet: str) -> list[list[Any]]:
        """Return the rows of the array that the formula in A1 gives."""
        inner = self._sheets[sheet]
        spill = self._spill(sheet, 1, 1)
        if spill is None:
            return [self.values(sheet, 1, 1, 1)]
        corner = str(spill.extent).rpartition(":")[2].replace("$", "")
        letters, rows = coordinate_from_string(corner)
        columns = column_index_from_string(letters)
        area = formualizer.RangeAddress(inner, 1, 1, rows, columns)
        return [[_value(value) for value in row] for row in self._book.sheet(inner).get_values(area)]


def _literal(value: Any) -> Any:
    if isinstance(value, CellError):
        return formualizer.LiteralValue.error(_KINDS.get(value.code, "Value"), None)
    return value


def _value(value: Any) -> Any:
    if value.__class__ is float:
        return value if math.isfinite(value) else CellError("#NUM!")
    if value.__class__ is str or value.__class__ is bool:
        return value
    if isinstance(value, dict):
        kind = str(value.get("kind"))
        if kind in _ERRORS:
            return CellError(_ERRORS[kind])
        return Failure(_FAILURES.get(kind, "the engine failed"), kind == "Spill")
    if value is None:
        return None
    if isinstance(value, int):
        return float(value)
    return Failure(f"the engine answered with a {type(value).__name__}")


@cache
def _known(function: str) -> bool:
    """Ask a scratch workbook, since the engine has no list of its functions."""
    book = formualizer.Workbook()
    for arguments in _PROBES:
        try:
            book.set_formula("Sheet1", 1, 1, f"={function}({arguments})")
            answer = book.evaluate_cell("Sheet1", 1, 1)
        except Exception:  # any refusal of this probe; another number of arguments may do
            continue
        if not (isinstance(answer, dict) and answer.get("kind") == "Name"):
            return True
    return False
