"""Whether a formula is an error for certain, though it cannot be computed: one of its operands is an error.

Operators and plain functions hand on an error that they are given, whatever their other operands are. Which error,
the operands decide from left to right: where one that is not known stands before the error, it could be another.
IFERROR, COUNT, the branches of IF, and every function that is not listed here may do something else with it, and
nothing is concluded from those.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from pressfuncs.batch.book import Run
from pressfuncs.batch.formulas import NotUnderstood, Ref, Token, arguments_of, function_name, our_spec
from pressfuncs.batch.tokens import XlToken
from pressfuncs.errors import CellError
from pressfuncs.registry import FunctionSpec

NUMBER, TEXT, UNKNOWN = "a number", "a text", "not known"
"""What is known of an operand that is no error for certain; blanks and truth values go as numbers."""


@dataclass(frozen=True)
class Certain:
    """An error for certain; `sure` says whether its kind is certain too."""

    error: CellError
    sure: bool


Known = Certain | str
Tokens = tuple[Token, ...]

_ONE_VALUE = frozenset(
    "ABS ROUND ROUNDUP ROUNDDOWN INT TRUNC SQRT EXP LN LOG LOG10 SIN COS TAN ASIN ACOS ATAN ATAN2 SINH COSH TANH"
    " POWER MOD SIGN TEXT LEFT RIGHT MID LEN UPPER LOWER PROPER TRIM VALUE CONCATENATE FIND SEARCH SUBSTITUTE REPT"
    " YEAR MONTH DAY DATE TIME HOUR MINUTE SECOND WEEKDAY EDATE EOMONTH NOT CHAR CODE EXACT DEGREES RADIANS"
    " CEILING FLOOR CEILING.MATH FLOOR.MATH EVEN ODD QUOTIENT MROUND FACT REPLACE CLEAN FIXED DAYS".split()
)
"""Functions of single values that hand on an error in any argument."""
_RANGES = frozenset(
    "SUM PRODUCT SUMSQ SUMPRODUCT MAX MIN AVERAGE MEDIAN AND OR XOR CONCAT STDEV STDEV.S STDEV.P STDEVP VAR VAR.S"
    " VAR.P VARP LARGE SMALL".split()
)
"""Functions that hand on an error in any cell of a range."""
_FIRST = frozenset(("IF", "CHOOSE", "MATCH", "VLOOKUP", "HLOOKUP"))
"""Functions that hand on an error in their first argument, and may pass over one in the others."""
_JOINING = (":", ",", " ")
_MAY_FAIL = ("/", "^")  # of two numbers, too
_ARITHMETIC = ("+", "-", "*", *_MAY_FAIL)


class Cells(Protocol):
    """What is known of the cells of a workbook."""

    def at(self, sheet: str, row: int, column: int) -> Known:
        """Return what is known of a cell."""

    def within(self, sheet: str, area: tuple[int, int, int, int]) -> Known:
        """Return what a function that takes every cell of an area makes of it."""


def certain_error(run: Run, row: int, cells: Cells) -> Certain | None:
    """Return the error that the formula of a run gives in a row, if it gives one for certain."""
    if run.template is None or run.area is not None:
        return None
    try:
        found = _Formula(run, row, cells).expression(run.template.tokens)
    except NotUnderstood:
        return None
    return found if isinstance(found, Certain) else None


class _Formula:
    """One formula in one cell."""

    def __init__(self, run: Run, row: int, cells: Cells) -> None:
        self.run = run
        self.row = row
        self.cells = cells

    def expression(self, tokens: Sequence[Token]) -> Known:
        """Return what is known of an expression: its operands and operators, in order."""
        operands: list[Known] = []
        operators: list[str] = []
        signs = False
        i = 0
        while i < len(tokens):
            token = tokens[i]
            if token.kind in (XlToken.OP_PRE, XlToken.OP_POST):
                signs = True
            elif token.kind == XlToken.OP_IN and token.text not in _JOINING and len(operands) > len(operators):
                operators.append(token.text)
            elif token.kind != XlToken.WSPACE:
                end = _end(tokens, i)
                if len(operands) > len(operators) or end is None:  # ranges joined, or no formula at all
                    return UNKNOWN
                operands.append(self.operand(tuple(tokens[i : end + 1])))
                i = end
            i += 1
        if len(operands) != len(operators) + 1:
            return UNKNOWN
        return _combined(operands, operators, signs)

    def operand(self, tokens: Tokens) -> Known:
        """Return what is known of an operand: a constant, a cell, a call or what stands in brackets."""
        first = tokens[0]
        if first.opens:
            return self.call(tokens)
        if first.kind == XlToken.PAREN:
            return self.expression(tokens[1:-1])
        if first.ref is not None:
            return self.cell(first.ref) if first.ref.single else UNKNOWN
        if first.kind != XlToken.OPERAND:
            return UNKNOWN
        if first.subtype == XlToken.ERROR:
            return Certain(CellError(first.text), True)
        kinds = {XlToken.NUMBER: NUMBER, XlToken.LOGICAL: NUMBER, XlToken.TEXT: TEXT}
        return kinds.get(first.subtype, UNKNOWN)

    def cell(self, ref: Ref) -> Known:
        row, column, _, _ = ref.rectangle(self.row, self.run.column)
        return self.cells.at(ref.sheet or self.run.sheet, row, column)

    def call(self, tokens: Tokens) -> Known:
        """Return what is known of a call."""
        spec = our_spec(tokens[0].text)
        given = list(arguments_of(tokens, 0, len(tokens) - 1))
        if spec is not None:
            return self.ours(spec, given)
        name = function_name(tokens[0].text)
        if name in _RANGES:
            return _first([self.range_or_value(argument) for argument in given])
        if name in _ONE_VALUE:
            return _first([self.argument(argument) for argument in given])
        return _first([self.argument(argument) for argument in given[:1]]) if name in _FIRST else UNKNOWN

    def argument(self, tokens: Tokens) -> Known:
        return self.expression(tokens) if tokens else NUMBER

    def range_or_value(self, tokens: Tokens) -> Known:
        ref = tokens[0].ref if len(tokens) == 1 else None
        if ref is None or ref.single:
            return self.argument(tokens)
        return self.cells.within(ref.sheet or self.run.sheet, ref.rectangle(self.row, self.run.column))

    def ours(self, spec: FunctionSpec, given: list[Tokens]) -> Known:
        """Return what is known of a call of ours: an error in a cell comes before any refusal."""
        if spec.most_arguments is None or len(given) > spec.most_arguments:
            return UNKNOWN
        if any(_several(token) for argument in given for token in argument):
            return UNKNOWN
        wholes = [argument.whole for argument in spec.arguments] + [False]  # the last one is `units`
        found = [UNKNOWN if whole else self.argument(tokens) for tokens, whole in zip(given, wholes)]
        errors = {known.error for known in found if isinstance(known, Certain)}
        first = _first(found)
        if isinstance(first, Certain):  # `units` is read first, though it stands last
            return Certain(first.error, first.sure and len(errors) == 1 and UNKNOWN not in found)
        return UNKNOWN


def _combined(operands: list[Known], operators: list[str], signs: bool) -> Known:
    """Return what operators make of their operands; all of them hand on an error, the left one first."""
    arithmetic = signs or any(operator in _ARITHMETIC for operator in operators)
    doubt = False
    for known, operator in zip(operands, ["", *operators]):
        if isinstance(known, Certain):
            return Certain(known.error, known.sure and not doubt)
        doubt = doubt or known == UNKNOWN or (known == TEXT and arithmetic) or operator in _MAY_FAIL
    if doubt:
        return UNKNOWN
    if not operators:
        return operands[0]
    return TEXT if "&" in operators else NUMBER


def _first(arguments: list[Known]) -> Known:
    """Return the first error among arguments."""
    doubt = False
    for known in arguments:
        if isinstance(known, Certain):
            return Certain(known.error, known.sure and not doubt)
        doubt = doubt or known != NUMBER
    return UNKNOWN


def _several(token: Token) -> bool:
    return token.kind == XlToken.ARRAY or (token.ref is not None and not token.ref.single)


def _end(tokens: Sequence[Token], start: int) -> int | None:
    """Return where the operand that begins at a token ends; None if there is none."""
    if tokens[start].kind == XlToken.OPERAND:
        return start
    depth = 0
    for i in range(start, len(tokens)):
        depth += (tokens[i].subtype == XlToken.OPEN) - (tokens[i].subtype == XlToken.CLOSE)
        if depth <= 0:
            return i if i > start else None
    return None
