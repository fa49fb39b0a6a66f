"""Ordinary formulas of plain arithmetic as expressions of numpy arrays, which say where they are in doubt.

An expression computes what spreadsheets compute, where the last digits decide nothing; where they might (a tie to
round, two sides of a comparison that hardly differ, a difference that is almost nothing), and where the result is
no number, the row is marked, and somebody else has to say.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from pressfuncs.batch.formulas import Ref, Token, function_name
from pressfuncs.batch.tokens import XlToken

Array = Any
"""A numpy array, or one number, truth value or text."""
Node = Callable[[Sequence[Array]], tuple[Array, Array]]
"""From the values of the references to those of an expression, and to where they are in doubt."""

_WIDEST = 16  # columns of a range in the same row, as in SUM(B2:E2)
_CLOSE = 1e-10  # the engine decides what becomes of a difference that is smaller than this part of its sides
_ALIKE = 1e-13  # and whether two numbers that differ by no more than this part of them are the same
_NEAR_TIE = 1e-6
_LARGEST_ROUNDED = 1e9
_COMPARISONS: dict[str, Callable[[Array, Array], Array]] = {
    "=": np.equal,
    "<>": np.not_equal,
    "<": np.less,
    ">": np.greater,
    "<=": np.less_equal,
    ">=": np.greater_equal,
}
_NUMBER_BEFORE_TEXT = frozenset(("<", "<=", "<>"))
"""Comparisons that are true of any number and any text."""


class Expression(NamedTuple):
    """What an expression gives ("number", "truth" or "text"; "any" of them in different rows), and how."""

    kind: str
    node: Node
    constant: float | None = None
    """its number, if it is one that stands in the formula"""


class NotPlain(Exception):
    """The formula holds something that only the engine computes."""


def cells_of(ref: Ref) -> list[Ref]:
    """Return the cells of a reference one by one; none if it is no cell and no short range in the same row."""
    if ref.single:
        return [ref]
    if ref.row1 != ref.row2 or ref.fixed[0] != ref.fixed[2] or ref.fixed[1] != ref.fixed[3]:
        return []
    if not 0 <= ref.column2 - ref.column1 < _WIDEST:
        return []
    columns = range(ref.column1, ref.column2 + 1)
    return [replace(ref, column1=column, column2=column, single=True) for column in columns]


class Compiler:
    """Turns tokens into an expression; what binds least is read first.

    Every method reads tokens from `at` on and returns the expression that they make.
    """

    def __init__(self, tokens: list[Token], refs: dict[Ref, int]) -> None:
        self.tokens = tokens
        self.refs = refs
        self.at = 0

    def whole(self) -> Expression:
        """Return the expression of all tokens.

        Raises:
            NotPlain: there is something in it that is not computed here.
        """
        expression = self._comparison()
        if self.at != len(self.tokens):
            raise NotPlain
        return expression

    def _take(self, kind: str, *texts: str) -> str | None:
        """Take the next token if it is of a kind and has one of the texts."""
        if self.at < len(self.tokens):
            token = self.tokens[self.at]
            if token.kind == kind and token.text in texts:
                self.at += 1
                return token.text
        return None

    def _comparison(self) -> Expression:
        left = self._terms()
        operator = self._take(XlToken.OP_IN, *_COMPARISONS)
        if operator is None:
            return left
        right = self._terms()
        if self._take(XlToken.OP_IN, *_COMPARISONS):
            raise NotPlain
        return _compared(operator, left, right)

    def _terms(self) -> Expression:
        left = self._factors()
        while operator := self._take(XlToken.OP_IN, "+", "-"):
            left = _sum(operator, _number(left), _number(self._factors()))
        return left

    def _factors(self) -> Expression:
        left = self._powers()
        while operator := self._take(XlToken.OP_IN, "*", "/"):
            right = self._powers()
            left = (_product if operator == "*" else _quotient)(_number(left), _number(right))
        return left

    def _powers(self) -> Expression:
        left = self._signed()
        while self._take(XlToken.OP_IN, "^"):
            left = _power(_number(left), _number(self._signed()))
        return left

    def _signed(self) -> Expression:
        if sign := self._take(XlToken.OP_PRE, "-", "+"):
            inner = self._signed()
            if sign == "-" and inner.constant is not None:
                return _constant(-inner.constant)
            return _derived("number", np.negative, _number(inner)) if sign == "-" else inner
        found = self._atom()
        while self._take(XlToken.OP_POST, "%"):
            found = _quotient(_number(found), _constant(100.0))
        return found

    def _atom(self) -> Expression:
        token = self.tokens[self.at]
        self.at += 1
        if token.opens:
            return self._call(function_name(token.text))
        if token.kind == XlToken.PAREN and token.subtype == XlToken.OPEN:
            inner = self._comparison()
            if self.tokens[self.at].kind != XlToken.PAREN:
                raise NotPlain
            self.at += 1
            return inner
        if token.kind != XlToken.OPERAND:
            raise NotPlain
        if token.ref is not None and token.ref.single:
            return _reference(self.refs[token.ref])
        if token.subtype == XlToken.NUMBER:
            return _constant(float(token.text))
        if token.subtype == XlToken.TEXT:
            return _constant(token.text[1:-1].replace('""', '"'))
        if token.subtype == XlToken.LOGICAL:
            return _constant(token.text.upper() == "TRUE")
        raise NotPlain

    def _call(self, name: str) -> Expression:
        make = _FUNCTIONS.get(name)
        if make is None:
            raise NotPlain
        arguments: list[Expression] = []
        while not self.tokens[self.at].closes:
            arguments += self._argument(name in _OF_RANGES)
            if self.tokens[self.at].kind == XlToken.SEP:
                self.at += 1
                if self.tokens[self.at].closes or self.tokens[self.at].kind == XlToken.SEP:
                    raise NotPlain  # an argument that is left out
        self.at += 1
        return make(arguments)

    def _argument(self, ranges: bool) -> list[Expression]:
        """Read an argument; a range, where one is taken, cell by cell."""
        token = self.tokens[self.at]
        if ranges and token.ref is not None and not token.ref.single:
            self.at += 1
            if not (self.tokens[self.at].closes or self.tokens[self.at].kind == XlToken.SEP):
                raise NotPlain
            return [_reference(self.refs[cell]) for cell in cells_of(token.ref)]
        return [self._comparison()]


def _constant(value: float | bool | str) -> Expression:
    kind = {float: "number", bool: "truth", str: "text"}[type(value)]
    return Expression(kind, lambda columns: (value, False), value if type(value) is float else None)


def _reference(number: int) -> Expression:
    return Expression("number", lambda columns: (columns[number], False))


def _number(expression: Expression) -> Expression:
    """Return an expression as a number; a truth value counts as 1 or 0."""
    if expression.kind == "number":
        return expression
    if expression.kind != "truth":
        raise NotPlain

    def node(columns: Sequence[Array]) -> tuple[Array, Array]:
        value, doubt = expression.node(columns)
        return np.where(value, 1.0, 0.0), doubt

    return Expression("number", node)


def _truth(expression: Expression) -> Expression:
    """Return an expression as a truth value; a number counts as true unless it is 0."""
    if expression.kind == "truth":
        return expression
    return _derived("truth", lambda value: value != 0.0, _number(expression))


def _derived(
    kind: str,
    compute: Callable[..., Array],
    *inner: Expression,
    doubted: Callable[..., Array] | None = None,
) -> Expression:
    """Return an expression computed from others; `doubted` says where it is in doubt beyond what those are."""

    def node(columns: Sequence[Array]) -> tuple[Array, Array]:
        values, doubts = zip(*(expression.node(columns) for expression in inner))
        result = compute(*values)
        doubt = doubted(result, *values) if doubted else False
        if kind == "number":
            doubt = doubt | ~np.isfinite(result)
        for other in doubts:
            doubt = doubt | other
        return result, doubt

    return Expression(kind, node)


def _sum(operator: str, left: Expression, right: Expression) -> Expression:
    def cleared(result: Array, a: Array, b: Array) -> Array:
        return (result != 0.0) & (abs(result) < _CLOSE * np.maximum(abs(a), abs(b)))

    return _derived("number", np.add if operator == "+" else np.subtract, left, right, doubted=cleared)


def _product(left: Expression, right: Expression) -> Expression:
    return _derived("number", np.multiply, left, right)


def _quotient(left: Expression, right: Expression) -> Expression:
    return _derived("number", np.divide, left, right, doubted=lambda _, a, b: b == 0.0)


def _power(left: Expression, right: Expression) -> Expression:
    def odd(_: Array, base: Array, exponent: Array) -> Array:
        return ((base == 0.0) & (exponent <= 0.0)) | ((base < 0.0) & (exponent != np.floor(exponent)))

    return _derived("number", _to_the, left, right, doubted=odd)


def _to_the(base: Array, exponent: Array) -> Array:
    """Return powers to the last digit as the engine has them; those of numpy depend on the processor."""
    return np.asarray(_each_to_the(base, exponent), dtype=float)


def _one_to_the(base: float, exponent: float) -> float:
    try:
        return math.pow(base, exponent)
    except (ValueError, OverflowError):
        return math.nan


_each_to_the = np.frompyfunc(_one_to_the, 2, 1)


def _compared(operator: str, left: Expression, right: Expression) -> Expression:
    if (left.kind, right.kind) == ("number", "text"):
        return _derived("truth", lambda a, b: np.full(np.shape(a), operator in _NUMBER_BEFORE_TEXT), left, right)
    if (left.kind, right.kind) != ("number", "number"):
        raise NotPlain

    def alike(_: Array, a: Array, b: Array) -> Array:
        return (a != b) & (abs(a - b) <= _ALIKE * np.maximum(abs(a), abs(b)))

    return _derived("truth", _COMPARISONS[operator], left, right, doubted=alike)


def _if(arguments: list[Expression]) -> Expression:
    if len(arguments) == 2:
        arguments = [*arguments, _constant(False)]
    if len(arguments) != 3:
        raise NotPlain
    condition, then, otherwise = _truth(arguments[0]), arguments[1], arguments[2]
    kind = then.kind if then.kind == otherwise.kind else "any"

    def node(columns: Sequence[Array]) -> tuple[Array, Array]:
        chosen, doubt = condition.node(columns)
        (a, a_doubt), (b, b_doubt) = then.node(columns), otherwise.node(columns)
        if kind in ("text", "any"):  # one text for all rows, not a row of letters for each
            a, b = _as_objects(a), _as_objects(b)
        return np.where(chosen, a, b), doubt | np.where(chosen, a_doubt, b_doubt)

    return Expression(kind, node)


def _as_objects(values: Array) -> Array:
    """Return values of any kind as those of Python; one value for all rows may be one of numpy's."""
    return np.asarray(values.item() if isinstance(values, np.generic) else values, dtype=object)


def _all_of(combine: Callable[[Array, Array], Array], kind: str) -> Callable[[list[Expression]], Expression]:
    """Return the function of any number of arguments that combines them from the left."""
    convert = _truth if kind == "truth" else _number

    def made(arguments: list[Expression]) -> Expression:
        if not arguments:
            raise NotPlain
        found, *others = map(convert, arguments)
        for other in others:
            found = _derived(kind, combine, found, other)
        return found

    return made


def _average(arguments: list[Expression]) -> Expression:
    return _quotient(_all_of(np.add, "number")(arguments), _constant(float(len(arguments))))


def _not(arguments: list[Expression]) -> Expression:
    (inner,) = _exactly(1, arguments)
    return _derived("truth", np.logical_not, _truth(inner))


def _absolute(arguments: list[Expression]) -> Expression:
    (inner,) = _exactly(1, arguments)
    return _derived("number", np.abs, _number(inner))


def _root(arguments: list[Expression]) -> Expression:
    (inner,) = _exactly(1, arguments)
    return _derived("number", np.sqrt, _number(inner))


def _pi(arguments: list[Expression]) -> Expression:
    _exactly(0, arguments)
    return _constant(math.pi)


def _whole(arguments: list[Expression]) -> Expression:
    (inner,) = _exactly(1, arguments)
    return _derived("number", np.floor, _number(inner), doubted=lambda _, value: _near_step(value, 0.0))


def _rounded(step: Callable[[Array], Array], jump: float) -> Callable[[list[Expression]], Expression]:
    """Return ROUND or its like: `step` makes a size a whole number, and jumps at a fraction."""

    def made(arguments: list[Expression]) -> Expression:
        inner, places = _exactly(2, arguments)
        if places.constant is None or places.constant != int(places.constant) or abs(places.constant) > 15:
            raise NotPlain
        scale = 10.0 ** abs(places.constant)
        up, down = (np.multiply, np.divide) if places.constant >= 0 else (np.divide, np.multiply)

        def compute(value: Array) -> Array:
            return np.copysign(down(step(up(abs(value), scale)), scale), value)

        return _derived(
            "number", compute, _number(inner), doubted=lambda _, value: _near_step(up(abs(value), scale), jump)
        )

    return made


def _near_step(value: Array, jump: float) -> Array:
    """Say where the last digits may decide to which whole number a value goes, which jumps at a fraction."""
    beyond = value - np.floor(value) - jump
    near = np.minimum(abs(beyond), 1.0 - abs(beyond)) < _NEAR_TIE
    return (abs(value) > _LARGEST_ROUNDED) | (near & (beyond != 0.0 if jump == 0.0 else True))


def _exactly(count: int, arguments: list[Expression]) -> list[Expression]:
    if len(arguments) != count:
        raise NotPlain
    return arguments


_OF_RANGES = frozenset(("SUM", "PRODUCT", "MAX", "MIN", "AVERAGE"))
_FUNCTIONS: dict[str, Callable[[list[Expression]], Expression]] = {
    "IF": _if,
    "AND": _all_of(np.logical_and, "truth"),
    "OR": _all_of(np.logical_or, "truth"),
    "NOT": _not,
    "SUM": _all_of(np.add, "number"),
    "PRODUCT": _all_of(np.multiply, "number"),
    "MAX": _all_of(np.maximum, "number"),
    "MIN": _all_of(np.minimum, "number"),
    "AVERAGE": _average,
    "ABS": _absolute,
    "SQRT": _root,
    "INT": _whole,
    "ROUND": _rounded(lambda size: np.floor(size + 0.5), 0.5),
    "ROUNDUP": _rounded(np.ceil, 0.0),
    "ROUNDDOWN": _rounded(np.floor, 0.0),
    "PI": _pi,
}
