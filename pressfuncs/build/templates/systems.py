"""Metric and inch variants of one template: file names, the argument `units` in formulas, formats, paper.

A template is written once, with metric formulas. The inch variant gets "inch" as the last argument of every
function that has units, so that each cell says for itself how its bare numbers are meant, wherever it is copied.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from openpyxl.formula.tokenizer import Token, Tokenizer

from pressfuncs.quantities import AREA, DENSITY, FORCE, LENGTH, PRESSURE, STRESS, SYSTEMS, TORQUE, Kind
from pressfuncs.registry import PREFIX, find

METRIC, INCH = SYSTEMS
SMALL_PAPER = {METRIC: 9, INCH: 1}
"""Number of the paper size in the file format: A4, US Letter."""
LARGE_PAPER = {METRIC: 8, INCH: 3}
"""A3, US Tabloid."""

_INCH_DECIMALS = {LENGTH: 3, AREA: 3, DENSITY: 3}
_DECIMALS = re.compile(r"0(\.0+)?(?!.*%)(?=[;\"+\-]|$)")
_THOUSANDS = (STRESS, PRESSURE, TORQUE)


def file_name(name: str, system: str) -> str:
    """Return the file name of a variant of a template.

    >>> file_name("quote", "metric"), file_name("quote", "inch")
    ('quote.xlsx', 'quote.inch.xlsx')
    """
    return f"{name}.xlsx" if system == METRIC else f"{name}.{system}.xlsx"


def with_units(formula: str, system: str) -> str:
    """Return a metric formula with the argument `units` of every function that has one.

    >>> with_units("=2*PF_REQUIRED_CAPACITY(B2)", "inch")
    '=2*PF_REQUIRED_CAPACITY(B2,,"inch")'
    """
    if system == METRIC:
        return formula
    written, calls = ["="], list[_Call]()
    for token in Tokenizer(formula).items:
        if token.subtype == Token.CLOSE:
            written.append(calls.pop().missing(system))
        elif calls:
            calls[-1].separators += token.type == Token.SEP
            calls[-1].filled |= token.type not in (Token.SEP, Token.WSPACE)
        if token.subtype == Token.OPEN:
            calls.append(_Call(token.value))
        written.append(token.value)
    return "".join(written)


@dataclass
class _Call:
    """A bracket that is still open: what opened it, and what has been seen in it."""

    opening: str
    separators: int = 0
    filled: bool = False

    def missing(self, system: str) -> str:
        """Return what must stand before the closing bracket: commas for what is left out, and the units."""
        name = self.opening.removesuffix("(")
        if not name.startswith(PREFIX):
            return ""
        spec = find(name)
        if not spec.has_units:
            return ""
        given = self.separators + 1 if self.separators or self.filled else 0
        return "," * (len(spec.arguments) + (1 if given else 0) - given) + f'"{system}"'


def number_format(kind: Kind | None, metric: str, system: str) -> str:
    """Return the number format of a variant, from the one that suits the metric figures.

    >>> number_format(LENGTH, "0.0", "inch"), number_format(STRESS, "0", "inch")
    ('0.000', '#,##0')
    """
    if system == METRIC or kind is None:
        return metric
    if kind in _THOUSANDS and metric == "0":
        return "#,##0"
    if kind == FORCE and metric.endswith("#,##0"):
        return metric + ".0"
    if kind in _INCH_DECIMALS:
        decimals = 1 if kind == LENGTH and "." not in metric else _INCH_DECIMALS[kind]
        return _DECIMALS.sub("0." + "0" * decimals, metric)
    return metric
