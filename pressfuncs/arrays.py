"""Mathematics for formulas: `math` for single numbers, numpy for arrays, imported when first needed.

`functions/` uses these names only, so that a formula reads the same for a float, an array and a Quantity.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

Value = float
"""A float, a numpy array, or a pint Quantity; typed as the float that the formula is written for."""

PI = math.pi


def _numpy() -> Any:
    import numpy

    return numpy


def is_number(value: Value) -> bool:
    """Whether the value is one plain number (not an array, not a Quantity)."""
    return isinstance(value, (float, int))


def _both(name: str, single: Callable[[float], float]) -> Callable[[Value], Value]:
    def calculate(value: Value) -> Value:
        if isinstance(value, (float, int)):
            return single(value)
        elementwise: Callable[[Value], Value] = getattr(_numpy(), name)
        return elementwise(value)

    calculate.__name__ = name
    calculate.__doc__ = f"Return {name} of a number or of each element of an array."
    return calculate


sqrt = _both("sqrt", math.sqrt)
sin = _both("sin", math.sin)
cos = _both("cos", math.cos)
tan = _both("tan", math.tan)
asin = _both("arcsin", math.asin)
acos = _both("arccos", math.acos)
atan = _both("arctan", math.atan)
exp = _both("exp", math.exp)
log = _both("log", math.log)
floor = _both("floor", math.floor)
ceil = _both("ceil", math.ceil)


def absolute(value: Value) -> Value:
    """Return the size of a number or of each element, without its sign."""
    return abs(value)


def minimum(first: Value, second: Value) -> Value:
    """Return the smaller of two numbers, element by element."""
    if is_number(first) and is_number(second):
        return first if first < second else second
    smaller: Value = _numpy().minimum(first, second)
    return smaller


def maximum(first: Value, second: Value) -> Value:
    """Return the larger of two numbers, element by element."""
    if is_number(first) and is_number(second):
        return first if first > second else second
    larger: Value = _numpy().maximum(first, second)
    return larger


def where(condition: bool, then: Value, otherwise: Value) -> Value:
    """Return `then` where the condition holds and `otherwise` elsewhere, element by element."""
    if isinstance(condition, bool):
        return then if condition else otherwise
    chosen: Value = _numpy().where(condition, then, otherwise)
    return chosen


def clip(value: Value, lower: Value, upper: Value) -> Value:
    """Return the value, but not less than `lower` and not more than `upper`."""
    return minimum(maximum(value, lower), upper)
