"""Expressions of the functions' own Python code as pieces of worksheet formulas."""

from __future__ import annotations

import ast
import builtins
import operator
from collections.abc import Callable
from functools import partial
from types import ModuleType
from typing import Any

from pressfuncs.build.calls import Calls
from pressfuncs.build.formula import Term, binary, call, either, every, negative, number, text
from pressfuncs.build.pieces import (
    CannotSay,
    Counted,
    First,
    Guarded,
    Rest,
    Scope,
    Words,
    as_term,
    bind,
    chosen,
    each,
    fold,
    stacked,
    truth,
)

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


class Expressions(Calls):
    """Turns expressions into terms; the statements around them are the translator's."""

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
        if isinstance(owner, (ModuleType, str, dict)):
            return getattr(owner, node.attr)
        if isinstance(owner, Guarded) and node.attr == "items":
            return partial(Guarded, tuple((guard, None, (key, value)) for guard, key, value in owner.entries))
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
        return stacked(parts)

    def _unaryop(self, node: ast.UnaryOp, scope: Scope) -> Any:
        value = self.evaluate(node.operand, scope)
        if isinstance(node.op, ast.Not):
            value = truth(value)
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
            if isinstance(kind, (ast.Is, ast.IsNot, ast.In, ast.NotIn)):
                tests.append(_membership(kind, left, right, node))
            elif isinstance(left, Term) and left == right and isinstance(kind, ast.Eq):
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
        test = truth(self.evaluate(node.test, scope))
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
                return each(whole, Rest)
            raise CannotSay(f"takes a part of a list ({ast.unparse(node)})")
        place = self.evaluate(node.slice, scope)
        if isinstance(whole, Guarded):
            return next(value for _, key, value in whole.entries if key == place)
        if isinstance(whole, (list, tuple, dict)) and not isinstance(place, Term):
            return whole[place]
        if isinstance(whole, dict) and isinstance(place, Term) and set(place.choices) <= set(whole):
            return chosen(whole, place)
        if place == 0 and not isinstance(place, Term):
            return each(whole, First)
        if isinstance(whole, Term) and whole.series and isinstance(place, Term):
            return call("INDEX", whole, binary("+", place, number(1)), series=False)
        raise CannotSay(f"takes an element of a list ({ast.unparse(node)})")

    def _listcomp(self, node: ast.ListComp, scope: Scope) -> Any:
        return self._walk(node, scope)

    def _generatorexp(self, node: ast.GeneratorExp, scope: Scope) -> Any:
        return self._walk(node, scope)

    def _dictcomp(self, node: ast.DictComp, scope: Scope) -> Any:
        pair = ast.Tuple([node.key, node.value], ast.Load())
        found = self._walk(ast.ListComp(pair, node.generators), scope)
        entries = found.entries if isinstance(found, Guarded) else [(True, None, pair) for pair in found]
        return Guarded(tuple((guard, key, value) for guard, _, (key, value) in entries))

    def _walk(self, node: ast.ListComp | ast.GeneratorExp, scope: Scope) -> Any:
        if len(node.generators) != 1:
            raise CannotSay(f"walks through two lists ({ast.unparse(node)})")
        generator = node.generators[0]
        walked = self.evaluate(generator.iter, scope)
        inner = Scope(dict(scope.names), scope.outer, scope.steps)
        if isinstance(walked, (list, tuple, range, Guarded)):
            return self._entries(node, walked, inner)
        if generator.ifs:
            raise CannotSay(f"chooses from a list ({ast.unparse(node)})")
        count = walked.count if isinstance(walked, Counted) else None
        bind(generator.target, walked.series if isinstance(walked, Counted) else walked, inner)
        element = self.evaluate(node.elt, inner)
        return Counted(as_term(element), count) if count is not None else element

    def _entries(self, node: ast.ListComp | ast.GeneratorExp, walked: Any, scope: Scope) -> Any:
        """Walk through entries that are known now; whether each is there may only be known later."""
        generator = node.generators[0]
        guarded = isinstance(walked, Guarded)
        found: list[tuple[Any, Any, Any]] = []
        for guard, _, value in walked.entries if guarded else ((True, None, value) for value in walked):
            bind(generator.target, value, scope)
            tests = [guard, *(truth(self.evaluate(test, scope)) for test in generator.ifs)]
            terms = [test for test in tests if isinstance(test, Term)]
            if all(test for test in tests if not isinstance(test, Term)):
                found.append((every(terms) if terms else True, None, self.evaluate(node.elt, scope)))
        if guarded or any(isinstance(guard, Term) for guard, _, _ in found):
            return Guarded(tuple(found))
        return [value for _, _, value in found]

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
        if all(isinstance(part, (str, int)) for part in parts):
            return "".join(map(str, parts))
        return Words(tuple(parts))


def _membership(kind: ast.cmpop, left: Any, right: Any, node: ast.AST) -> Any:
    """Return `x is None` for an argument that may stay blank, `text in (texts)` and `key in table`."""
    denied = isinstance(kind, (ast.IsNot, ast.NotIn))
    if right is None and isinstance(left, Term):
        return binary("<>" if denied else "=", left, text(""))
    if isinstance(left, Term) and isinstance(right, tuple) and all(isinstance(one, str) for one in right):
        one_of_them = call("OR", *(binary("=", left, text(one)) for one in right))
        return call("NOT", one_of_them) if denied else one_of_them
    if isinstance(right, Guarded) and isinstance(left, str):
        found = next((guard for guard, key, _ in right.entries if key == left), False)
        if isinstance(found, Term):
            return call("NOT", found) if denied else found
        return found is not denied
    raise CannotSay(f"asks {ast.unparse(node)}")
