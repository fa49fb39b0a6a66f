"""Calls on quantities with units, for Python: pint Quantities or texts in, a Quantity out."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from typing import Any

from pressfuncs.edge.call import compute, read_arguments, result_kind
from pressfuncs.edge.reading import flatten
from pressfuncs.errors import WrongType, WrongUnit
from pressfuncs.quantities import Kind, Wording
from pressfuncs.registry import FunctionSpec, find


def with_units(plain: Callable[..., Any], system: str = "metric") -> Callable[..., Any]:
    """Return the function as one that takes pint Quantities or texts with units, and returns a Quantity.

    A bare number is taken only where the argument has no unit. The Quantity comes in the shown unit of
    `system`, and in the registry of the first Quantity given; a table comes as rows of Quantities. Quantities
    of arrays go through in one call.

    >>> from pressfuncs import shearing_force
    >>> round(with_units(shearing_force)("471.239 mm", "3.2 mm", "310 MPa"), 3)
    <Quantity(467.469, 'kilonewton')>
    """
    spec = find(plain.__name__)

    def quantity_call(*arguments: object, **named: object) -> Any:
        bound = inspect.signature(plain).bind(*arguments, **named)
        given: list[Any] = []
        for argument in spec.arguments:
            value = bound.arguments.get(argument.name)
            given += (value or ()) if argument.variadic else [value]
            if argument.kind.has_unit:
                _refuse_bare_numbers(spec, argument.name, argument.kind, value)
        values = _read(spec, given, system)
        result = compute(spec, values)
        if isinstance(result, str):
            return result.shown(system) if isinstance(result, Wording) else result
        registry = _registry_of(given)

        def quantity(number: Any, kind: Kind) -> Any:
            if not kind.has_unit:
                return number
            return registry.Quantity(number, kind.pint_unit("core")).to(kind.pint_unit(system))

        if spec.columns is not None:
            return [tuple(map(quantity, row, spec.columns.kinds)) for row in result]
        return quantity(result, result_kind(spec, values))

    quantity_call.__name__ = plain.__name__
    quantity_call.__doc__ = plain.__doc__
    return quantity_call


def _refuse_bare_numbers(spec: FunctionSpec, name: str, kind: Kind, value: object) -> None:
    for cell in flatten(value):
        if hasattr(cell, "__float__") and not hasattr(cell, "magnitude") and not isinstance(cell, bool):
            raise WrongUnit(
                f'{name} needs a unit: give a Quantity, or a text such as "{cell} {kind.metric}"',
                function=spec.name,
                argument=name,
                value=cell,
            )


def _read(spec: FunctionSpec, given: list[Any], system: str) -> list[Any]:
    """Read the arguments; of an array of Quantities the first is read like a cell, and all are converted."""
    arrays = {
        i: value
        for i, value in enumerate(given)
        if getattr(value, "ndim", 0) and hasattr(value, "magnitude") and not spec.arguments[i].series
    }
    if arrays and not spec.elementwise:
        raise WrongType(f"{spec.name} takes single quantities, not arrays", function=spec.name)
    firsts = [value[(0,) * value.ndim] if i in arrays else value for i, value in enumerate(given)]
    values = read_arguments(spec, firsts, system)
    for i, value in arrays.items():
        values[i] = value.to(spec.arguments[i].kind.pint_unit("core")).magnitude
    return values


def _registry_of(given: list[Any]) -> Any:
    for value in given:
        for cell in [value] if hasattr(value, "magnitude") else flatten(value):
            if hasattr(cell, "magnitude"):
                return cell._REGISTRY
    import pint  # only here: a caller who gives texts and no Quantity still gets a Quantity back

    return pint.get_application_registry()  # type: ignore[no-untyped-call]
