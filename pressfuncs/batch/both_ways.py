"""Proof on a workbook that columns computed at once give what cells computed one by one give."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pressfuncs.batch.addresses import get_column_letter
from pressfuncs.batch.book_reading import read_book
from pressfuncs.batch.comparison import equal
from pressfuncs.batch.compute import Computed, compute
from pressfuncs.batch.engine import Engine
from pressfuncs.batch.fresh_errors import with_errors_settled
from pressfuncs.batch.package import Package


@dataclass(frozen=True)
class Difference:
    """A cell with two results; None where there is none."""

    sheet: str
    cell: str
    by_columns: Any
    by_cells: Any


@dataclass(frozen=True)
class Ways:
    """How the two ways agree."""

    results: int
    differences: list[Difference]


def compare_ways(
    package: Package, by_columns: Computed, new_engine: Callable[[], Engine], everything: bool
) -> Ways:
    """Read the workbook again cell by cell, compute every call and every formula on its own, and compare.

    Arguments:
        package: the workbook
        by_columns: what was computed column by column, by the first engine alone
        new_engine: makes an empty engine
        everything: whether ordinary formulas were refreshed like ours
    """
    book = read_book(package, by_blocks=False)
    other_way = compute(book, new_engine, everything, column_by_column=False)
    one, other = (with_errors_settled(book, computed).values for computed in (by_columns, other_way))
    rank = {name: number for number, name in enumerate(book.sheets)}
    differing = [cell for cell in {*one, *other} if not equal(one.get(cell), other.get(cell))]
    differing.sort(key=lambda cell: (rank[cell[0]], cell[1], cell[2]))
    return Ways(
        len(one),
        [
            Difference(
                sheet,
                f"{get_column_letter(column)}{row}",
                one.get((sheet, row, column)),
                other.get((sheet, row, column)),
            )
            for sheet, row, column in differing
        ],
    )
