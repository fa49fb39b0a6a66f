"""Reading the value of one cell as one argument: units, blanks, text quantities, choices, series."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pressfuncs import units
from pressfuncs.errors import CellError, MissingValue, WrongType, WrongUnit
from pressfuncs.limits import refuse_choice
from pressfuncs.quantities import SYSTEMS, TEXT, Kind
from pressfuncs.registry import UNITS_ARGUMENT, Argument

_DATES = (datetime.date, datetime.time, datetime.timedelta)


@dataclass
class PassedOn(Exception):
    """An error value met in an argument; it goes on to the result unchanged."""

    error: CellError
    argument: str


def read_one(argument: Argument, value: object, factor: float) -> Any:
    """Turn the value of a cell into one argument, in core units; `factor` belongs to a bare number."""
    if argument.series:
        return value  # read together with its partners, so that a blank row can be left out of both
    value = _single(value)
    if isinstance(value, CellError):
        raise PassedOn(value, argument.name)
    if value is None or (isinstance(value, str) and not value.strip()):
        return read_default(argument)
    if argument.kind is TEXT:
        return _read_text(argument, value)
    return _read_number(argument.name, argument.kind, value, factor)


def read_default(argument: Argument) -> Any:
    """Return what a blank or omitted argument means; MissingValue if it must be given."""
    if argument.required:
        raise MissingValue(f"{argument.name} is blank", argument=argument.name)
    return argument.default


def _single(value: object) -> object:
    """Unwrap a range of one cell and a numpy scalar."""
    if isinstance(value, (list, tuple)):
        if len(value) == 1:
            return _single(value[0])
        raise WrongType("a range is given where one cell is wanted", value=value)
    return value.item() if hasattr(value, "item") and not hasattr(value, "magnitude") else value


def _read_text(argument: Argument, value: object) -> str:
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
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
    if isinstance(value, (float, int)):
        if value - value != 0:
            raise WrongType(f"{name} is not a finite number", argument=name, value=value)
        return value * factor
    if isinstance(value, str):
        return _read_quantity_text(name, kind, value)
    if hasattr(value, "magnitude"):
        return _read_quantity(name, kind, value)
    raise WrongType(f"{name} is {_found(value)}, a number is wanted", argument=name, value=value)


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
        wanted = units.table()[kind.dimension]["name"] if kind.has_unit else "plain number"
        raise WrongUnit(
            f"{name}: {value.units} is not a {wanted}, a {wanted} is wanted ({kind.metric}, {kind.inch})",
            argument=name,
            value=value,
        ) from error


def _found(value: object) -> str:
    if isinstance(value, bool):
        return f"the truth value {str(value).upper()}"
    if isinstance(value, _DATES):
        return f"the date or time {value}"
    return f'"{value}"' if isinstance(value, str) else f"of type {type(value).__name__}"


def pair_series(arguments: Sequence[Argument], values: list[Any], factors: Sequence[float]) -> None:
    """Read every series; a row that is blank in all of them is left out, blank in one is refused."""
    places = [i for i, argument in enumerate(arguments) if argument.series and values[i] is not None]
    columns = [_flatten(values[i]) for i in places]
    if len({len(column) for column in columns}) > 1:
        sizes = " and ".join(f"{arguments[i].name} has {len(c)}" for i, c in zip(places, columns))
        raise WrongType(f"the ranges differ in size: {sizes} cells", argument=arguments[places[0]].name)
    kept: list[list[Any]] = [[] for _ in places]
    for number, row in enumerate(zip(*columns), start=1):
        if all(value is None or value == "" for value in row):
            continue
        for i, value, column in zip(places, row, kept):
            name = f"{arguments[i].name} number {number}"
            if isinstance(value, CellError):
                raise PassedOn(value, name)
            if value is None or value == "":
                raise MissingValue(f"{name} is blank", argument=arguments[i].name)
            column.append(_read_number(name, arguments[i].kind, value, factors[i]))
    for i, column in zip(places, kept):
        if not column:
            raise MissingValue(f"{arguments[i].name} is blank", argument=arguments[i].name)
        values[i] = column


def _flatten(value: object) -> list[object]:
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, (list, tuple)):
        return [cell for row in value for cell in _flatten(row)]
    return [value]


def read_system(value: object) -> str:
    """Return "metric" or "inch" from the value of the `units` argument; blank is metric."""
    value = _single(value)
    if isinstance(value, CellError):
        raise PassedOn(value, UNITS_ARGUMENT)
    if value is None or value == "":
        return "metric"
    if isinstance(value, str) and value.strip().lower() in SYSTEMS:
        return value.strip().lower()
    refuse_choice(UNITS_ARGUMENT, value, SYSTEMS)
