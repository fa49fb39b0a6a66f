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
from pressfuncs.build.formula import Term, binary, call, either, every, negated, negative, number, text
from pressfuncs.build.pieces import (
    CannotSay,
    Choice,
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
    total,
    truth,
    unknown_now,
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


METHODS = {"lower": "LOWER", "replace": "SUBSTITUTE"}
"""Method of a text -> the worksheet function that does the same."""


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
        if isinstance(owner, (ModuleType, str, dict)) or hasattr(owner, "_fields"):
            return getattr(owner, node.attr)
        if isinstance(owner, Term) and node.attr in METHODS:
            return partial(_text_method, METHODS[node.attr], owner)
        if isinstance(owner, Guarded) and node.attr == "items":
            return partial(Guarded, tuple((guard, None, (key, value)) for guard, key, value in owner.entries))
        raise CannotSay(f"takes a text or a value apart ({ast.unparse(node)})")

    def _tuple(self, node: ast.Tuple, scope: Scope) -> Any:
        return tuple(self._elements(node, scope))

    def _list(self, node: ast.List, scope: Scope) -> Any:
        return stacked(self._elements(node, scope))

    def _elements(self, node: ast.Tuple | ast.List, scope: Scope) -> list[Any]:
        parts: list[Any] = []
        for element in node.elts:
            if isinstance(element, ast.Starred):
                inner = self.evaluate(element.value, scope)
                parts += inner if isinstance(inner, (list, tuple)) else [inner]
            else:
                parts.append(self.evaluate(element, scope))
        return parts

    def _namedexpr(self, node: ast.NamedExpr, scope: Scope) -> Any:
        scope.names[node.target.id] = value = self.keep(self.evaluate(node.value, scope), scope, node.target.id)
        return value

    def _unaryop(self, node: ast.UnaryOp, scope: Scope) -> Any:
        value = self.evaluate(node.operand, scope)
        if isinstance(node.op, ast.Not):
            value = truth(value)
        if not isinstance(value, Term):
            return not value if isinstance(node.op, ast.Not) else -value
        if isinstance(node.op, ast.USub):
            return negative(value)
        if isinstance(node.op, ast.Not):
            return negated(value)
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
        decided = isinstance(node.op, ast.Or)  # a value known now that settles it all
        known = [truth(value) for value in values if not isinstance(value, Term)]
        if decided in known:
            return decided
        joined, *others = [value for value in values if isinstance(value, Term)]
        for value in others:
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
        then, otherwise = self._text(node.body, scope), self._text(node.orelse, scope)
        if then is not None and otherwise is not None:
            return Words((Choice(test, then, otherwise),))
        return either(test, self.branch(node.body, scope), self.branch(node.orelse, scope))

    def _text(self, node: ast.expr, scope: Scope) -> Any:
        """Return a text in parts that may have places for quantities left, None if it is something else."""
        inner = scope.inside()
        value = self.evaluate(node, inner)
        return value if isinstance(value, (str, Words)) and not inner.steps else None

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
        inner = Scope(dict(scope.names), scope.outer, scope.steps, scope.kept)
        if isinstance(walked, (list, tuple, range, Guarded)):
            found = self._entries(node, walked, inner)
            named = [part.target.id for part in ast.walk(node) if isinstance(part, ast.NamedExpr)]
            scope.names |= {name: inner.names[name] for name in named if name in inner.names}
            return found
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
        for guard, key, value in walked.entries if guarded else ((True, None, value) for value in walked):
            bind(generator.target, value if key is None else key, scope)
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


def _text_method(name: str, owner: Term, *given: Any) -> Term:
    return call(name, owner, *map(as_term, given))


def _membership(kind: ast.cmpop, left: Any, right: Any, node: ast.AST) -> Any:
    """Return `x is None` for an argument that may stay blank, and `x in group` for a table, list or choices."""
    denied = isinstance(kind, (ast.IsNot, ast.NotIn))
    found: Any = None
    if right is None:
        if isinstance(left, Term):
            return binary("<>" if denied else "=", left, text(""))
        found = left is None
    elif isinstance(right, Guarded) and not isinstance(left, Term):
        found = next((guard for guard, key, one in right.entries if left == (one if key is None else key)), False)
    elif isinstance(right, (tuple, list)) and not unknown_now([left, *right]):
        found = left in right
    elif isinstance(right, (tuple, list)) and isinstance(left, Term) and not unknown_now([*right]):
        same = [binary("=", left, as_term(one)) for one in right]
        found = binary(">", total([same]), number(0)) if len(same) > 1 else same[0]
    if isinstance(found, Term):
        return negated(found) if denied else found
    if found is not None:
        return found is not denied
    raise CannotSay(f"asks {ast.unparse(node)}")
