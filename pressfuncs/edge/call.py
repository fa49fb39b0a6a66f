"""One worksheet call on the values of single cells: read, compute, show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from pressfuncs.edge.reading import pair_series, pass_on, read_default, read_one, read_system
from pressfuncs.errors import OutOfRange, PressError, WrongType
from pressfuncs.quantities import SYSTEMS, TEXT, Kind, Wording
from pressfuncs.registry import Argument, FunctionSpec

_TOO_LARGE = "the result is not a finite number: check the size of the inputs"


@dataclass(frozen=True)
class _Prepared:
    arguments: tuple[Argument, ...]
    factors: dict[str, tuple[float, ...]]
    result: dict[str, float]
    numeric: tuple[bool, ...]
    series: bool


@cache
def _prepare(spec: FunctionSpec) -> _Prepared:
    return _Prepared(
        arguments=spec.arguments,
        factors={name: tuple(a.kind.factor(name) for a in spec.arguments) for name in SYSTEMS},
        result={name: spec.result.factor(name) for name in SYSTEMS},
        numeric=tuple(argument.kind is not TEXT and not argument.series for argument in spec.arguments),
        series=any(argument.series for argument in spec.arguments),
    )


def call(spec: FunctionSpec, arguments: Sequence[object]) -> Any:
    """Evaluate one call on the values of single cells (ranges only where the argument is a series).

    Returns:
        the result in the units asked for: a number, a text, or rows.

    Raises:
        PressError: an argument is refused.
        PassedOn: an argument is an error value.
    """
    system, values = read_call(spec, arguments)
    return shown(spec, compute(spec, values), values, system)


def read_call(spec: FunctionSpec, arguments: Sequence[object]) -> tuple[str, list[Any]]:
    """Return the unit system of a call and the plain function's arguments."""
    try:
        system, given = split_units(spec, arguments)
        return system, read_arguments(spec, given, system)
    except PressError:
        pass_on(spec, arguments)
        raise


def read_arguments(spec: FunctionSpec, given: Sequence[object], system: str) -> list[Any]:
    """Turn the values of cells into the plain function's arguments, in core units."""
    prepared = _prepare(spec)
    arguments = prepared.arguments[:-1] if spec.variadic else prepared.arguments
    factors = prepared.factors[system]
    values: list[Any] = []
    for argument, value, factor, numeric in zip(arguments, given, factors, prepared.numeric):
        if value.__class__ is float and numeric:
            number = value * factor
            if number - number == 0.0:
                values.append(number)
                continue
        values.append(read_one(argument, value, factor))
    for argument in arguments[len(values) :]:
        values.append(read_default(argument))
    if prepared.series:
        pair_series(arguments, values, factors)
    return values + list(given[len(arguments) :]) if spec.variadic else values


def split_units(spec: FunctionSpec, arguments: Sequence[object]) -> tuple[str, Sequence[object]]:
    """Take the `units` argument off the end."""
    most = spec.most_arguments
    if most is None:
        return "metric", arguments
    if len(arguments) > most:
        raise WrongType(
            f"{spec.sheet_name} takes at most {most} arguments, got {len(arguments)}", function=spec.name
        )
    if not spec.has_units or len(arguments) < most:
        return "metric", arguments
    return read_system(arguments[-1]), arguments[:-1]


def compute(spec: FunctionSpec, values: Sequence[Any]) -> Any:
    """Call the plain function; whatever it cannot compute becomes a PressError that names it."""
    try:
        result = spec.call(*values)
        if result.__class__ is complex:  # a power of a negative number
            raise ValueError
        return result
    except (ArithmeticError, ValueError) as error:
        if isinstance(error, PressError):
            error.function = spec.name
            raise
        raise OutOfRange(_TOO_LARGE, function=spec.name) from error


def result_kind(spec: FunctionSpec, values: Sequence[Any]) -> Kind:
    """Return the kind of the result of this call."""
    return spec.result_kind(*values) if spec.result_kind else spec.result


def shown(spec: FunctionSpec, result: Any, values: Sequence[Any], system: str) -> Any:
    """Turn a result in core units into what the cell shows."""
    if spec.columns is not None:
        factors = [kind.factor(system) for kind in spec.columns.kinds]
        return [
            [value if isinstance(value, str) else float(value) / factor for value, factor in zip(row, factors)]
            for row in result
        ]
    if isinstance(result, str):
        return result.shown(system) if isinstance(result, Wording) else result
    factor = result_kind(spec, values).factor(system) if spec.result_kind else _prepare(spec).result[system]
    number = float(result) / factor
    if number - number != 0.0:
        raise OutOfRange(_TOO_LARGE, function=spec.name)
    return number
