"""The golden cases of cases.csv, as every surface that computes is asked them and its answers are judged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pressfuncs  # noqa: F401  # enters every function in the register
from pressfuncs import errors, units
from pressfuncs.build import cases
from pressfuncs.build.cases import COLUMNS, FILE, ROWS, SERIES, STATUSES, as_cell
from pressfuncs.quantities import SYSTEMS, TEXT, Kind
from pressfuncs.registry import Argument


@dataclass(frozen=True)
class Case(cases.Case):
    """One row of the table, and how an answer is held against it."""

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

        return self.values(bare)

    def core(self) -> list[Any]:
        """Return the plain function's arguments, in core units; defaults where the row gives none."""
        values = []
        for argument, value in zip(self.spec.arguments, self.values(as_core), strict=False):
            values.append([one for (one,) in value] if isinstance(value, list) else value)
            if value is None and not argument.variadic:
                values[-1] = argument.default
        return values + self.values(as_core)[len(values) :]

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


def as_core(argument: Argument, text: str) -> float | str:
    """Return a quantity in core units, by the table of units; WrongUnit if the unit does not fit."""
    if argument.kind is TEXT:
        return text
    parts = units.split_quantity(text)
    assert parts is not None, f"{text} is no quantity"
    number, spelling = parts
    assert spelling or not argument.kind.has_unit, f"{argument.name}={text} needs a unit"
    return number * units.factor_for(spelling, argument.kind.dimension, argument.name, "") if spelling else number


ALL = cases.read(Case)

__all__ = ["ALL", "COLUMNS", "FILE", "ROWS", "SERIES", "STATUSES", "SYSTEMS", "Case"]
