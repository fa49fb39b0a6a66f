"""Ordinary formulas of plain arithmetic, a whole column at once.

Only what is beyond doubt is computed with numpy. Rows with anything else (a blank, a text, an error, a division by
zero, a tie to round) are given to the engine, as a small table of their arguments. So the results are those of the
engine, which would need some microseconds for each formula of a column that is filled down.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from pressfuncs.batch.array_expressions import Compiler, Expression, NotPlain, cells_of
from pressfuncs.batch.formulas import Ref, Template
from pressfuncs.batch.tokens import XlToken

if TYPE_CHECKING:
    from pressfuncs.batch.engine import Engine

_SHEET = "pressfuncs rows"


@dataclass(frozen=True)
class ColumnFormula:
    """A formula that can be computed by columns."""

    template: Template
    refs: tuple[Ref, ...]
    """the cells it refers to, each once: a range is there cell by cell"""
    expression: Expression

    def evaluate(
        self, columns: Sequence[Any], each: Sequence[bool], count: int, new_engine: Callable[[], Engine]
    ) -> list[Any]:
        """Compute the formula of `count` rows.

        Arguments:
            columns: a list of cell values for each of `refs`; one value where `each` is not set
            each: whether there is a value for each row
            count: how many rows
            new_engine: makes an empty engine, for the rows that are left to it

        Returns:
            A value a row, as `Engine.values` gives them, but 0 in the place of a blank.
        """
        doubt = np.zeros(count, dtype=bool)
        numbers = []
        for column, is_list in zip(columns, each):
            array, odd = _numbers(column if is_list else [column])
            numbers.append(array if is_list else array[0])
            doubt |= odd
        with np.errstate(all="ignore"):
            computed, doubtful = self.expression.node(numbers)
            doubt |= doubtful
            if self.expression.kind == "number":
                computed = computed + 0.0  # -0 becomes 0
        results: list[Any] = np.broadcast_to(computed, count).tolist()
        odd_rows = np.flatnonzero(doubt).tolist()
        if odd_rows:
            some = [[column[row] if e else column for row in odd_rows] for column, e in zip(columns, each)]
            for row, value in zip(odd_rows, self.by_engine(some, new_engine())):
                results[row] = 0.0 if value is None else value
        return results

    def by_engine(self, columns: Sequence[list[Any]], engine: Engine) -> list[Any]:
        """Let an engine compute the formula for rows of arguments."""
        count = len(columns[0])
        engine.add_sheet(_SHEET)
        for number, values in enumerate(columns, 1):
            engine.set_values(_SHEET, 1, number, values)
        write = engine.adapt(self.by_place).bind(1)
        engine.set_formulas(_SHEET, 1, len(columns) + 2, [write(row) for row in range(1, count + 1)])
        engine.evaluate()
        return engine.values(_SHEET, len(columns) + 2, 1, count)

    @cached_property
    def by_place(self) -> Template:
        """The formula with the columns 1, 2 ... of a sheet in the place of its references."""
        places = {ref: number for number, ref in enumerate(self.refs, 1)}
        tokens = []
        for token in self.template.tokens:
            if token.ref is not None:
                cells = cells_of(token.ref)
                first, last = places[cells[0]], places[cells[-1]]
                place = Ref(_SHEET, 0, first, 0, last, (False, True, False, True), first == last)
                token = replace(token, ref=place)
            tokens.append(token)
        return Template(tuple(tokens))


def column_formula(template: Template, sheets: Collection[str]) -> ColumnFormula | None:
    """Return how to compute a formula by columns; None if only the engine can.

    Arguments:
        template: a normalised formula, without calls of ours
        sheets: the names that references may have
    """
    refs: dict[Ref, int] = {}
    for cells in sorted((cells_of(ref) for ref in template.refs), key=len, reverse=True):  # ranges first
        if not cells or (cells[0].sheet is not None and cells[0].sheet not in sheets):
            return None
        for cell in cells:
            refs.setdefault(cell, len(refs))
        if refs[cells[-1]] - refs[cells[0]] != len(cells) - 1:
            return None  # its cells would have to stand side by side twice
    if not refs:
        return None
    tokens = [token for token in template.tokens if token.kind != XlToken.WSPACE]
    compiler = Compiler(tokens, refs)
    try:
        expression = compiler.whole()
    except (NotPlain, IndexError):
        return None
    return ColumnFormula(template, tuple(refs), expression)


def _numbers(values: list[Any]) -> tuple[np.ndarray[Any, Any], Any]:
    """Return cell values as floats, and where they are something else."""
    if set(map(type, values)) == {float}:
        array = np.array(values)
        return array, ~np.isfinite(array)
    array = np.array([value if value.__class__ is float else np.nan for value in values])
    odd = ~np.isfinite(array)
    array[odd] = 0.0
    return array, odd
