"""Calls on quantities with units, for Python: pint Quantities or texts in, a Quantity out."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from typing import Any

from pressfuncs.edge.call import compute, read_arguments, result_kind
from pressfuncs.errors import WrongUnit
from pressfuncs.registry import find


def with_units(plain: Callable[..., Any], system: str = "metric") -> Callable[..., Any]:
    """Return the function as one that takes pint Quantities or texts with units, and returns a Quantity.

    A bare number is taken only where the argument has no unit. The Quantity comes in the shown unit of
    `system`, and in the registry of the first Quantity given.

    >>> from pressfuncs import shearing_force
    >>> round(with_units(shearing_force)("471.239 mm", "3.2 mm", "310 MPa"), 3)
    <Quantity(467.469, 'kilonewton')>
    """
    spec = find(plain.__name__)

    def quantity_call(*arguments: object, **named: object) -> Any:
        bound = inspect.signature(plain).bind(*arguments, **named)
        for argument in spec.arguments:
            value = bound.arguments.get(argument.name)
            if argument.kind.has_unit and isinstance(value, (int, float)) and not isinstance(value, bool):
                example = f"{value} {argument.kind.metric}"
                raise WrongUnit(
                    f'{argument.name} needs a unit: give a Quantity, or a text such as "{example}"',
                    function=spec.name,
                    argument=argument.name,
                    value=value,
                )
        given = [bound.arguments.get(argument.name) for argument in spec.arguments]
        values = read_arguments(spec, given, system)
        result = compute(spec, values)
        kind = result_kind(spec, values)
        if not kind.has_unit or spec.columns is not None:
            return result
        quantities = [value for value in given if hasattr(value, "magnitude")]
        registry = _registry_of(quantities)
        return registry.Quantity(result, kind.pint_unit("core")).to(kind.pint_unit(system))

    quantity_call.__name__ = plain.__name__
    quantity_call.__doc__ = plain.__doc__
    return quantity_call


def _registry_of(quantities: list[Any]) -> Any:
    if quantities:
        return quantities[0]._REGISTRY
    import pint  # only here: a caller who gives texts and no Quantity still gets a Quantity back

    return pint.get_application_registry()  # type: ignore[no-untyped-call]
