"""The table of golden cases, tests/cases.csv, as the tests and the validation page read it."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pressfuncs import errors, units
from pressfuncs.quantities import TEXT
from pressfuncs.registry import FUNCTIONS, Argument, FunctionSpec

FILE = Path(__file__).parent.parent.parent / "tests" / "cases.csv"

COLUMNS = ["id", "function", "arguments", "expected", "unit", "tolerance", "wrong", "source", "status", "note"]

STATUSES = {
    "seen": "inputs and answer were read in a text of the source",
    "part": "inputs read in the source, answer from memory",
    "recalled": "inputs and answer from memory of the named book",
    "computed": "by a reference library, by numeric work, or exact by hand",
    "practice": "common practice without a source",
}

ROWS = " ; "
"""Between the rows of an expected table; its cells are in the metric shown units, with SERIES between them."""

SERIES = " | "
"""Between the values of a series."""


@dataclass(frozen=True)
class Case:
    """One row of the table."""

    id: str
    function: str
    arguments: str
    expected: str
    unit: str
    tolerance: str
    wrong: str
    source: str
    status: str
    note: str

    @property
    def spec(self) -> FunctionSpec:
        """The function asked."""
        return FUNCTIONS[self.function]

    @property
    def error(self) -> type[errors.PressError] | None:
        """The class of the error that must come; None where a result must."""
        return getattr(errors, self.expected[1:]) if self.expected.startswith("!") else None

    @property
    def given(self) -> dict[str, list[str]]:
        """The texts of each argument by name; one text, or those of a series."""
        pairs = [part.partition("=") for part in self.arguments.split(";") if part.strip()]
        return {name.strip(): [text.strip() for text in value.split("|")] for name, _, value in pairs}

    @property
    def is_text(self) -> bool:
        """Whether the result is a text."""
        return self.spec.result is TEXT

    def cells(self) -> list[Any]:
        """Return the arguments as values of cells: quantities as they are written, other numbers as numbers."""
        return self.values(lambda argument, text: text if argument.kind is TEXT else as_cell(text))

    def values(self, read: Callable[[Argument, str], Any]) -> list[Any]:
        """Return every argument in order as `read` gives it, None where the row gives none."""
        cells: list[Any] = []
        unknown = set(self.given) - {argument.name for argument in self.spec.arguments}
        assert not unknown, f"{self.id}: {self.function} has no {', '.join(unknown)}"
        for argument in self.spec.arguments:
            texts = self.given.get(argument.name)
            if argument.variadic:
                cells += [as_cell(text) for text in texts or []]
            elif texts is None:
                cells.append(None)
            elif argument.series:
                cells.append([[read(argument, text)] for text in texts])
            else:
                (text,) = texts
                cells.append(read(argument, text))
        return cells


C = TypeVar("C", bound=Case)


def as_cell(text: str) -> float | str:
    """Return a number where the text is one, else the text."""
    parts = units.split_quantity(text)
    return text if parts is None or parts[1] else parts[0]


def read(kind: type[C]) -> list[C]:
    """Return every case of the table, as this kind of case."""
    with FILE.open(encoding="utf-8", newline="") as table:
        rows = csv.DictReader(table)
        assert rows.fieldnames == COLUMNS
        return [kind(**row) for row in rows]
