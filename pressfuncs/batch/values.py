"""Values of cells, kept by column: a filled-down column is put in at once, as a dict of its rows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, MutableMapping
from typing import Any

from pressfuncs.batch.book import Cell


class Values(MutableMapping[Cell, Any]):
    """A dict by cell; `columns[sheet, column]` is the dict of a column by row."""

    def __init__(self) -> None:
        """Start with none."""
        self.columns: dict[tuple[str, int], dict[int, Any]] = {}

    def put(self, sheet: str, column: int, rows: Iterable[int], values: Iterable[Any]) -> None:
        """Put in the values of some rows of a column."""
        self.columns.setdefault((sheet, column), {}).update(zip(rows, values))

    def __getitem__(self, cell: Cell) -> Any:
        """Return the value of a cell."""
        return self.columns[cell[0], cell[2]][cell[1]]

    def __setitem__(self, cell: Cell, value: Any) -> None:
        """Set the value of a cell."""
        self.columns.setdefault((cell[0], cell[2]), {})[cell[1]] = value

    def __delitem__(self, cell: Cell) -> None:
        """Forget a cell."""
        del self.columns[cell[0], cell[2]][cell[1]]

    def __iter__(self) -> Iterator[Cell]:
        """Yield the cells, column by column."""
        for (sheet, column), rows in self.columns.items():
            for row in rows:
                yield sheet, row, column

    def __len__(self) -> int:
        """Return how many cells there are."""
        return sum(map(len, self.columns.values()))
