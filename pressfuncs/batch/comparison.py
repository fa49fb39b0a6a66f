"""Ordinary formulas apart from ours: is the engine to be trusted? It is where it gets what the file stores."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from pressfuncs.batch.book import Book, Cell, Run
from pressfuncs.batch.engine import Engine, Failure
from pressfuncs.batch.formulas import NotUnderstood, Template
from pressfuncs.batch.hoist import Slot, Slots, movable
from pressfuncs.batch.intersection import may_spill
from pressfuncs.errors import CellError

NO_CELL = "INDIRECT leads to what the engine does not know as a cell"
_SEVERAL = "it gives several values where one is stored"


@dataclass
class Disagreement:
    """An ordinary formula, apart from ours, whose stored value the engine does not get."""

    cell: Cell
    stored: Any
    computed: Any
    functions: frozenset[str]


@dataclass
class Compared:
    """What a comparison found."""

    unstored: dict[Cell, Any] = field(default_factory=dict)
    """computed values of cells that store none"""
    failed: dict[Cell, str] = field(default_factory=dict)
    disagreements: list[Disagreement] = field(default_factory=list)
    confirmed: int = 0
    replaced: list[Cell] = field(default_factory=list)
    """confirmed in the end, but the engine has the stored value in the place of the formula"""


def equal(stored: Any, computed: Any) -> bool:
    """Whether two values of a cell are the same but for the last digits that programs differ in.

    >>> equal(0.3, 0.1 + 0.2), equal("a", "b"), equal(1.0, True)
    (True, False, False)
    """
    if isinstance(stored, float) and isinstance(computed, float):
        return stored == computed or abs(stored - computed) <= 1e-11 * max(abs(stored), abs(computed))
    return type(stored) is type(computed) and bool(stored == computed)


def cell_values(engine: Engine, run: Run) -> Iterator[tuple[Cell, Any]]:
    """Yield the cells of a run with their computed values; a formula that spills has failed."""
    values = engine.values(run.sheet, run.column, run.first, run.last)
    unsure = run.template is not None and may_spill(run.template)
    indirect = run.template is not None and "INDIRECT" in run.template.functions
    for cell, value in zip(run.cells(), values):
        if indirect and isinstance(value, CellError) and value.code in ("#REF!", "#NAME?"):
            yield cell, Failure(NO_CELL)
        elif unsure and engine.is_array(run.sheet, cell[1], run.column):
            yield cell, Failure(_SEVERAL)
        else:
            yield cell, 0.0 if value is None else value


class Comparison:
    """Compares runs with what the file stores, after the engine has evaluated them."""

    def __init__(self, book: Book, engine: Engine, slots: Slots) -> None:
        """Compare nothing yet."""
        self.book = book
        self.engine = engine
        self.slots = slots
        self.found = Compared()
        self._scratches: dict[tuple[str, int], Slot] = {}
        self._suspects: dict[int, list[tuple[Disagreement, Run]]] = defaultdict(list)
        self._unstored: dict[int, Run] = {}

    def add(self, run: Run) -> None:
        """Compare one run of single cells."""
        stored = self.book.sheets[run.sheet].values.get(run.column, {})
        assert run.template is not None
        for cell, value in cell_values(self.engine, run):
            before = stored.get(cell[1])
            if isinstance(value, Failure):
                self.found.failed[cell] = value.reason
            elif before is None:
                self.found.unstored[cell] = value
                self._unstored[id(run)] = run
            elif equal(before, value):
                self.found.confirmed += 1
            else:
                suspect = Disagreement(cell, before, value, run.template.functions)
                self._suspects[id(run)].append((suspect, run))

    def settle(self) -> None:
        """Put stored values in place of what differs; cells that only passed a difference on are cleared.

        A cell below another suspect may differ only because that one does. With the stored values of all
        suspects in place, the formula of each is tried once more, in a scratch cell of its row.
        """
        tries: list[tuple[Disagreement, Slot | None]] = []
        for suspects in self._suspects.values():
            slot = self._scratch([suspect for suspect, _ in suspects], suspects[0][1])
            tries += [(suspect, slot) for suspect, _ in suspects]
        if not tries:
            return
        for suspect, _ in tries:
            sheet, row, column = suspect.cell
            self.engine.set_values(sheet, row, column, [suspect.stored])
        self.engine.evaluate()
        for run in self._unstored.values():  # they are to rest on what is stored, like all others
            for cell, value in cell_values(self.engine, run):
                if cell in self.found.unstored and not isinstance(value, Failure):
                    self.found.unstored[cell] = value
        for suspect, slot in tries:
            sheet, row, column = suspect.cell
            again = None if slot is None else self.engine.values(slot.sheet, slot.column, row, row)[0]
            if slot is not None and equal(suspect.stored, 0.0 if again is None else again):
                self.found.confirmed += 1
                self.found.replaced.append(suspect.cell)
            else:
                self.found.disagreements.append(suspect)

    def _scratch(self, suspects: list[Disagreement], run: Run) -> Slot | None:
        """Write the formulas of some rows of a run on a scratch sheet; None if they mean nothing there."""
        assert run.template is not None
        try:
            template = Template(movable(run.template.tokens, run))
        except NotUnderstood:
            return None
        slot = self._scratches.get((run.sheet, run.column))  # runs of one column have no row in common
        if slot is None:
            known = set(self.slots.sheets)
            slot = self._scratches[run.sheet, run.column] = self.slots.column()
            if slot.sheet not in known:
                self.engine.add_sheet(slot.sheet)
        write = self.engine.adapt(template).bind(run.column)
        for suspect in suspects:
            row = suspect.cell[1]
            self.engine.set_formulas(slot.sheet, row, slot.column, [write(row)])
        return slot

    def add_array(self, run: Run, rows: list[list[Any]]) -> None:
        """Compare an array formula, computed elsewhere, with what its cells store."""
        assert run.area is not None
        assert run.template is not None
        anchor = (run.sheet, run.first, run.column)
        failure = next((value for row in rows for value in row if isinstance(value, Failure)), None)
        if failure is not None:
            self.found.failed[anchor] = failure.reason
            return
        r1, c1, r2, c2 = run.area
        for i in range(max(r2 - r1 + 1, len(rows) if run.dynamic else 1)):
            for j in range(max(c2 - c1 + 1, len(rows[0]) if run.dynamic else 1)):
                value = at(rows, i, j) if run.dynamic else repeated(rows, i, j)
                before = self.book.sheets[run.sheet].value(r1 + i, c1 + j)
                if equal(before, value):
                    self.found.confirmed += 1
                else:
                    cell = (run.sheet, r1 + i, c1 + j)
                    self.found.disagreements.append(Disagreement(cell, before, value, run.template.functions))


def at(rows: list[list[Any]], i: int, j: int) -> Any:
    """Return an element, None outside: a shrunk array leaves blank cells behind. A blank inside shows as 0."""
    if i >= len(rows) or j >= len(rows[0]):
        return None
    return 0.0 if rows[i][j] is None else rows[i][j]


def repeated(rows: list[list[Any]], i: int, j: int) -> Any:
    """Return an element of an array laid over a fixed area: one row or column repeats, else #N/A outside."""
    value = at(rows, 0 if len(rows) == 1 else i, 0 if len(rows[0]) == 1 else j)
    return CellError("#N/A") if value is None else value
