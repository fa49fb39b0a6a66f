"""What is done in the end about cells that could not be refreshed and rest on an error.

One that is an error for certain gets it. One that may be anything must not go on looking valid where the error is
new: what it stores was computed from a value that is there no more, so it becomes #N/A.
"""

from __future__ import annotations

from dataclasses import replace

from pressfuncs.batch.book import Book, Cell
from pressfuncs.batch.closure import cells_of
from pressfuncs.batch.compute import Computed
from pressfuncs.batch.errors_passed_on import MARK, passed_on
from pressfuncs.batch.normalise import normalise_runs
from pressfuncs.batch.spread import Dependents, covered
from pressfuncs.batch.values import Values
from pressfuncs.errors import CellError


def with_errors_settled(book: Book, computed: Computed) -> Computed:
    """Return what was computed, and of what could not be refreshed the errors that it rests on, or marks."""
    if not (computed.frozen or computed.not_refreshed):
        return computed
    errors = passed_on(book, normalise_runs(book), computed.values, computed.out, computed.due, sure=False)
    values = Values()
    for (sheet, column), rows in computed.values.columns.items():
        values.put(sheet, column, rows.keys(), rows.values())
    values.update(errors)
    left = replace(
        computed,
        values=values,
        out=computed.out.difference(errors),
        frozen=[entry for entry in computed.frozen if entry[0] not in errors],
        not_refreshed=[cell for cell in computed.not_refreshed if cell not in errors],
    )
    left.marked = _to_be_marked(book, left)
    values.update(dict.fromkeys(left.marked, MARK))
    return left


def _to_be_marked(book: Book, computed: Computed) -> list[Cell]:
    """Return what is left and depends, directly or not, on a cell that is an error now and was none before."""
    fresh = [
        (sheet, row, column)
        for (sheet, column), rows in computed.values.columns.items()
        for row, value in rows.items()
        if isinstance(value, CellError) and not isinstance(book.sheets[sheet].value(row, column), CellError)
    ]
    if not fresh:
        return []
    runs = normalise_runs(book)
    below = cells_of(runs, Dependents(runs).spread_from_cells(fresh))
    areas = {(run.sheet, run.first, run.column): covered(run) for run in runs if run.area is not None}
    marked: list[Cell] = []
    for cell in [*(cell for cell, _ in computed.frozen), *computed.not_refreshed]:
        if cell in below:
            r1, c1, r2, c2 = areas.get(cell, (cell[1], cell[2], cell[1], cell[2]))
            filled: list[Cell] = [(cell[0], r, c) for r in range(r1, r2 + 1) for c in range(c1, c2 + 1)]
            marked += [place for place in filled if not _says_nothing(book, place)]
    return marked


def _says_nothing(book: Book, cell: Cell) -> bool:
    """Whether a cell stores nothing that could be taken for a result."""
    return isinstance(book.sheets[cell[0]].value(*cell[1:]), CellError | None)
