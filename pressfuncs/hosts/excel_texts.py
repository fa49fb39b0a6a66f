"""What Excel is told of the functions, and the numbers it knows error values by; needs no xlwings."""

from __future__ import annotations

from pressfuncs.hosts.calc.signatures import argument_help, fitted
from pressfuncs.registry import UNITS_ARGUMENT, UNITS_HELP, FunctionSpec

HOST_MODULE = "pressfuncs.hosts.excel"
"""The module that xlwings imports."""

ERROR_NUMBERS = {
    "#NULL!": 2000,
    "#DIV/0!": 2007,
    "#VALUE!": 2015,
    "#REF!": 2023,
    "#NAME?": 2029,
    "#NUM!": 2036,
    "#N/A": 2042,
    "#GETTING_DATA": 2043,
    "#SPILL!": 2045,
    "#CONNECT!": 2046,
    "#BLOCKED!": 2047,
    "#UNKNOWN!": 2048,
    "#FIELD!": 2049,
    "#CALC!": 2050,
}
"""Error value -> the number that Excel knows it by (as in CVErr)."""


def category(spec: FunctionSpec) -> str:
    """Return the heading under which the function wizard lists a function."""
    return f"pressfuncs: {spec.chapter}"


def help_text(spec: FunctionSpec) -> str:
    """Return what the wizard says about a function: its summary, with the formula where there is room for it."""
    both = f"{spec.docs.summary} {spec.docs.formula}"
    return both if fitted(both) == both else fitted(spec.docs.summary)


def help_of_arguments(spec: FunctionSpec) -> dict[str, str]:
    """Return what the wizard says about each argument, by its name."""
    texts = {a.name: a.help if a.variadic else argument_help(a) for a in spec.arguments}
    return texts | {UNITS_ARGUMENT: UNITS_HELP} if spec.has_units else texts
