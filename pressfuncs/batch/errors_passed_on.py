"""Cells that are errors for certain among those that cannot be computed, and on to what rests on them."""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping

from pressfuncs.batch.book import Book, Cell, Run
from pressfuncs.batch.certain_errors import NUMBER, TEXT, UNKNOWN, Certain, Known, certain_error
from pressfuncs.batch.spread import Dependents, Interval, Place, add_interval, covered
from pressfuncs.batch.tokens import XlToken
from pressfuncs.batch.values import Values
from pressfuncs.errors import CellError

MARK = CellError("#N/A")
"""What a cell is given that cannot be refreshed and rests on a new error."""


class _Rows:
    """Rows of one column in order, with what is known of each; a window of them is not walked through."""

    def __init__(self, known: Mapping[int, Known]) -> None:
        self.known = dict(known)
        self._order = sorted(self.known)
        self._kinds = set(self.known.values())

    def add(self, row: int, known: Known) -> None:
        self.known[row] = known
        self._kinds.add(known)
        insort(self._order, row)

    def discard(self, row: int) -> None:
        if self.known.pop(row, None) is not None:
            del self._order[bisect_left(self._order, row)]

    def first(self, rows: Interval) -> int | None:
        """Return the first one between two rows."""
        i = bisect_left(self._order, rows[0])
        return self._order[i] if i < len(self._order) and self._order[i] <= rows[1] else None

    def kinds(self, rows: Interval) -> set[Known]:
        """Return what is known of those between two rows, of which there is one."""
        if len(self._kinds) == 1:
            return self._kinds
        low, high = bisect_left(self._order, rows[0]), bisect_right(self._order, rows[1])
        return {self.known[row] for row in self._order[low:high]}


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
        open_rows: dict[Place, dict[int, Known]] = defaultdict(dict)
        for sheet, row, column in unknown:
            open_rows[sheet, column][row] = UNKNOWN
        self._unknown = {place: _Rows(rows) for place, rows in open_rows.items()}
        self._errors: dict[Place, _Rows] = {}
        stored = {(name, column) for name, within in book.sheets.items() for column in within.values}
        for place in stored.union(values.columns):
            old, new = book.sheets[place[0]].values.get(place[1], {}), values.columns.get(place, {})
            found = {
                row: Certain(value, True)
                for held, newer in ((new, {}), (old, new))
                if CellError in set(map(type, held.values()))
                for row, value in held.items()
                if isinstance(value, CellError) and row not in newer and row not in open_rows.get(place, {})
            }
            if found:
                self._errors[place] = _Rows(found)

    def cells(self) -> Iterator[Cell]:
        """Yield the cells that are errors."""
        for (sheet, column), rows in self._errors.items():
            yield from ((sheet, row, column) for row in rows.known)

    def add(self, cell: Cell, found: Certain) -> None:
        """Take in a cell that turned out to be an error."""
        sheet, row, column = cell
        self._unknown[sheet, column].discard(row)
        self._errors.setdefault((sheet, column), _Rows({})).add(row, found)

    def at(self, sheet: str, row: int, column: int) -> Known:
        """Return what is known of a cell."""
        held = self.book.sheet(sheet)
        if held is None:
            return UNKNOWN
        place = held.name, column
        for rows in (self._unknown.get(place), self._errors.get(place)):
            if rows is not None and row in rows.known:
                return rows.known[row]
        computed = self.values.columns.get(place, {})
        return TEXT if isinstance(computed[row] if row in computed else held.value(row, column), str) else NUMBER

    def within(self, sheet: str, area: tuple[int, int, int, int]) -> Known:
        """Return what a function that takes every cell of an area makes of it."""
        held = self.book.sheet(sheet)
        if held is None:
            return UNKNOWN
        rows = area[0], area[2]

        def columns(among: dict[Place, _Rows]) -> Iterator[tuple[int, int, _Rows]]:
            """Yield those with a row in the area: the first row, the column and all of its rows."""
            for (name, column), several in among.items():
                if name == held.name and area[1] <= column <= area[3]:
                    first = several.first(rows)
                    if first is not None:
                        yield first, column, several

        doubt = any(True for _ in columns(self._unknown))
        found = list(columns(self._errors))
        if not found:
            return UNKNOWN if doubt else NUMBER
        kinds = set().union(*(several.kinds(rows) for _, _, several in found))
        row, _, several = min(found, key=lambda entry: entry[:2])
        first = several.known[row]
        assert isinstance(first, Certain)
        return Certain(first.error, first.sure and not doubt and len(kinds) == 1)


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
    fresh = list(errors.cells())
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
