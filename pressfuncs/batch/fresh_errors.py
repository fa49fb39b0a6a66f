"""What was not refreshed must not go on looking valid beside a result that has just become an error.

A stored "ok" rests on a force; the force is #VALUE! now, and the formula between them could not be computed. An
operand that is an error makes the result that error, whatever the others are. Any other formula below it that was
left is marked #N/A.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

from pressfuncs.batch.book import Book, Cell, Run
from pressfuncs.batch.compute import Computed
from pressfuncs.batch.formulas import NotUnderstood, Ref, Template, function_name
from pressfuncs.batch.tokens import XlToken
from pressfuncs.errors import CellError

MARK = CellError("#N/A")
"""What a cell shows that was left beside a fresh error; the formula in it stays."""

_OF_RANGES = frozenset("AVERAGE CONCAT MAX MEDIAN MIN PRODUCT SUM SUMSQ".split())
_STRICT = _OF_RANGES | frozenset(
    "ABS ACOS AND ASIN ATAN ATAN2 CEILING CONCATENATE COS DEGREES EXP FLOOR INT LEFT LEN LN LOG LOG10 LOWER MID"
    " MOD NOT OR POWER QUOTIENT RADIANS RIGHT ROUND ROUNDDOWN ROUNDUP SIGN SIN SQRT TAN TEXT TRIM TRUNC"
    " UPPER VALUE XOR".split()
)
"""Functions that give an error wherever an argument is one; the first ones also where a range holds one."""

_FIRST = frozenset({"IF", "IFS", "CHOOSE", "SWITCH"})
"""Functions that give an error wherever their first argument is one."""


def pass_on(book: Book, computed: Computed, stale: dict[str, dict[int, dict[int, Any]]]) -> list[Cell]:
    """Give errors to the formulas that were left below results that have just become errors.

    Arguments:
        book: the workbook as it was read
        computed: what was computed; cells that get an error of their own are no longer listed as not refreshed
        stale: the values that differ from what is stored, by sheet, column and row; errors are added

    Returns:
        the cells marked with `MARK`, since nobody can say what they would hold
    """
    fresh = _Fresh(book, stale)
    left = {cell for cell, _ in computed.frozen} | set(computed.not_refreshed)
    marked: dict[Cell, bool] = {}
    runs = [run for run in computed.left if run.template is not None]
    upwards = True
    while fresh.grown:
        fresh.grown, upwards = False, not upwards  # formulas may hang on the row above, or on the row below
        for run in runs:
            for cell in reversed(list(run.cells())) if upwards else run.cells():
                held = book.sheets[cell[0]].value(cell[1], cell[2])
                if cell not in left or cell in marked or isinstance(held, CellError):
                    continue
                error, certain = _error(run, cell, fresh)
                if error is not None:
                    marked[cell] = not certain
                    for place in _places(run, cell):
                        fresh.add(place, error)
    sure = {cell for cell, unsure in marked.items() if not unsure}
    computed.not_refreshed = [cell for cell in computed.not_refreshed if cell not in sure]
    computed.frozen = [entry for entry in computed.frozen if entry[0] not in sure]
    return [cell for cell, unsure in marked.items() if unsure]


class _Fresh:
    """Errors by cell where the file stores none, found by rectangle."""

    def __init__(self, book: Book, stale: dict[str, dict[int, dict[int, Any]]]) -> None:
        self.book = book
        self.stale = stale
        self.errors: dict[tuple[str, int], dict[int, CellError]] = defaultdict(dict)
        self._rows: dict[tuple[str, int], list[int]] = {}
        self.grown = False
        for sheet, columns in stale.items():
            for column, rows in columns.items():
                held = book.sheets[sheet].values.get(column, {})
                for row, value in rows.items():
                    if isinstance(value, CellError) and not isinstance(held.get(row), CellError):
                        self.errors[sheet, column][row] = value
                        self.grown = True

    def add(self, cell: Cell, error: CellError) -> None:
        """Store an error in a cell."""
        sheet, row, column = cell
        self.stale[sheet].setdefault(column, {})[row] = error
        self.errors[sheet, column][row] = error
        if (sheet, column) in self._rows:
            insort(self._rows[sheet, column], row)
        self.grown = True

    def within(self, sheet: str, area: tuple[int, int, int, int]) -> CellError | None:
        """Return the first error in a rectangle, None if it holds none."""
        r1, c1, r2, c2 = area
        for place in self.errors if c2 - c1 > len(self.errors) else [(sheet, c) for c in range(c1, c2 + 1)]:
            if place not in self.errors or place[0] != sheet or not c1 <= place[1] <= c2:
                continue
            rows = self._rows.get(place)
            if rows is None:
                rows = self._rows[place] = sorted(self.errors[place])
            at = bisect_left(rows, r1)
            if at < len(rows) and rows[at] <= r2:
                return self.errors[place][rows[at]]
        return None


def _error(run: Run, cell: Cell, fresh: _Fresh) -> tuple[CellError | None, bool]:
    """Return the error that a cell gets, None if it rests on none; and whether that is certain."""
    assert run.template is not None
    found: CellError | None = None
    for ref, strict in _references(run.template):
        try:
            area = ref.rectangle(cell[1], cell[2])
        except NotUnderstood:
            continue
        sheet = fresh.book.sheet(ref.sheet) if ref.sheet is not None else fresh.book.sheets[cell[0]]
        error = fresh.within(sheet.name, area) if sheet is not None else None
        if error is not None and strict and run.area is None:
            return error, True
        found = MARK if error is not None else found
    return found, False


def _references(template: Template) -> Iterator[tuple[Ref, bool]]:
    """Yield the references of a formula, and whether an error in them is always an error of the whole."""
    frames: list[list[Any]] = []  # of each function around: its name, and the place of the argument
    for token in template.tokens:
        if token.opens:
            frames.append([function_name(token.text), 0])
        elif token.closes:
            frames.pop()
        elif token.kind == XlToken.SEP and token.subtype == XlToken.ARG and frames:
            frames[-1][1] += 1
        elif token.ref is not None:
            of_one = token.ref.single or (bool(frames) and frames[-1][0] in _OF_RANGES)
            yield token.ref, of_one and all(name in _STRICT or (name in _FIRST and not at) for name, at in frames)


def _places(run: Run, cell: Cell) -> Iterable[Cell]:
    """Return the cells that a formula fills."""
    if run.area is None:
        return [cell]
    r1, c1, r2, c2 = run.area
    return [(run.sheet, row, column) for row in range(r1, r2 + 1) for column in range(c1, c2 + 1)]
