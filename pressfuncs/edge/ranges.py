"""Worksheet calls on ranges: broadcasting, orientation, one error for one bad element; what every host calls."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from pressfuncs.edge.call import call
from pressfuncs.edge.reading import PassedOn
from pressfuncs.errors import CellError, PressError, WrongType
from pressfuncs.registry import FunctionSpec

_MANY = 8  # below this many elements a loop is faster than numpy


@dataclass(frozen=True)
class Problem:
    """Why one element failed: its place in the result (row by row) and the error."""

    index: int
    error: PressError


def evaluate(
    spec: FunctionSpec,
    arguments: Sequence[object],
    problems: list[Problem] | None = None,
) -> Any:
    """Evaluate a worksheet call: values of cells in, the value of the cell (or rows of values) out.

    Arguments:
        spec: the function
        arguments: a value, None for a blank, a CellError, or rows of these for a range
        problems: where to put the errors behind the error values, if they are wanted

    Scalars, rows and columns are broadcast against each other and the result keeps their shape; one bad
    element spoils one element. Never raises for bad input.
    """
    found = problems if problems is not None else []
    shape = _shape(spec, arguments)
    if spec.columns is not None and shape is not None:
        shape = WrongType(f"{spec.sheet_name} gives several rows: give it single cells", function=spec.name)
    if isinstance(shape, PressError):
        found.append(Problem(0, shape))
        return CellError(shape.cell)
    if shape is None:
        return evaluate_one(spec, arguments, 0, found)
    rows, columns = shape
    whole = [spec.variadic or (i < len(spec.arguments) and spec.arguments[i].whole) for i in range(len(arguments))]
    spread = [
        value if whole[i] or not _is_range(value) else _spread(_rows(value), rows, columns)
        for i, value in enumerate(arguments)
    ]
    each = [not whole[i] and _is_range(value) for i, value in enumerate(arguments)]
    flat = evaluate_many(spec, spread, each, rows * columns, found)
    return [flat[r * columns : (r + 1) * columns] for r in range(rows)]


def evaluate_many(
    spec: FunctionSpec,
    arguments: Sequence[Any],
    each: Sequence[bool],
    count: int,
    problems: list[Problem],
) -> list[Any]:
    """Evaluate `count` calls at once: where `each` is set the argument is a list of `count` values.

    One array call with numpy where the function and the numbers allow it, else a loop; the results are equal.
    """
    if count >= _MANY and spec.elementwise and len(arguments) <= (spec.most_arguments or 0):
        columns = _numpy_columns()
        if columns is not None:
            return columns(spec, arguments, each, count, problems)
    return [
        evaluate_one(spec, [a[i] if e else a for a, e in zip(arguments, each)], i, problems) for i in range(count)
    ]


@lru_cache(maxsize=1)
def _numpy_columns() -> Callable[..., list[Any]] | None:
    """Return the array evaluation if numpy is here; LibreOffice's own Python has none."""
    try:
        from pressfuncs.edge.columns import evaluate_columns
    except ImportError:
        return None
    return evaluate_columns


def evaluate_one(spec: FunctionSpec, arguments: Sequence[object], index: int, problems: list[Problem]) -> Any:
    """Evaluate one call; a refusal becomes an error value and is noted under `index`."""
    try:
        return call(spec, arguments)
    except PassedOn as passed:
        return passed.error
    except PressError as error:
        error.function = error.function or spec.name
        # a column may hold a million refusals: each would keep the frames it passed through, and their cells
        problems.append(Problem(index, error.with_traceback(None)))
        return CellError(error.cell)


def _is_range(value: object) -> bool:
    return isinstance(value, (list, tuple)) or (hasattr(value, "ndim") and value.ndim > 0)


def _rows(value: Any) -> list[list[Any]]:
    """Return a range as a list of rows; a flat list is one row, an empty one a blank."""
    value = value.tolist() if hasattr(value, "tolist") else list(value)
    return [list(row) for row in value] if value and isinstance(value[0], (list, tuple)) else [value or [None]]


def _shape(spec: FunctionSpec, arguments: Sequence[object]) -> Any:
    """Return the (rows, columns) of the result, None for one value, or the error if ranges do not match."""
    if spec.variadic:
        return None
    rows = columns = 1
    found = False
    for i, value in enumerate(arguments):
        if not _is_range(value) or (i < len(spec.arguments) and spec.arguments[i].whole):
            continue
        grid = _rows(value)
        if not grid[0] or {*map(len, grid)} != {len(grid[0])}:
            return WrongType("the rows of a range differ in length", function=spec.name)
        found = found or len(grid) > 1 or len(grid[0]) > 1
        for size, current in ((len(grid), rows), (len(grid[0]), columns)):
            if size != 1 and current not in (1, size):
                return WrongType(
                    f"the ranges do not match: {rows} x {columns} and {len(grid)} x {len(grid[0])} cells",
                    function=spec.name,
                )
        rows, columns = max(rows, len(grid)), max(columns, len(grid[0]))
    return (rows, columns) if found else None


def _spread(grid: list[list[Any]], rows: int, columns: int) -> list[Any]:
    """Repeat a row, a column or a cell over the shape of the result, as one flat list."""
    tall = grid * rows if len(grid) == 1 else grid
    return [cell for row in tall for cell in (row * columns if len(row) == 1 else row)]
