"""What happened to a workbook that was recalculated, by address and in the order of sheets, rows and columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple, overload

from pressfuncs.batch.addresses import get_column_letter
from pressfuncs.batch.both_ways import Ways
from pressfuncs.batch.crosscheck import Crossed


def address(row: int, column: int) -> str:
    """Return the A1 name of a cell.

    >>> address(12, 28)
    'AB12'
    """
    return f"{get_column_letter(column)}{row}"


class Change(NamedTuple):
    """A stored value that is, or with a check would be, replaced; `before` is None where nothing was stored."""

    sheet: str
    cell: str
    before: Any
    after: Any


class Changes(Sequence[Change]):
    """The changes of a workbook; made one by one when they are asked for, since there may be a million."""

    def __init__(
        self,
        new: Mapping[str, Mapping[int, Mapping[int, Any]]] | None = None,
        held: Mapping[str, Mapping[int, Mapping[int, Any]]] | None = None,
    ) -> None:
        """Keep new values, and what was stored before, by sheet, column and row."""
        self._new = new or {}
        self._held = held or {}
        self._count = sum(len(rows) for columns in self._new.values() for rows in columns.values())
        self._listed: list[Change] | None = None

    def __len__(self) -> int:
        """Return how many there are."""
        return self._count

    def __iter__(self) -> Iterator[Change]:
        """Yield them in the order of sheets, rows and columns."""
        if self._listed is not None:
            yield from self._listed
            return
        for sheet, columns in self._new.items():
            held = self._held.get(sheet, {})
            letters = {column: get_column_letter(column) for column in columns}
            in_rows: dict[int, list[int]] = {}
            for column in sorted(columns):
                for row in columns[column]:
                    in_rows.setdefault(row, []).append(column)
            for row in sorted(in_rows):
                for column in in_rows[row]:
                    before = held.get(column, _NOTHING).get(row)
                    yield Change(sheet, f"{letters[column]}{row}", before, columns[column][row])

    @overload
    def __getitem__(self, index: int) -> Change: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Change]: ...
    def __getitem__(self, index: int | slice) -> Change | Sequence[Change]:
        """Return one, or some."""
        if self._listed is None:
            self._listed = list(self)
        return self._listed[index]

    def __eq__(self, other: object) -> bool:
        """Whether these are the same changes as those of another sequence."""
        return isinstance(other, Sequence) and len(self) == len(other) and list(self) == list(other)

    def __repr__(self) -> str:
        """Return them as a list is shown."""
        return repr(list(self))

    __hash__ = None  # type: ignore[assignment]

    @property
    def all_new(self) -> bool:
        """Whether nothing was stored before in any of the cells."""
        return all(
            self._held.get(sheet, {}).get(column, _NOTHING).keys().isdisjoint(rows)
            for sheet, columns in self._new.items()
            for column, rows in columns.items()
        )


_NOTHING: dict[int, Any] = {}


@dataclass(frozen=True)
class Failing:
    """One of our functions that refuses its input; its cell holds an error value."""

    sheet: str
    cell: str
    function: str
    error: str
    sentence: str


@dataclass(frozen=True)
class Frozen:
    """A formula that cannot be computed here and keeps its stored value, if it is not marked."""

    sheet: str
    cell: str
    reason: str


@dataclass(frozen=True)
class Disagreement:
    """An ordinary formula, apart from ours, for which the engine gets another value than the file stores."""

    sheet: str
    cell: str
    stored: Any
    computed: Any
    functions: tuple[str, ...]


@dataclass
class Outcome:
    """What happened to one file."""

    path: Path
    written: Path | None = None
    """where the workbook was written; None if it was only checked, or nothing had to be written in place"""
    calls: int = 0
    """calls of our functions that were evaluated"""
    changes: Changes = field(default_factory=Changes)
    failing: list[Failing] = field(default_factory=list)
    frozen: list[Frozen] = field(default_factory=list)
    not_refreshed: list[tuple[str, str]] = field(default_factory=list)
    """(sheet, cell) of formulas that depend on a frozen one and keep their stored values, but for those marked"""
    marked: list[tuple[str, str]] = field(default_factory=list)
    """(sheet, cell) of those not refreshed, frozen ones too, that became #N/A since they rest on a new error"""
    disagreements: list[Disagreement] = field(default_factory=list)
    resting: list[tuple[str, str]] = field(default_factory=list)
    """(sheet, cell) of formulas with functions of ours that depend on a formula among the disagreements"""
    compared: int = 0
    """ordinary formulas whose stored value the engine confirmed"""
    volatile: int = 0
    """formulas such as TODAY(), apart from ours, that keep their stored value"""
    left_alone: int = 0
    """formulas that cannot be computed here and have nothing to do with ours"""
    settled: int = 0
    """formulas that the second engine computed, or confirmed as the file stores them"""
    unasked: str = ""
    """what the second engine was not asked about, and why; "" if there is nothing of the kind"""
    crossed: Crossed | None = None
    """how the engines agree on every ordinary formula, if that was asked for"""
    ways: Ways | None = None
    """how columns computed at once agree with cells computed one by one, if that was asked for"""
    renamed: int = 0
    """calls of ours that were given their plain names"""

    @property
    def complete(self) -> bool:
        """Whether everything that should be refreshed could be."""
        return not (self.frozen or self.not_refreshed)

    @property
    def nothing_stored(self) -> bool:
        """Whether the file stored no results at all, so that nothing could be compared."""
        return bool(self.changes) and not self.compared and self.changes.all_new
