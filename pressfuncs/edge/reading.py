"""Reading the value of one cell as one argument: units, blanks, text quantities, choices, series."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pressfuncs import units
from pressfuncs.errors import CellError, MissingValue, WrongType, WrongUnit
from pressfuncs.limits import refuse_choice
from pressfuncs.quantities import SYSTEMS, TEXT, Kind
from pressfuncs.registry import UNITS_ARGUMENT, Argument, FunctionSpec

_LONGEST = 1e15
"""Numbers from here on are not taken for a text: a cell does not show all their digits."""

_DATES = (datetime.date, datetime.time, datetime.timedelta)
_CELLS = frozenset((float, int, str, bool, type(None), CellError))
"""Classes of values that are no range themselves."""


@dataclass
class PassedOn(Exception):
    """An error value met in an argument; it goes on to the result unchanged."""

    error: CellError
    argument: str


def read_one(argument: Argument, value: object, factor: float) -> Any:
    """Turn the value of a cell into one argument, in core units; `factor` belongs to a bare number."""
    if argument.series:
        # read together with its partners, so that a blank row can be left out of both
        return read_default(argument) if _blank(value) else flatten(value)
    if argument.table:
        return read_default(argument) if _blank(value) else _read_table(argument, value)
    value = _single(value)
    if isinstance(value, CellError):
        raise PassedOn(value, argument.name)
    if _blank(value):
        return read_default(argument)
    if argument.kind is TEXT:
        return _read_text(argument, value)
    return _read_number(argument.name, argument.kind, value, factor)


def read_default(argument: Argument) -> Any:
    """Return what a blank or omitted argument means; MissingValue if it must be given."""
    if argument.required:
        raise MissingValue(f"{argument.name} is blank", argument=argument.name)
    return argument.default


def pass_on(spec: FunctionSpec, given: Sequence[object]) -> None:
    """Raise PassedOn for the first error value among the cells: it comes before any refusal of our own."""
    names = [*(argument.name for argument in spec.arguments if not argument.variadic), UNITS_ARGUMENT]
    tables = {argument.name for argument in spec.arguments if argument.table}
    for name, value in zip(names, given):
        for cell in flatten(value) if name not in tables else ():  # of a table only the cell asked for matters
            if isinstance(cell, CellError):
                raise PassedOn(cell, name)


def _blank(value: object) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())


def _single(value: object) -> object:
    """Unwrap a range of one cell and a numpy scalar."""
    if isinstance(value, (list, tuple)):
        if len(value) == 1:
            return _single(value[0])
        raise WrongType("a range is given where one cell is wanted", value=value)
    if hasattr(value, "magnitude") or not hasattr(value, "item"):
        return value
    if getattr(value, "size", 1) != 1:
        raise WrongType("a range is given where one cell is wanted", value=value)
    if getattr(getattr(value, "dtype", None), "kind", None) in ("m", "M"):  # item() would make it a plain number
        raise WrongType(f"the date or time {value} is given where a number or a text is wanted", value=value)
    return value.item()


def _read_table(argument: Argument, value: Any) -> tuple[tuple[object, ...], ...]:
    """Return the cells of a range as they are, row by row."""
    if isinstance(value, CellError):
        raise PassedOn(value, argument.name)
    value = value.tolist() if hasattr(value, "tolist") else value
    if not isinstance(value, (list, tuple)):
        raise WrongType(
            f"{argument.name} is one cell, a range with headings in its first row is wanted",
            argument=argument.name,
            value=value,
        )
    return tuple(tuple(row) if isinstance(row, (list, tuple)) else (row,) for row in value)


def _read_text(argument: Argument, value: object) -> str:
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < _LONGEST
    if not (is_number or isinstance(value, str)):
        raise WrongType(
            f"{argument.name} is {_found(value)}, a text is wanted", argument=argument.name, value=value
        )
    text = value.strip() if isinstance(value, str) else format(value, ".15g")
    if not argument.choices:
        return text
    for choice in argument.choices:
        if choice.lower() == text.lower():
            return choice
    refuse_choice(argument.name, text, argument.choices)


def _read_number(name: str, kind: Kind, value: object, factor: float) -> float:
    if isinstance(value, bool) or isinstance(value, _DATES):
        raise WrongType(f"{name} is {_found(value)}, a number is wanted", argument=name, value=value)
    try:
        if isinstance(value, (float, int)):
            number = value * factor
        elif isinstance(value, str):
            number = _read_quantity_text(name, kind, value)
        elif hasattr(value, "magnitude"):
            number = _read_quantity(name, kind, value)
        else:
            raise WrongType(f"{name} is {_found(value)}, a number is wanted", argument=name, value=value)
    except OverflowError:  # a whole number of hundreds of digits
        number = math.inf
    if number - number != 0.0:
        raise WrongType(f"{name} is not a finite number", argument=name, value=value)
    return number


def _read_quantity_text(name: str, kind: Kind, text: str) -> float:
    parts = units.split_quantity(text)
    if parts is None or not parts[1]:
        cure = "type the number without quotes" if parts else "write the number with a decimal point"
        example = f', or with its unit such as "12.5 {kind.metric}"' if kind.has_unit else ""
        raise WrongType(f'{name} is the text "{text}", not a number: {cure}{example}', argument=name, value=text)
    number, spelling = parts
    if kind.dimension not in units.table():
        raise WrongUnit(f'{name} takes a plain number, got "{text}"', argument=name, value=text)
    return number * units.factor_for(spelling, kind.dimension, name, f"{kind.metric}, {kind.inch}")


def _read_quantity(name: str, kind: Kind, value: Any) -> float:
    """Take a pint Quantity; its own registry converts it."""
    core = kind.pint_unit("core")
    try:
        return float(value.to(core).magnitude)
    except Exception as error:
        if type(error).__name__ != "DimensionalityError":
            raise
        wanted = (
            f"{kind.dimension} is wanted ({kind.metric}, {kind.inch}, ...)" if core else "plain number is wanted"
        )
        raise WrongUnit(f"{name} is in {value.units}, a {wanted}", argument=name, value=value) from error


def _found(value: object) -> str:
    if isinstance(value, bool):
        return f"the truth value {str(value).upper()}"
    if isinstance(value, _DATES):
        return f"the date or time {value}"
    return f'"{value}"' if isinstance(value, str) else f"of type {type(value).__name__}"


def pair_series(arguments: Sequence[Argument], values: list[Any], factors: Sequence[float]) -> None:
    """Read every series; a row that is blank in all of them is left out, blank in one is refused."""
    places = [i for i, a in enumerate(arguments) if a.series and values[i] is not a.default]
    columns = [values[i] for i in places]
    if len({len(column) for column in columns}) > 1:
        sizes = " and ".join(f"{arguments[i].name} has {len(c)}" for i, c in zip(places, columns))
        raise WrongType(f"the ranges differ in size: {sizes} cells", argument=arguments[places[0]].name)
    plain = [_plain_numbers(column, factors[i]) for i, column in zip(places, columns)]
    if None not in plain:
        for i, numbers in zip(places, plain):
            values[i] = numbers
        return
    kept: list[list[Any]] = [[] for _ in places]
    for number, row in enumerate(zip(*columns), start=1):
        if all(_blank(value) for value in row):
            continue
        for i, cell, column in zip(places, row, kept):
            value = _single(cell)
            name = f"{arguments[i].name} number {number}"
            if isinstance(value, CellError):
                raise PassedOn(value, name)
            if _blank(value):
                raise MissingValue(f"{name} is blank", argument=arguments[i].name)
            column.append(_read_number(name, arguments[i].kind, value, factors[i]))
    for i, column in zip(places, kept):
        if not column:
            raise MissingValue(f"{arguments[i].name} is blank", argument=arguments[i].name)
        values[i] = column


def _plain_numbers(column: list[Any], factor: float) -> list[float] | None:
    """Return a column in core units if it is nothing but plain numbers, as long ones are; else None."""
    if {*map(type, column)} != {float}:
        return None
    numbers: list[float] = [value * factor for value in column]
    total = sum(numbers)
    return numbers if total - total == 0.0 else None


def flatten(value: Any) -> list[Any]:
    """Return the cells of a range, row by row, as one list; a single value is a list of one."""
    if value.__class__ is list and {*map(type, value)} == {list}:
        cells = [cell for row in value for cell in row]
        if {*map(type, cells)} <= _CELLS:
            return cells
    if getattr(value, "ndim", 0):
        value = value.tolist()
    if isinstance(value, (list, tuple)):
        return [cell for row in value for cell in flatten(row)]
    return [value]


def read_system(value: object) -> str:
    """Return "metric" or "inch" from the value of the `units` argument; blank is metric."""
    value = _single(value)
    if isinstance(value, CellError):
        raise PassedOn(value, UNITS_ARGUMENT)
    if _blank(value):
        return "metric"
    if isinstance(value, str) and value.strip().lower() in SYSTEMS:
        return value.strip().lower()
    refuse_choice(UNITS_ARGUMENT, value, SYSTEMS)
