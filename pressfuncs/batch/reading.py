"""The arguments of our calls: constants, cells and ranges read from the engine, one value a row of the run."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import Any, overload

from pressfuncs.batch.book import Book, Run, Sheet
from pressfuncs.batch.comparison import NO_CELL
from pressfuncs.batch.dates import EPOCH_1900, EPOCH_1904, date_of
from pressfuncs.batch.engine import Engine, Failure
from pressfuncs.batch.formulas import LAST_COLUMN, LAST_ROW, Ref
from pressfuncs.batch.hoist import Constant, Hoisted, Nested, Scratch
from pressfuncs.batch.plan import Learned
from pressfuncs.batch.spread import columns_of, covered, rows_of
from pressfuncs.batch.values import Values
from pressfuncs.errors import CellError


class Windows(Sequence[Any]):
    """Stretches of the rows of one range, cut out only when they are asked for: `$B$2:B2` filled down is long."""

    def __init__(self, rows: list[list[Any]], spans: list[tuple[int, int]]) -> None:
        """Keep the rows, and first and last place of each stretch."""
        self._rows = rows
        self._spans = spans

    def __len__(self) -> int:
        """Return how many stretches there are."""
        return len(self._spans)

    @overload
    def __getitem__(self, index: int) -> Any: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Any]: ...
    def __getitem__(self, index: int | slice) -> Any:
        """Return one stretch."""
        if isinstance(index, slice):
            return Windows(self._rows, self._spans[index])
        first, last = self._spans[index]
        return self._rows[first : last + 1]


class Reader:
    """Reads the arguments of calls; what the engine cannot give is noted in `learned`."""

    def __init__(self, book: Book, engine: Engine, learned: Learned, runs: list[Run], known: Values) -> None:
        """Note how far each sheet reaches, results that are not stored yet included.

        Arguments:
            book: the workbook
            engine: has the values of what it computes, which is said in `owned`
            learned: where to note what the engine cannot give
            runs: all runs
            known: values that were computed already; those of other cells are what the book stores
        """
        self.book = book
        self.engine = engine
        self.learned = learned
        self.known = known
        self.owned: Mapping[tuple[str, int], list[tuple[int, int]]] = {}
        self._dated = {name: {column for _, column in sheet.dates} for name, sheet in book.sheets.items()}
        self._epoch = EPOCH_1904 if book.date1904 else EPOCH_1900
        self._last: dict[str, tuple[int, int]] = {}
        for sheet in book.sheets.values():
            last_row = max((max(rows) for rows in sheet.values.values() if rows), default=1)
            self._last[sheet.name] = last_row, max(sheet.values, default=1)
        filled = [(run.sheet, *covered(run)[2:]) for run in runs]
        filled += [(name, max(rows), column) for (name, column), rows in known.columns.items()]
        for name, row, column in filled:
            reach = self._last[name]
            self._last[name] = max(row, reach[0]), max(column, reach[1])

    def argument(
        self, source: object, hoisted: Hoisted, results: dict[int, list[Any]], dates: bool = True
    ) -> tuple[Any, bool]:
        """Return the value of an argument, and whether it is a list with one value a row of the run.

        `dates` says whether numbers that a sheet shows as dates come as dates, so that ours can refuse them.
        """
        run = hoisted.run
        if isinstance(source, Constant):
            return source.value, False
        if isinstance(source, Nested):
            return results[id(hoisted.calls[source.call])], True
        if isinstance(source, Scratch):
            return self._scratch(source, run)
        assert isinstance(source, Ref)
        sheet = self.book.sheets[source.sheet or run.sheet]
        return self._cell(source, run, sheet, dates) if source.single else self._range(source, run, sheet)

    def _scratch(self, source: Scratch, run: Run) -> tuple[Any, bool]:
        if source.slot.array:
            rows = self.engine.array(source.slot.sheet)
            for row in rows:
                self._note_failures([value for value in row if isinstance(value, Failure)][:1], run)
            return [[_plain(value) for value in row] for row in rows], False
        values = self.engine.values(source.slot.sheet, source.slot.column, run.first, run.last)
        if Failure in set(map(type, values)):
            self._note_failures(values, run)
            values = [_plain(value) for value in values]
        if source.template.functions & {"INDIRECT"}:
            lost = [CellError("#REF!"), CellError("#NAME?")]
            self._note_failures([Failure(NO_CELL) if value in lost else None for value in values], run)
        return values, True

    def _note_failures(self, values: list[Any], run: Run) -> None:
        for cell, value in zip(run.cells(), values):
            if isinstance(value, Failure):
                if value.array and cell not in self.learned.arrays:
                    self.learned.arrays.add(cell)
                else:
                    self.learned.failed[cell] = value.reason

    def _cell(self, ref: Ref, run: Run, sheet: Sheet, dates: bool) -> tuple[Any, bool]:
        (column, _), (first, last) = columns_of(ref, run), rows_of(ref, run)
        values = self._read(sheet, column, first, last, dates)
        return (values, True) if ref.rows_vary else (values[0], False)

    def _range(self, ref: Ref, run: Run, sheet: Sheet) -> tuple[Any, bool]:
        (c1, c2), (r1, r2) = columns_of(ref, run), rows_of(ref, run)
        last_row, last_column = self._last[sheet.name]
        if (r1, r2) == (1, LAST_ROW):
            r2 = last_row
        if (c1, c2) == (1, LAST_COLUMN):
            c2 = last_column
        columns = [self._read(sheet, column, r1, r2) for column in range(c1, c2 + 1)]
        rows = [list(row) for row in zip(*columns)]
        if not ref.rows_vary:
            return rows, False
        rectangles = (ref.rectangle(row, run.column) for row in run.rows)
        return Windows(rows, [(top - r1, bottom - r1) for top, _, bottom, _ in rectangles]), True

    def _read(self, sheet: Sheet, column: int, first: int, last: int, dates: bool = True) -> list[Any]:
        """Return the values of some rows of a column; numbers that the sheet shows as dates come as dates."""
        owned = self.owned.get((sheet.name, column), [])
        place = bisect_right(owned, (last, LAST_ROW)) - 1  # of the stretches that begin above, the last one
        if place >= 0 and owned[place][1] >= first:
            values = self.engine.values(sheet.name, column, first, last)
            if Failure in set(map(type, values)):  # the cell itself fails, and this attempt with it
                values = [_plain(value) for value in values]
        else:
            values = self._known(sheet, column, first, last)
        if dates and column in self._dated[sheet.name]:
            for i, value in enumerate(values):
                if isinstance(value, float) and (first + i, column) in sheet.dates:
                    values[i] = self._as_date(value)
        return values

    def _known(self, sheet: Sheet, column: int, first: int, last: int) -> list[Any]:
        rows = range(first, last + 1)
        new, stored = self.known.columns.get((sheet.name, column)), sheet.values.get(column, {})
        if not new:
            return list(map(stored.get, rows))
        return [new[row] if row in new else stored.get(row) for row in rows]

    def _as_date(self, value: float) -> Any:
        try:
            return date_of(value, self._epoch)
        except (ValueError, OverflowError):
            return value


def _plain(value: Any) -> Any:
    return CellError("#VALUE!") if isinstance(value, Failure) else value
