"""Expressions of the functions' own Python code as pieces of worksheet formulas.

What a formula cannot say raises `CannotSay` with the reason; nothing is guessed and nothing is left out.
"""

from __future__ import annotations

import ast
import builtins
import inspect
import math
import operator
import string
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from types import FunctionType, ModuleType
from typing import Any

from pressfuncs import arrays, limits
from pressfuncs.build.formula import (
    ATOM,
    Term,
    binary,
    call,
    either,
    every,
    negative,
    number,
    text,
)
from pressfuncs.errors import Impossible, OutOfRange, WrongChoice
from pressfuncs.quantities import SYSTEMS, Kind, Wording

ELEMENTWISE: dict[Any, str] = {
    arrays.sqrt: "SQRT",
    arrays.sin: "SIN",
    arrays.cos: "COS",
    arrays.tan: "TAN",
    arrays.asin: "ASIN",
    arrays.acos: "ACOS",
    arrays.atan: "ATAN",
    arrays.exp: "EXP",
    arrays.log: "LN",
    arrays.floor: "INT",
    arrays.absolute: "ABS",
    abs: "ABS",
    int: "TRUNC",
}
"""Python function -> the worksheet function that does the same to each element of a range."""

OPERATORS: dict[type, tuple[str, Callable[[Any, Any], Any]]] = {
    ast.Add: ("+", operator.add),
    ast.Sub: ("-", operator.sub),
    ast.Mult: ("*", operator.mul),
    ast.Div: ("/", operator.truediv),
    ast.Pow: ("^", operator.pow),
    ast.Mod: ("MOD", operator.mod),
    ast.BitAnd: ("and", operator.and_),
    ast.BitOr: ("or", operator.or_),
    ast.Eq: ("=", operator.eq),
    ast.NotEq: ("<>", operator.ne),
    ast.Lt: ("<", operator.lt),
    ast.LtE: ("<=", operator.le),
    ast.Gt: (">", operator.gt),
    ast.GtE: (">=", operator.ge),
}

DIGITS = 10
"""Significant digits of a number in a text, as `Kind.show` writes it."""


class CannotSay(Exception):
    """What a worksheet formula cannot do; the text is the reason, to read after "it"."""


@dataclass(frozen=True)
class Zipped:
    """Several series walked side by side."""

    parts: tuple[Any, ...]


@dataclass(frozen=True)
class Rest:
    """A series without its first element."""

    whole: Term


@dataclass(frozen=True)
class First:
    """The first element of a series."""

    whole: Term


@dataclass(frozen=True)
class Counted:
    """A series of which it is not known before whether it has any element."""

    series: Term
    count: Term


@dataclass(frozen=True)
class Words:
    """A text in parts: plain texts, and terms that are texts."""

    parts: tuple[Any, ...]


@dataclass
class Scope:
    """Names of a piece of code, and the steps that come before its result: variables and refusals."""

    names: dict[str, Any]
    outer: dict[str, Any]
    steps: list[tuple[str, ...]] = field(default_factory=list)

    def inside(self) -> Scope:
        """Return a scope for code that is only done under a condition: same names, steps of its own."""
        return Scope(dict(self.names), self.outer)


class Expressions:
    """Turns expressions into terms; the statements around them are the translator's."""

    def __init__(self) -> None:
        """Start with no variable."""
        self.count = 0
        self.kinds: dict[str, Kind] = {}
        """kinds whose units a text names, by the variable that holds their factor"""

    def fresh(self, name: str) -> str:
        """Return a name for a variable that is not in use and does not read as a cell."""
        self.count += 1
        return f"{name.strip('_')}_{self.count}"

    def keep(self, value: Any, scope: Scope, name: str) -> Any:
        """Put a term into a variable, so that it can be repeated."""
        if not isinstance(value, Term) or value.atomic:
            return value
        variable = self.fresh(name)
        scope.steps.append(("let", variable, value.text))
        return Term(f"§{variable}", series=value.series, choices=value.choices)

    def inline(self, function: FunctionType, given: list[Any], named: dict[str, Any], scope: Scope) -> Any:
        """Put the code of one of our own functions in the place of its call."""
        raise NotImplementedError

    def evaluate(self, node: ast.expr, scope: Scope) -> Any:
        """Return a Python value where it is known now, else a term (or a group of terms)."""
        method = getattr(self, f"_{type(node).__name__.lower()}", None)
        if method is None:
            raise CannotSay(f"uses {type(node).__name__} ({ast.unparse(node)})")
        return method(node, scope)

    def term(self, node: ast.expr, scope: Scope) -> Term:
        """Return an expression as one term."""
        return as_term(self.evaluate(node, scope))

    def _constant(self, node: ast.Constant, scope: Scope) -> Any:
        return node.value

    def _name(self, node: ast.Name, scope: Scope) -> Any:
        for names in (scope.names, scope.outer, vars(builtins)):
            if node.id in names:
                return names[node.id]
        raise CannotSay(f"reads {node.id}, which is not known here")

    def _attribute(self, node: ast.Attribute, scope: Scope) -> Any:
        owner = self.evaluate(node.value, scope)
        if isinstance(owner, ModuleType):
            return getattr(owner, node.attr)
        raise CannotSay(f"takes a text or a value apart ({ast.unparse(node)})")

    def _tuple(self, node: ast.Tuple, scope: Scope) -> Any:
        return tuple(self.evaluate(element, scope) for element in node.elts)

    def _list(self, node: ast.List, scope: Scope) -> Any:
        parts: list[Any] = []
        for element in node.elts:
            if isinstance(element, ast.Starred):
                inner = self.evaluate(element.value, scope)
                parts += inner if isinstance(inner, (list, tuple)) else [inner]
            else:
                parts.append(self.evaluate(element, scope))
        return _stacked(parts)

    def _unaryop(self, node: ast.UnaryOp, scope: Scope) -> Any:
        value = self.evaluate(node.operand, scope)
        if not isinstance(value, Term):
            return not value if isinstance(node.op, ast.Not) else -value
        if isinstance(node.op, ast.USub):
            return negative(value)
        if isinstance(node.op, ast.Not):
            return call("NOT", value)
        raise CannotSay(f"uses {ast.unparse(node)}")

    def _binop(self, node: ast.BinOp, scope: Scope) -> Any:
        return self._operate(
            type(node.op), self.evaluate(node.left, scope), self.evaluate(node.right, scope), node
        )

    def _operate(self, kind: type, left: Any, right: Any, node: ast.AST) -> Any:
        if kind not in OPERATORS:
            raise CannotSay(f"uses {ast.unparse(node)}")
        symbol, plain = OPERATORS[kind]
        if not isinstance(left, Term) and not isinstance(right, Term):
            if isinstance(left, (int, float, str)) and isinstance(right, (int, float, str)):
                return plain(left, right)
            raise CannotSay(f"uses {ast.unparse(node)}")
        if symbol == "or":
            return binary(">", binary("+", as_term(left), as_term(right)), number(0))
        if symbol == "and":
            return binary("*", as_term(left), as_term(right))
        if symbol == "MOD":
            return call("MOD", as_term(left), as_term(right))
        return binary(symbol, as_term(left), as_term(right))

    def _boolop(self, node: ast.BoolOp, scope: Scope) -> Any:
        values = [self.evaluate(value, scope) for value in node.values]
        if not any(isinstance(value, Term) for value in values):
            return all(values) if isinstance(node.op, ast.And) else any(values)
        kind = ast.BitAnd if isinstance(node.op, ast.And) else ast.BitOr
        joined = values[0]
        for value in values[1:]:
            joined = self._operate(kind, joined, value, node)
        return joined

    def _compare(self, node: ast.Compare, scope: Scope) -> Any:
        left = self.evaluate(node.left, scope)
        tests: list[Any] = []
        for kind, comparator in zip(node.ops, node.comparators, strict=True):
            right = self.evaluate(comparator, scope)
            if isinstance(left, Term) and left == right and isinstance(kind, ast.Eq):
                tests.append(True)  # only a NaN differs from itself, and no cell holds one
            else:
                tests.append(self._operate(type(kind), left, right, node))
            left = right
        known = [test for test in tests if not isinstance(test, Term)]
        if not all(known):
            return False
        terms = [test for test in tests if isinstance(test, Term)]
        return every(terms) if terms else True

    def _ifexp(self, node: ast.IfExp, scope: Scope) -> Any:
        test = self.evaluate(node.test, scope)
        if not isinstance(test, Term):
            return self.evaluate(node.body if test else node.orelse, scope)
        return either(test, self.branch(node.body, scope), self.branch(node.orelse, scope))

    def branch(self, node: ast.expr, scope: Scope) -> Term:
        """Return an expression that is only computed under a condition, its own steps inside."""
        inner = scope.inside()
        return fold(inner.steps, self.term(node, inner))

    def _subscript(self, node: ast.Subscript, scope: Scope) -> Any:
        whole = self.evaluate(node.value, scope)
        if isinstance(node.slice, ast.Slice):
            lower = node.slice.lower
            if ast.unparse(node.slice) == "1:" and lower is not None:
                return _each(whole, Rest)
            raise CannotSay(f"takes a part of a list ({ast.unparse(node)})")
        place = self.evaluate(node.slice, scope)
        if isinstance(whole, (list, tuple, dict)) and not isinstance(place, Term):
            return whole[place]
        if isinstance(whole, dict) and isinstance(place, Term) and set(place.choices) <= set(whole):
            return _chosen(whole, place)
        if place == 0 and not isinstance(place, Term):
            return _each(whole, First)
        if isinstance(whole, Term) and whole.series and isinstance(place, Term):
            return call("INDEX", whole, binary("+", place, number(1)), series=False)
        raise CannotSay(f"takes an element of a list ({ast.unparse(node)})")

    def _listcomp(self, node: ast.ListComp, scope: Scope) -> Any:
        return self._walk(node, scope)

    def _generatorexp(self, node: ast.GeneratorExp, scope: Scope) -> Any:
        return self._walk(node, scope)

    def _walk(self, node: ast.ListComp | ast.GeneratorExp, scope: Scope) -> Any:
        if len(node.generators) != 1 or node.generators[0].ifs:
            raise CannotSay(f"chooses from a list ({ast.unparse(node)})")
        generator = node.generators[0]
        walked = self.evaluate(generator.iter, scope)
        inner = Scope(dict(scope.names), scope.outer, scope.steps)
        if isinstance(walked, (list, tuple, range)):
            found = []
            for element in walked:
                bind(generator.target, element, inner)
                found.append(self.evaluate(node.elt, inner))
            return found
        count = walked.count if isinstance(walked, Counted) else None
        bind(generator.target, walked.series if isinstance(walked, Counted) else walked, inner)
        element = self.evaluate(node.elt, inner)
        return Counted(as_term(element), count) if count is not None else element

    def _joinedstr(self, node: ast.JoinedStr, scope: Scope) -> Any:
        parts: list[Any] = []
        for piece in node.values:
            if isinstance(piece, ast.FormattedValue):
                if piece.format_spec is not None or piece.conversion != -1:
                    raise CannotSay(f"writes a number in a form of its own ({ast.unparse(node)})")
                value = self.evaluate(piece.value, scope)
                parts += value.parts if isinstance(value, Words) else [value]
            else:
                parts.append(self.evaluate(piece, scope))
        return Words(tuple(parts))

    def _call(self, node: ast.Call, scope: Scope) -> Any:
        called = self.evaluate(node.func, scope)
        module = getattr(called, "__module__", "")
        if called is sorted:
            raise CannotSay(f"sorts a list ({ast.unparse(node)})")
        if called is limits.require:
            return self._require(node, scope)
        if isinstance(called, FunctionType) and module == limits.__name__:
            named = {keyword.arg or "": self.evaluate(keyword.value, scope) for keyword in node.keywords}
            return self._limit(called, [self.evaluate(word, scope) for word in node.args], named, scope)
        given: list[Any] = []
        for word in node.args:
            given.append(self.evaluate(word, scope))
        named = {keyword.arg or "": self.evaluate(keyword.value, scope) for keyword in node.keywords}
        if called is Wording:
            return self._wording(given[0], named)
        if not named:
            found = self._known(called, given, scope)
            if found is not None:
                return found
        if isinstance(called, FunctionType) and module.startswith("pressfuncs.functions"):
            return self.inline(called, given, named, scope)
        name = getattr(called, "__name__", ast.unparse(node.func))
        raise CannotSay(f"calls {name}(), which no formula can do")

    def _known(self, called: Any, given: list[Any], scope: Scope) -> Any:
        """Return the call of a function of `arrays` or of Python's own; None if it is none of these."""
        if not _unknown_now(given) and called in (*ELEMENTWISE, arrays.minimum, arrays.maximum, range, math.prod):
            return called(*given)
        if called in ELEMENTWISE:
            return call(ELEMENTWISE[called], *map(as_term, given))
        if called is arrays.ceil:
            return negative(call("INT", negative(as_term(given[0]))))
        if called in (arrays.minimum, arrays.maximum):
            first, second = (self.keep(as_term(value), scope, "value") for value in given)
            return either(binary("<" if called is arrays.minimum else ">", first, second), first, second)
        if called is arrays.clip:
            inner = self._known(arrays.maximum, given[:2], scope)
            return self._known(arrays.minimum, [inner, given[2]], scope)
        if called is arrays.where:
            return either(*map(as_term, given))
        if called is sum:
            return _sum(given)
        if called is math.prod:
            return call("PRODUCT", as_term(given[0]), series=False)
        if called in (min, max):
            return call("MIN" if called is min else "MAX", *map(as_term, given), series=False)
        if called is len and isinstance(given[0], Term):
            return call("ROWS", given[0], series=False)
        if called in (list, tuple):
            return given[0]
        if called is zip:
            return Zipped(tuple(given))
        if called is range:
            return _counted(given)
        return None

    def _require(self, node: ast.Call, scope: Scope) -> None:
        """Refuse unless the condition holds; the sentence has no place in a cell."""
        self.refuse_unless(self.evaluate(node.args[0], scope), Impossible.cell, scope)

    def refuse_unless(self, condition: Any, error: str, scope: Scope) -> None:
        """Add a refusal to the steps."""
        if isinstance(condition, Term):
            holds = call("AND", condition, series=False) if condition.series else condition
            scope.steps.append(("check", holds.text, error))
        elif not condition:
            scope.steps.append(("check", "FALSE", error))

    def _limit(self, limit: FunctionType, given: list[Any], named: dict[str, Any], scope: Scope) -> None:
        """Refuse by a function of `limits`: its own test, on each argument in order."""
        if limit is limits.one_of:
            for value in named.values():
                self._one_of(tuple(given[0]), value, scope)
            return
        test, error = _test_of(limit)
        parameters = list(inspect.signature(limit).parameters.values())
        known = {p.name: p.default for p in parameters if p.default is not p.empty}
        known |= dict(zip((p.name for p in parameters), given, strict=False))
        known |= {name: named.pop(name) for name in [p.name for p in parameters[:-1]] if name in named}
        conditions: list[Term] = []
        for value in named.values():
            inner = Scope({**known, test.args.args[0].arg: value}, vars(limits))
            condition = self.evaluate(test.body, inner)
            if isinstance(condition, Term):
                conditions.append(call("AND", condition, series=False) if condition.series else condition)
            elif not condition:
                scope.steps.append(("check", "FALSE", error))
        if conditions:
            scope.steps.append(("check", every(conditions).text, error))

    def _one_of(self, choices: Sequence[str], value: Any, scope: Scope) -> None:
        if isinstance(value, Term):
            if not value.choices or not set(value.choices) <= set(choices):
                raise CannotSay("takes a text that is checked only later")
        elif value not in choices:
            scope.steps.append(("check", "FALSE", WrongChoice.cell))

    def _wording(self, rule: Any, numbers: dict[str, Any]) -> Words:
        """Return a sentence with quantities in the units asked for."""
        parts: list[Any] = []
        for part in rule.parts if isinstance(rule, Words) else (rule,):
            if not isinstance(part, str):
                parts.append(part)
                continue
            for before, name, _, _ in string.Formatter().parse(part):
                parts += [before] if before else []
                if name is not None:
                    value, kind = numbers[name]
                    parts.append(self._shown(as_term(value), kind))
        return Words(tuple(parts))

    def _shown(self, value: Term, kind: Kind) -> Term:
        """Write a quantity as `Kind.show` does: ten significant digits, and the unit."""
        shown = Term("§shown")
        size = call("LOG10", binary("+", call("ABS", shown), binary("=", shown, number(0))))
        rounded = call("ROUND", shown, binary("-", number(DIGITS - 1), call("INT", size)))
        unit = text(f" {kind.metric}" if kind.has_unit else "")
        if kind.metric != kind.inch:
            unit = either(Term("§inch"), text(f" {kind.inch}"), unit)
        value = binary("/", value, self.factor(kind)) if kind.has_unit else value
        return Term(f"LET(§shown,{value.text},{binary('&', rounded, unit).text})")

    def factor(self, kind: Kind) -> Term:
        """Return the variable that holds how many core units one shown unit is, or the plain factor."""
        metric, inch = (kind.factor(system) for system in SYSTEMS)
        if metric == inch:
            return number(metric)
        variable = f"k_{kind.name.replace(' ', '_')}"
        self.kinds[variable] = kind
        return Term(f"§{variable}")


def as_term(value: Any) -> Term:
    """Return a value as a term."""
    if isinstance(value, Term):
        return value
    if isinstance(value, Words):
        joined = [text(part) if isinstance(part, str) else part for part in value.parts]
        whole = joined[0]
        for part in joined[1:]:
            whole = binary("&", whole, part)
        return whole
    if isinstance(value, str):
        return text(value)
    if isinstance(value, (int, float)):
        return number(value)
    if isinstance(value, First):
        return call("INDEX", value.whole, number(1), series=False)
    if isinstance(value, Rest):
        return call("DROP", value.whole, number(1))
    raise CannotSay(f"needs {type(value).__name__} where a formula has one value")


def fold(steps: list[tuple[str, ...]], result: Term) -> Term:
    """Put the steps before a result: LET for variables, IF for refusals; what nobody reads is left out."""
    body, lets = result.text, ""
    used = body
    for kind, *step in reversed(steps):
        if kind == "let":
            name, value = step
            if f"§{name}" in used:
                lets = f"§{name},{value}," + lets
                used += value
            continue
        if lets:
            body, lets = f"LET({lets}{body})", ""
        condition, error = step
        body = (
            f"IF({condition},{body},{error})"
            if kind == "check"
            else f"IF(ISERROR({condition}),{condition},{body})"
        )
        used += condition
    if lets:
        body = f"LET({lets}{body})"
    return Term(body, result.rank if body == result.text else ATOM, result.series, result.choices)


def bind(target: ast.expr, value: Any, scope: Scope) -> None:
    """Give names to a value or to the parts of a group."""
    if isinstance(target, ast.Name):
        scope.names[target.id] = value
        return
    parts = value.parts if isinstance(value, Zipped) else value
    if not isinstance(target, ast.Tuple) or not isinstance(parts, (list, tuple)) or len(parts) != len(target.elts):
        raise CannotSay(f"takes a value apart ({ast.unparse(target)})")
    for one, part in zip(target.elts, parts, strict=True):
        bind(one, part, scope)


@lru_cache
def code_of(function: FunctionType) -> ast.FunctionDef:
    """Return the syntax tree of a function."""
    (node,) = ast.parse(textwrap.dedent(inspect.getsource(function))).body
    assert isinstance(node, ast.FunctionDef)
    return node


def _test_of(limit: FunctionType) -> tuple[ast.Lambda, str]:
    """Return the test that a function of `limits` holds each argument against, and the error it raises."""
    for node in ast.walk(code_of(limit)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "_check":
            test = node.args[1]
            assert isinstance(test, ast.Lambda)
            return test, OutOfRange.cell
    raise CannotSay(f"is limited by {limit.__name__}(), which no formula can say")


def _unknown_now(given: list[Any]) -> bool:
    return not all(isinstance(value, (int, float, str, list, tuple)) for value in given)


def _chosen(table: dict[str, Any], place: Term) -> Term:
    """Return the entry of a table by a text that is one of its keys."""
    *others, last = place.choices
    found = as_term(table[last])
    for choice in reversed(others):
        found = either(binary("=", place, text(choice)), as_term(table[choice]), found)
    return found


def _each(whole: Any, part: Callable[[Term], Any]) -> Any:
    if isinstance(whole, Zipped):
        return Zipped(tuple(_each(one, part) for one in whole.parts))
    if isinstance(whole, Term) and whole.series:
        return part(whole)
    raise CannotSay("takes a part of a list that is no range")


def _sum(given: list[Any]) -> Term:
    values, *start = given
    if isinstance(values, list):
        total = as_term(start[0]) if start else as_term(values[0])
        for value in values if start else values[1:]:
            total = binary("+", total, as_term(value))
        return total
    if isinstance(values, Rest) and start == [First(values.whole)]:
        return call("SUM", values.whole, series=False)
    total = call("SUM", as_term(values), series=False)
    return binary("+", as_term(start[0]), total) if start else total


def _counted(given: list[Any]) -> Counted:
    """Return range(a, b) with ends that are not known now."""
    start, stop = (0, given[0]) if len(given) == 1 else given[:2]
    if len(given) > 2 or isinstance(start, Term):
        raise CannotSay("counts in steps")
    count = binary("-", as_term(stop), number(start)) if start else as_term(stop)
    return Counted(Term(f"SEQUENCE({count.text},1,{start})", series=True), count)


def _stacked(parts: list[Any]) -> Any:
    """Return a list: of Python values as it is; with series in it as one series."""
    if not any(isinstance(p, (Counted, Zipped, Rest)) or (isinstance(p, Term) and p.series) for p in parts):
        return parts
    if any(isinstance(part, Zipped) for part in parts):
        rows = [part.parts if isinstance(part, Zipped) else part for part in parts]
        return Zipped(tuple(_stacked(list(column)) for column in zip(*rows, strict=True)))
    counted = [part for part in parts if isinstance(part, Counted)]
    if not counted:
        return call("VSTACK", *map(as_term, parts), series=True)
    if len(counted) > 1:
        raise CannotSay("puts several lists together")
    all_of_it = [part.series if isinstance(part, Counted) else as_term(part) for part in parts]
    rest = [as_term(part) for part in parts if not isinstance(part, Counted)]
    is_there = binary(">", counted[0].count, number(0))
    return either(is_there, call("VSTACK", *all_of_it, series=True), call("VSTACK", *rest, series=True))
