"""A column call of every function, good and bad rows mixed: run with and without numpy, to be compared."""

from __future__ import annotations

from typing import Any

import examples

from pressfuncs.edge import Problem, evaluate_many
from pressfuncs.errors import CellError

SHARES = (1.0, 0.8, 1.25, 0.0, -1.0, 0.5, 2.0, 1.1, 1.0, 0.95, 1e9)
"""The example times each of these, the arguments out of step with one another."""


def results() -> dict[str, tuple[list[Any], list[tuple[int, str]]]]:
    """Return function -> the results of a column of calls (error values as texts) and its problems."""
    found = {}
    for spec in (spec for spec in examples.COMPUTING if spec.arguments):
        columns = [_column(cell, place) for place, cell in enumerate(examples.cells(spec))]
        each = [not argument.whole for argument in spec.arguments]
        columns = [column if e else cell for column, cell, e in zip(columns, examples.cells(spec), each)]
        problems: list[Problem] = []
        cells = evaluate_many(spec, columns, each, 2 * len(SHARES) + 2, problems)
        found[spec.name] = (
            [repr(cell) if isinstance(cell, CellError) else cell for cell in cells],
            [(problem.index, str(problem.error)) for problem in problems],
        )
    return found


def _column(cell: Any, place: int) -> list[Any]:
    bad = [None, "abc", CellError("#N/A")][place % 3]
    if type(cell) is not float:
        return [cell] * (2 * len(SHARES) + 1) + [bad]
    turned = [*SHARES[place:], *SHARES[:place]]
    return [cell] * len(SHARES) + [cell * share for share in turned[: len(SHARES)]] + [cell, bad]
