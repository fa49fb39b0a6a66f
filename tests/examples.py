"""The worked example of each function's docstring as arguments: what tests of every function run on."""

from __future__ import annotations

import ast
import doctest
import sys
from typing import Any

import pressfuncs  # noqa: F401  # enters every function in the register
from pressfuncs.registry import FUNCTIONS, FunctionSpec

ALL = [FUNCTIONS[name] for name in sorted(FUNCTIONS)]
COMPUTING = [spec for spec in ALL if not spec.variadic]
"""Every function but those that take further values as they stand in their cells (explain)."""


def name_of(spec: object) -> str:
    """Return the id of a parametrized test."""
    return spec.name if isinstance(spec, FunctionSpec) else str(spec)


def example_call(spec: FunctionSpec) -> ast.Call:
    """Return the call of the function in its example, as a syntax tree."""
    for example in doctest.DocTestParser().get_examples(spec.docs.example):
        for node in ast.walk(ast.parse(example.source)):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == spec.name:
                return node
    raise AssertionError(f"{spec.name} has no example that calls it")


def given(spec: FunctionSpec) -> dict[str, Any]:
    """Return the arguments that the example gives, in core units."""
    names = vars(sys.modules[spec.call.__module__])
    return {
        str(keyword.arg): _floats(eval(compile(ast.Expression(keyword.value), spec.name, "eval"), names))
        for keyword in example_call(spec).keywords
    }


def _floats(value: Any) -> Any:
    if isinstance(value, (list, tuple)):
        return [_floats(element) for element in value]
    return float(value) if type(value) is int else value


def arguments(spec: FunctionSpec) -> list[Any]:
    """Return every argument in order, in core units: the example's, and defaults for the rest."""
    example = given(spec)
    missing = [a.name for a in spec.arguments if a.required and a.name not in example]
    assert not missing, f"the example of {spec.name} leaves out {', '.join(missing)}"
    return [example.get(argument.name, argument.default) for argument in spec.arguments]


def cells(spec: FunctionSpec, system: str = "metric") -> list[Any]:
    """Return the example as values of cells: bare numbers in the shown units of `system`."""
    shown: list[Any] = []
    for argument, value in zip(spec.arguments, arguments(spec), strict=True):
        factor = argument.kind.factor(system)
        if value is None or isinstance(value, str):
            shown.append(value)
        elif argument.series:
            shown.append([[element / factor] for element in value] or None)
        else:
            shown.append(value / factor)
    return shown
