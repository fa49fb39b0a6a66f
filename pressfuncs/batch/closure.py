"""The part of a workbook that some formulas rest on, as a small workbook of its own.

A second engine costs a tenth of a millisecond a cell, and is asked about a handful of formulas. It gets these,
what they rest on (as formulas, to see whether the engines agree on it), and nothing else. Where that is too
much, the rest are constants, and of long columns only some rows are formulas.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from pressfuncs.batch.book import Book, Cell, Run, Sheet
from pressfuncs.batch.formulas import Ref
from pressfuncs.batch.plan import VOLATILE
from pressfuncs.batch.spread import (
    Interval,
    Place,
    Precedents,
    add_interval,
    columns_of,
    covered,
    intervals_of,
    rows_of,
)


@dataclass(frozen=True)
class Budget:
    """What a second engine may be given."""

    cells: int = 200_000
    """cells in all; each costs a tenth of a millisecond"""
    checked: int = 20_000
    """of them, cells given only to see whether the engines agree on what the formulas rest on"""
    reads: int = 50_000_000
    """cells that its formulas read, one counted as often as it is read"""
    steps: int = 5_000
    """stretches of rows that are followed to what they rest on"""


class Cells:
    """Some cells, as stretches of rows by column."""

    def __init__(self, stretches: Iterable[tuple[Place, Interval]]) -> None:
        """Keep the stretches, which may overlap."""
        found: dict[Place, list[Interval]] = defaultdict(list)
        for place, rows in stretches:
            found[place].append(rows)
        self._lasts: dict[Place, list[int]] = {}
        self._firsts: dict[Place, list[int]] = {}
        for place, several in found.items():
            merged: list[Interval] = []
            for first, last in sorted(several):
                if merged and first <= merged[-1][1] + 1:
                    merged[-1] = (merged[-1][0], max(last, merged[-1][1]))
                else:
                    merged.append((first, last))
            self._firsts[place] = [first for first, _ in merged]
            self._lasts[place] = [last for _, last in merged]

    def __contains__(self, cell: Cell) -> bool:
        """Whether a cell is one of them."""
        place = cell[0], cell[2]
        i = bisect_right(self._firsts.get(place, ()), cell[1]) - 1
        return i >= 0 and cell[1] <= self._lasts[place][i]

    def within(self, run: Run) -> Iterator[Cell]:
        """Yield those that hold the formula of a run."""
        place = run.sheet, run.column
        firsts, lasts = self._firsts.get(place, []), self._lasts.get(place, [])
        i = max(0, bisect_right(firsts, run.first) - 1)
        while i < len(firsts) and firsts[i] <= run.last:
            for row in range(max(firsts[i], run.first), min(lasts[i], run.last) + 1):
                yield run.sheet, row, run.column
            i += 1


def cells_of(runs: list[Run], reached: Mapping[int, list[Interval]]) -> Cells:
    """Return the cells of some rows of runs, by the number of the run."""

    def stretches() -> Iterator[tuple[Place, Interval]]:
        for number, several in reached.items():
            run = runs[number]
            r1, c1, r2, c2 = covered(run)
            for rows in several if run.area is None else [(r1, r2)]:
                for column in range(c1, c2 + 1):
                    yield (run.sheet, column), rows

    return Cells(stretches())


class Closure:
    """Chooses the formulas to keep, and the cells they read."""

    def __init__(self, book: Book, runs: list[Run], budget: Budget, constant: Collection[Cell] = ()) -> None:
        """Choose nothing yet; `runs` are the normalised ones of the book, `constant` cells stay constants."""
        self.book = book
        self.runs = runs
        self.budget = budget
        self.kept: dict[int, list[Interval]] = {}
        """rows that stay formulas, by the number of their run"""
        self._precedents = Precedents(runs)
        self._constant = Cells(
            (place, rows) for place, several in intervals_of(constant).items() for rows in several
        )
        self._given: dict[Place, list[Interval]] = {}
        self._cells = 0
        self._reads = 0
        self._columns: dict[str, dict[int, int]] = {}  # sheet -> column -> last row that holds anything
        for name, sheet in book.sheets.items():
            self._columns[name] = {column: max(rows) for column, rows in sheet.values.items() if rows}
        for run in runs:
            _, c1, r2, c2 = covered(run)
            lasts = self._columns[run.sheet]
            for column in range(c1, c2 + 1):
                lasts[column] = max(lasts.get(column, 1), r2)

    def ask(self, cells: Iterable[Cell]) -> None:
        """Keep the formulas in some cells, as many as the budget allows."""
        for (sheet, column), stretches in intervals_of(cells).items():
            for first, last in stretches:
                ref = Ref(sheet, first, column, last, column, (True,) * 4)
                for number in sorted(set(self._precedents.of_ref(ref, self.runs[0]))):
                    self._keep(number, _common(self.runs[number], (first, last)), self.budget.cells)

    def check(self) -> None:
        """Keep what the kept formulas rest on, nearest first, as much as is worth while."""
        limit = min(self.budget.cells, self._cells + self.budget.checked)
        waiting = [(number, rows) for number, stretches in self.kept.items() for rows in stretches]
        steps = 0
        while waiting:
            following: list[tuple[int, Interval]] = []
            for number, rows in waiting:
                for other, wanted in self._above(number, rows):
                    template = self.runs[other].template
                    if template is not None and template.functions & VOLATILE:
                        continue  # it would get another value
                    steps += 1
                    if steps > self.budget.steps:
                        return
                    for fresh in add_interval(list(self.kept.get(other, ())), wanted):
                        following += [(other, got) for got in self._keep(other, fresh, limit)]
            waiting = following

    def cells(self) -> Cells:
        """Return all cells of kept formulas; all that an array formula fills."""
        return cells_of(self.runs, self.kept)

    def _above(self, number: int, rows: Interval) -> Iterator[tuple[int, Interval]]:
        """Yield the rows of runs that some rows of a run refer to, directly."""
        part = self.runs[number].part(*rows)
        for ref in part.template.refs if part.template is not None else ():
            reached = rows_of(ref, part)
            for other in set(self._precedents.of_ref(ref, part)):
                if other == number:  # its own earlier or later rows: all of them at once
                    run = self.runs[other]
                    reached = min(reached[0], run.first) if reached[0] < rows[0] else reached[0], reached[1]
                    reached = reached[0], max(reached[1], run.last) if reached[1] > rows[1] else reached[1]
                yield other, _common(self.runs[other], reached)

    def _keep(self, number: int, rows: Interval, limit: int) -> list[Interval]:
        """Keep rows of a run, or if they are too many, some of them; return which."""
        got: list[Interval] = []
        first, last = rows
        size = last - first + 1
        while first <= last and size:
            part = (first, min(last, first + size - 1))
            places, reads = self._needs(number, part)
            cells = sum(_missing(self._given.get(place, ()), wanted) for place, wanted in places)
            if self._cells + cells <= limit and self._reads + reads <= self.budget.reads:
                for place, wanted in places:
                    fresh = add_interval(self._given.setdefault(place, []), wanted)
                    self._cells += sum(b - a + 1 for a, b in fresh)
                self._reads += reads
                add_interval(self.kept.setdefault(number, []), part)
                got.append(part)
                first = part[1] + 1
            else:
                size //= 2
        return got

    def _needs(self, number: int, rows: Interval) -> tuple[list[tuple[Place, Interval]], int]:
        """Return the cells that rows of a run fill and read, and how many are read, repetitions counted."""
        run = self.runs[number]
        part = run if run.area is not None else run.part(*rows)
        r1, c1, r2, c2 = covered(part)
        places: list[tuple[Place, Interval]] = [((run.sheet, c), (r1, r2)) for c in range(c1, c2 + 1)]
        reads = 0
        for ref in part.template.refs if part.template is not None else ():
            sheet = ref.sheet or run.sheet
            first, last = rows_of(ref, part)
            left, right = columns_of(ref, part)
            lasts = self._columns.get(sheet, {})
            for column in lasts if right - left > len(lasts) else range(left, right + 1):
                end = min(last, lasts.get(column, 0))
                if left <= column <= right and first <= end:
                    places.append(((sheet, column), (first, end)))
                    shifted = ref.fixed[0] == ref.fixed[2] and ref.rows_vary
                    height = abs(ref.row2 - ref.row1) + 1 if shifted else end - first + 1
                    reads += height * (part.last - part.first + 1)
        return places, reads

    def book_of(self, values: Mapping[Cell, Any], blank: Collection[Cell]) -> Book:
        """Return a workbook of the kept formulas and the cells that they read.

        Arguments:
            values: what cells hold, where that is not what the file stores
            blank: cells that are to store nothing
        """
        kept: dict[Place, list[Interval]] = defaultdict(list)
        for number, stretches in self.kept.items():
            run = self.runs[number]
            for rows in stretches:
                for part in self._without_constants(run, rows):
                    add_interval(kept[run.sheet, run.column], part)
        sheets = {
            name: replace(sheet, values={}, runs=[part for run in sheet.runs for part in _cut(run, kept)])
            for name, sheet in self.book.sheets.items()
        }
        for (name, column), stretches in self._given.items():
            for first, last in stretches:
                for row in range(first, last + 1):
                    self._put(sheets[name], (name, row, column), values, blank)
        for name, lasts in self._columns.items():  # what reads whole columns and rows sees how far a sheet reaches
            if lasts and sheets[name].values:
                corner = max(lasts, key=lambda column: lasts[column])
                for column in (corner, max(lasts)):
                    self._put(sheets[name], (name, lasts[column], column), values, blank)
        return replace(self.book, sheets=sheets)

    def _without_constants(self, run: Run, rows: Interval) -> Iterator[Interval]:
        """Yield stretches of the rows without the cells that stay constants; no array that holds one."""
        r1, c1, r2, c2 = covered(run if run.area is not None else run.part(*rows))
        inside = [
            row for row in range(r1, r2 + 1) for c in range(c1, c2 + 1) if (run.sheet, row, c) in self._constant
        ]
        if run.area is not None:
            if not inside:
                yield rows
            return
        for low, high in pairwise([rows[0] - 1, *inside, rows[1] + 1]):
            if low + 1 < high:
                yield low + 1, high - 1

    def _put(self, sheet: Sheet, cell: Cell, values: Mapping[Cell, Any], blank: Collection[Cell]) -> None:
        value = values[cell] if cell in values else self.book.sheets[cell[0]].value(*cell[1:])
        if value is not None and cell not in blank:
            sheet.values.setdefault(cell[2], {})[cell[1]] = value


def _common(run: Run, rows: Interval) -> Interval:
    """Return the rows of a run within others; an array formula has one."""
    if run.area is not None:
        return run.first, run.last
    return max(run.first, rows[0]), min(run.last, rows[1])


def _missing(intervals: Iterable[Interval], wanted: Interval) -> int:
    """Return how many wanted rows are not among some."""
    there = sum(max(0, min(last, wanted[1]) - max(first, wanted[0]) + 1) for first, last in intervals)
    return wanted[1] - wanted[0] + 1 - there


def _cut(run: Run, kept: Mapping[Place, list[Interval]]) -> Iterator[Run]:
    """Yield the kept parts of a run."""
    for first, last in kept.get((run.sheet, run.column), ()):
        low, high = max(first, run.first), min(last, run.last)
        if low <= high:
            yield run if (low, high) == (run.first, run.last) else run.part(low, high)
