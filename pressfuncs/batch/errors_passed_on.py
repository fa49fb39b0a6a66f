"""Cells that are errors for certain among those that cannot be computed, and on to what rests on them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from typing import Any

from pressfuncs.batch.book import Book, Cell, Run
from pressfuncs.batch.certain_errors import NUMBER, TEXT, UNKNOWN, Certain, Known, certain_error
from pressfuncs.batch.spread import Dependents, Interval, Place, add_interval, covered
from pressfuncs.batch.tokens import XlToken
from pressfuncs.batch.values import Values
from pressfuncs.errors import CellError


class Errors:
    """What is known of the cells of a workbook: errors, what could not be computed, and all others."""

    def __init__(self, book: Book, values: Values, unknown: Iterable[Cell]) -> None:
        """Index the errors and the unknown cells by column.

        Arguments:
            book: the workbook, whose stored values hold where nothing was computed
            values: what was computed
            unknown: cells whose value nobody knows, whatever they store
        """
        self.book = book
        self.values = values
        self.unknown: dict[Place, set[int]] = defaultdict(set)
        for sheet, row, column in unknown:
            self.unknown[sheet, column].add(row)
        self.errors: dict[Place, dict[int, Certain]] = defaultdict(dict)
        for name, within in book.sheets.items():
            for column, stored in within.values.items():
                self._index((name, column), stored, values.columns.get((name, column), {}))
        for place, new in values.columns.items():
            self._index(place, new, {})

    def _index(self, place: Place, held: dict[int, Any], newer: Collection[int]) -> None:
        if CellError not in set(map(type, held.values())):
            return
        unknown = self.unknown.get(place, ())
        for row, value in held.items():
            if isinstance(value, CellError) and row not in newer and row not in unknown:
                self.errors[place][row] = Certain(value, True)

    def add(self, cell: Cell, found: Certain) -> None:
        """Take in a cell that turned out to be an error."""
        place = cell[0], cell[2]
        self.unknown[place].discard(cell[1])
        self.errors[place][cell[1]] = found

    def at(self, sheet: str, row: int, column: int) -> Known:
        """Return what is known of a cell."""
        held = self.book.sheet(sheet)
        if held is None:
            return UNKNOWN
        place = held.name, column
        if row in self.unknown.get(place, ()):
            return UNKNOWN
        error = self.errors.get(place, {}).get(row)
        if error is not None:
            return error
        computed = self.values.columns.get(place, {})
        return TEXT if isinstance(computed[row] if row in computed else held.value(row, column), str) else NUMBER

    def within(self, sheet: str, area: tuple[int, int, int, int]) -> Known:
        """Return what a function that takes every cell of an area makes of it."""
        held = self.book.sheet(sheet)
        if held is None:
            return UNKNOWN
        r1, c1, r2, c2 = area
        columns = [column for name, column in self.errors if name == held.name and c1 <= column <= c2]
        found = [
            (row, column, error)
            for column in sorted(columns)
            for row, error in _rows_between(self.errors[held.name, column], r1, r2)
        ]
        doubt = any(
            any(r1 <= row <= r2 for row in rows)
            for (name, column), rows in self.unknown.items()
            if name == held.name and c1 <= column <= c2
        )
        if not found:
            return UNKNOWN if doubt else NUMBER
        first = min(found, key=lambda entry: entry[:2])[2]
        return Certain(first.error, first.sure and not doubt and len({error for _, _, error in found}) == 1)


def _rows_between(held: dict[int, Certain], first: int, last: int) -> Iterator[tuple[int, Certain]]:
    if last - first < len(held):
        yield from ((row, held[row]) for row in range(first, last + 1) if row in held)
    else:
        yield from ((row, error) for row, error in held.items() if first <= row <= last)


def passed_on(
    book: Book, runs: list[Run], values: Values, out: Collection[Cell], due: Collection[Cell], sure: bool
) -> dict[Cell, CellError]:
    """Return cells that are errors for certain, among those that could not be computed and ought to be.

    Arguments:
        book: the workbook
        runs: normalised; at least those of the cells in `out`
        values: what was computed
        out: cells that could not be computed
        due: of them, those that ought to be
        sure: whether only those count of which the kind of error is certain too; else one that stores an error
            keeps that, and another gets the error that is known
    """
    open_runs = [run for run in runs if any(cell in out for cell in run.cells())] if due else []
    if not open_runs:
        return {}
    unknown = {*out}
    for run in open_runs:
        if run.area is not None:
            r1, c1, r2, c2 = covered(run)
            unknown.update((run.sheet, r, c) for r in range(r1, r2 + 1) for c in range(c1, c2 + 1))
    errors = Errors(book, values, unknown)
    dependents = Dependents(open_runs)
    found: dict[Cell, CellError] = {}
    hit: dict[int, list[Interval]] = defaultdict(list)
    for number, run in enumerate(open_runs):
        if run.template is not None and any(token.subtype == XlToken.ERROR for token in run.template.tokens):
            hit[number] = [(run.first, run.last)]
    fresh: list[Cell] = [(name, row, column) for (name, column), rows in errors.errors.items() for row in rows]
    while fresh or hit:
        for number, rows in dependents.of_cells(fresh):
            add_interval(hit[number], rows)
        places = [(row, number) for number, several in hit.items() for a, b in several for row in range(a, b + 1)]
        fresh, hit = [], defaultdict(list)
        for way in (sorted(places), sorted(places, reverse=True)):  # running totals go downwards, or upwards
            for row, number in way:
                run = open_runs[number]
                cell = run.sheet, row, run.column
                if cell in found or cell not in due or cell not in out:
                    continue
                error = certain_error(run, row, errors)
                if error is None or (sure and not error.sure):
                    continue
                stored = book.sheets[run.sheet].value(row, run.column)
                if not error.sure and isinstance(stored, CellError):
                    error = Certain(stored, False)
                errors.add(cell, error)
                found[cell] = error.error
                fresh.append(cell)
    return found
