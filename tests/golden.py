"""The golden cases of cases.csv, as every surface that computes is asked them and its answers are judged."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pressfuncs  # noqa: F401  # enters every function in the register
from pressfuncs import errors, units
from pressfuncs.quantities import SYSTEMS, TEXT, Kind
from pressfuncs.registry import FUNCTIONS, Argument, FunctionSpec

FILE = Path(__file__).parent / "cases.csv"

COLUMNS = ["id", "function", "arguments", "expected", "unit", "tolerance", "wrong", "source", "status", "note"]

STATUSES = {"seen", "part", "recalled", "computed", "practice"}

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
        return self._arguments(lambda argument, text: text if argument.kind is TEXT else as_cell(text))

    def bare_cells(self, system: str) -> list[Any]:
        """Return the arguments as bare numbers in the shown units of `system`, where that loses no digit."""

        def bare(argument: Argument, text: str) -> Any:
            factor = argument.kind.factor(system)
            try:
                value = as_core(argument, text)
            except errors.WrongUnit:  # which the case is about
                return text
            if isinstance(value, str):
                return value
            return value / factor if value / factor * factor == value else as_cell(text)

        return self._arguments(bare)

    def core(self) -> list[Any]:
        """Return the plain function's arguments, in core units; defaults where the row gives none."""
        values = []
        for argument, value in zip(self.spec.arguments, self._arguments(as_core), strict=False):
            values.append([one for (one,) in value] if isinstance(value, list) else value)
            if value is None and not argument.variadic:
                values[-1] = argument.default
        return values + self._arguments(as_core)[len(values) :]

    def _arguments(self, read: Any) -> list[Any]:
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

    def result_kind(self) -> Kind:
        """Return the kind of the result of this call."""
        return self.spec.result_kind(*self.core()) if self.spec.result_kind else self.spec.result

    def judge(self, value: Any, system: str) -> None:
        """Hold a result in the shown units of `system` (or "core") against the row."""
        if self.spec.columns is not None:
            assert self.rows_agree(value, system), f"{self.id}: {value} is not {self.expected}"
        elif self.is_text:
            assert value == self.expected
            assert not self.wrong or value != self.wrong
        else:
            found = self.in_unit(value, system)
            assert self.near(found, self.expected), f"{self.id}: {found!r} {self.unit} is not {self.expected}"
            assert not self.wrong or not self.near(found, self.wrong), f"{self.id}: met the wrong {self.wrong}"

    def in_unit(self, value: float, system: str) -> float:
        """Turn a shown result into the unit of the row."""
        kind = self.result_kind()
        if not self.unit:
            assert not kind.has_unit, f"{self.id}: the expected number needs a unit"
            return value
        return value * kind.factor(system) / units.factor(self.unit, kind.dimension)

    def near(self, found: float, text: str) -> bool:
        """Whether a number is what the text says, within the tolerance; of a zero the tolerance is absolute."""
        expected = float(text)
        return abs(found - expected) <= float(self.tolerance) * (abs(expected) or 1.0)

    def rows_agree(self, rows: Any, system: str) -> bool:
        """Whether rows of numbers are those that the row expects."""
        assert self.spec.columns is not None
        wanted = [row.split(SERIES.strip()) for row in self.expected.split(ROWS.strip())]
        factors = [kind.factor(system) / kind.factor("metric") for kind in self.spec.columns.kinds]
        return len(rows) == len(wanted) and all(
            self.near(float(cell) * factor, text)
            for row, texts in zip(rows, wanted, strict=True)
            for cell, factor, text in zip(row, factors, texts, strict=True)
        )


def as_cell(text: str) -> float | str:
    """Return a number where the text is one, else the text."""
    parts = units.split_quantity(text)
    return text if parts is None or parts[1] else parts[0]


def as_core(argument: Argument, text: str) -> float | str:
    """Return a quantity in core units, by the table of units; WrongUnit if the unit does not fit."""
    if argument.kind is TEXT:
        return text
    parts = units.split_quantity(text)
    assert parts is not None, f"{text} is no quantity"
    number, spelling = parts
    assert spelling or not argument.kind.has_unit, f"{argument.name}={text} needs a unit"
    return number * units.factor_for(spelling, argument.kind.dimension, argument.name, "") if spelling else number


def read() -> list[Case]:
    """Return every case of the table."""
    with FILE.open(encoding="utf-8", newline="") as table:
        rows = csv.DictReader(table)
        assert rows.fieldnames == COLUMNS
        return [Case(**row) for row in rows]


ALL = read()

__all__ = ["ALL", "COLUMNS", "FILE", "ROWS", "SERIES", "STATUSES", "SYSTEMS", "Case"]
