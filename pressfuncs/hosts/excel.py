"""The functions in Excel for Windows: the module that xlwings imports, one adapter a function of the register.

xlwings hands over the values of cells and takes values back, but has no error values: an error arrives as its
text ("#N/A"), and leaves as its text, which the worksheet module written by `pressfuncs connect excel` turns
into a real error. Only the open (BSD) part of xlwings is used.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from inspect import Parameter, Signature
from typing import Any

import xlwings

from pressfuncs.edge import evaluate
from pressfuncs.errors import CellError
from pressfuncs.hosts.excel_texts import ERROR_NUMBERS, category, help_of_arguments, help_text
from pressfuncs.registry import FUNCTIONS, UNITS_ARGUMENT, FunctionSpec

_FIRST_CODE = -2146828288
"""COM hands an error over as a whole number: this plus the error's number. Numbers of cells come as floats."""

_CELL_ERRORS = {text: CellError(text) for text in ERROR_NUMBERS} | {
    _FIRST_CODE + number: CellError(text) for text, number in ERROR_NUMBERS.items()
}


def adapter(spec: FunctionSpec) -> Callable[..., Any]:
    """Return the worksheet function of one library function, marked for xlwings.

    It takes every argument as rows of cell values, whatever the range, and never raises: a refusal is the
    text of its error value.
    """

    def worksheet_function(*given: Any) -> Any:
        return _outgoing(evaluate(spec, [_incoming(value) for value in given]))

    parameters = [
        Parameter(argument.name, Parameter.VAR_POSITIONAL)
        if argument.variadic
        else _parameter(argument.name, argument.required)
        for argument in spec.arguments
    ]
    if spec.has_units:
        parameters.append(_parameter(UNITS_ARGUMENT, required=False))
    worksheet_function.__name__ = worksheet_function.__qualname__ = spec.sheet_name
    worksheet_function.__doc__ = help_text(spec)
    worksheet_function.__signature__ = Signature(parameters)  # type: ignore[attr-defined]
    marked: Callable[..., Any] = worksheet_function
    for name, text in help_of_arguments(spec).items():
        marked = xlwings.arg(name, ndim=2, err_to_str=True, doc=text)(marked)
    described: Callable[..., Any] = xlwings.func(category=category(spec))(
        marked
    )  # last: arg() resets the category
    return described


def _parameter(name: str, required: bool) -> Parameter:
    # A blank stands for an omitted argument, since the edge takes both for the default.
    return Parameter(name, Parameter.POSITIONAL_OR_KEYWORD, default=Parameter.empty if required else None)


def _incoming(value: Any) -> Any:
    """Turn what xlwings hands over into what the edge takes."""
    if not isinstance(value, (list, tuple)):
        return _cell(value)
    if len(value) == 1 and len(value[0]) == 1:
        return _cell(value[0][0])
    return [[_cell(cell) for cell in row] for row in value]


def _cell(value: Any) -> Any:
    kind = value.__class__
    if kind is float:
        return value
    if kind is str or kind is int:
        return _CELL_ERRORS.get(value, value)
    return float(value) if kind is Decimal else value  # Decimal: a cell in a currency format


def _outgoing(result: Any) -> Any:
    if isinstance(result, list):
        return [[_outgoing(cell) for cell in row] for row in result]
    return result.code if isinstance(result, CellError) else result


globals().update({spec.sheet_name: adapter(spec) for spec in FUNCTIONS.values()})
