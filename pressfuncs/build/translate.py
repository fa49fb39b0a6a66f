"""The functions' own Python code as worksheet formulas: statements, our helpers put in place, loops.

One source for both: the formula of a workbook name is read from the same lines that Python runs.
"""

from __future__ import annotations

import ast
import inspect
from collections.abc import Callable
from types import FunctionType
from typing import Any

from pressfuncs.build.expressions import Expressions
from pressfuncs.build.formula import Term, call, either, number
from pressfuncs.build.pieces import CannotSay, Counted, Scope, Zipped, as_term, bind, code_of, fold, truth
from pressfuncs.errors import Impossible, PressError, WrongChoice
from pressfuncs.limits import refuse_choice, require

FEW = 8
"""A loop over so many Python values is written out; a longer one becomes REDUCE."""


class Translator(Expressions):
    """Translates one library function; made anew for each."""

    def function(self, function: FunctionType, arguments: dict[str, Any], leaf: Callable[[Any], Term]) -> Term:
        """Return the body of a function with its arguments as terms; `leaf` turns a result into a term."""
        scope = Scope(dict(arguments), function.__globals__)
        return self.block(code_of(function).body, scope, leaf)

    def block(self, statements: list[ast.stmt], scope: Scope, leaf: Callable[[Any], Term]) -> Term:
        """Return statements that end in a result, refusals included, as one term."""
        for place, statement in enumerate(statements):
            rest = statements[place + 1 :]
            if isinstance(statement, ast.Return):
                if statement.value is None:
                    raise CannotSay("ends without a result")
                return fold(scope.steps, leaf(self.evaluate(statement.value, scope)))
            if isinstance(statement, ast.Raise):
                return fold(scope.steps, self._raised(statement, scope))
            if self._refuses_a_choice(statement, scope):
                return fold(scope.steps, Term(WrongChoice.cell))
            if isinstance(statement, ast.If):
                test = truth(self.evaluate(statement.test, scope))
                if not isinstance(test, Term):
                    chosen = statement.body if test else statement.orelse
                    return self.block([*chosen, *rest], scope, leaf)
                then = self.block([*statement.body, *rest], scope.inside(), leaf)
                otherwise = self.block([*statement.orelse, *rest], scope.inside(), leaf)
                return fold(scope.steps, either(test, then, otherwise))
            self.statement(statement, scope)
        raise CannotSay("has a way through it without a result")

    def _refuses_a_choice(self, statement: ast.stmt, scope: Scope) -> bool:
        return (
            isinstance(statement, ast.Expr)
            and isinstance(statement.value, ast.Call)
            and isinstance(statement.value.func, ast.Name)
            and self.evaluate(statement.value.func, scope) is refuse_choice
        )

    def _raised(self, statement: ast.Raise, scope: Scope) -> Term:
        node = statement.exc.func if isinstance(statement.exc, ast.Call) else statement.exc
        error = self.evaluate(node, scope) if node is not None else None
        if not (isinstance(error, type) and issubclass(error, PressError)):
            raise CannotSay("raises an error that is no refusal")
        return Term(error.cell)

    def statement(self, statement: ast.stmt, scope: Scope) -> None:
        """Do one statement that has no result: a variable, a refusal, a loop."""
        if isinstance(statement, ast.Expr):
            self.evaluate(statement.value, scope)
        elif isinstance(statement, ast.Assign) and len(statement.targets) == 1:
            self._assign(statement.targets[0], self.evaluate(statement.value, scope), scope)
        elif isinstance(statement, ast.AnnAssign) and statement.value is not None:
            self._assign(statement.target, self.evaluate(statement.value, scope), scope)
        elif isinstance(statement, ast.AugAssign):
            plain = ast.BinOp(ast.Name(ast.unparse(statement.target)), statement.op, statement.value)
            self._assign(statement.target, self.evaluate(plain, scope), scope)
        elif isinstance(statement, ast.For) and not statement.orelse:
            self._for(statement, scope)
        elif isinstance(statement, ast.While) and not statement.orelse:
            self._while(statement, scope)
        else:
            raise CannotSay(
                f"has a statement {type(statement).__name__} ({ast.unparse(statement).splitlines()[0]})"
            )

    def _assign(self, target: ast.expr, value: Any, scope: Scope) -> None:
        if isinstance(target, ast.Name):
            scope.names[target.id] = self.keep(value, scope, target.id)
            return
        if not isinstance(target, ast.Tuple) or not isinstance(value, (list, tuple)):
            raise CannotSay(f"gives a value to {ast.unparse(target)}")
        for one, part in zip(target.elts, value, strict=True):
            self._assign(one, part, scope)

    def _for(self, loop: ast.For, scope: Scope) -> None:
        walked = self.evaluate(loop.iter, scope)
        if isinstance(walked, (list, tuple)) or (isinstance(walked, range) and len(walked) <= FEW):
            for element in walked:
                bind(loop.target, element, scope)
                for statement in loop.body:
                    self.statement(statement, scope)
        elif isinstance(walked, range):
            bind(loop.target, Term("§turn"), scope)
            self._repeat(loop.body, number(len(walked)), None, scope)
        elif isinstance(walked, (Term, Zipped)) and not isinstance(walked, Counted) and _only_refuses(loop.body):
            bind(loop.target, walked, scope)
            for statement in loop.body:
                self.statement(statement, scope)
        else:
            raise CannotSay(f"walks through a list ({ast.unparse(loop).splitlines()[0]})")

    def _while(self, loop: ast.While, scope: Scope) -> None:
        """Repeat as often as the loop's own first refusal allows, and refuse what is not through by then."""
        first = loop.body[0]
        most = self._most_turns(first, scope)
        if most is None:
            raise CannotSay(f"repeats without a bound ({ast.unparse(loop).splitlines()[0]})")
        self._repeat(loop.body[1:], number(most), loop.test, scope)
        self.refuse_unless(self.evaluate(ast.UnaryOp(ast.Not(), loop.test), scope), Impossible.cell, scope)

    def _most_turns(self, first: ast.stmt, scope: Scope) -> int | None:
        """Return n of `require(turns < n, ...)` where turns starts at 0 before the loop."""
        if not (isinstance(first, ast.Expr) and isinstance(first.value, ast.Call)):
            return None
        if self.evaluate(first.value.func, scope) is not require:
            return None
        test = first.value.args[0]
        if not (
            isinstance(test, ast.Compare) and isinstance(test.ops[0], ast.Lt) and isinstance(test.left, ast.Name)
        ):
            return None
        most = self.evaluate(test.comparators[0], scope)
        starts_at_0 = scope.names.get(test.left.id) == 0 and not isinstance(scope.names[test.left.id], Term)
        return most if isinstance(most, int) and starts_at_0 else None

    def _repeat(self, body: list[ast.stmt], turns: Term, test: ast.expr | None, scope: Scope) -> None:
        """Do statements again and again with REDUCE; names that they change are its state, in a row."""
        changed = [name for name in _assigned(body) if name in scope.names]
        if not changed:
            raise CannotSay("repeats something that changes nothing")
        self.loops = True
        state = self.fresh("state")
        inner = scope.inside()
        for place, name in enumerate(changed, start=1):
            inner.names[name] = self.keep(call("INDEX", Term(f"§{state}"), number(place)), inner, name)
        done = self.evaluate(test, inner) if test is not None else None
        before = inner.steps
        inner.steps = []
        for statement in body:
            self.statement(statement, inner)
        if any(kind != "let" for kind, *_ in inner.steps):
            raise CannotSay("refuses in the middle of a loop")
        after = fold(inner.steps, _row([inner.names[name] for name in changed]))
        if done is not None:
            after = either(as_term(done), after, Term(f"§{state}"))
        step = fold(before, after)
        start = _row([scope.names[name] for name in changed])
        result = self.fresh("reached")
        scope.steps.append(
            ("let", result, f"REDUCE({start.text},SEQUENCE({turns.text}),LAMBDA(§{state},§turn,{step.text}))")
        )
        for place, name in enumerate(changed, start=1):
            scope.names[name] = self.keep(call("INDEX", Term(f"§{result}"), number(place)), scope, name)

    def inline(self, function: FunctionType, given: list[Any], named: dict[str, Any], scope: Scope) -> Any:
        """Put the code of one of our own functions in the place of its call."""
        bound = inspect.signature(function).bind(*given, **named)
        bound.apply_defaults()
        code = code_of(function)
        for name, value in list(bound.arguments.items()):
            bound.arguments[name] = self.keep(value, scope, name)
        if _straight(code.body):
            inner = Scope(dict(bound.arguments), function.__globals__, scope.steps, scope.kept)
            *statements, last = code.body
            for statement in statements:
                self.statement(statement, inner)
            if isinstance(last, ast.Return) and last.value is not None:
                return self.evaluate(last.value, inner)
            self.statement(last, inner)
            return None
        inner = Scope(dict(bound.arguments), function.__globals__)
        value = self.block(code.body, inner, as_term)
        kept = self.keep(value, scope, function.__name__)
        if "#" in value.text:  # a refusal inside goes before everything that would be computed from it
            name = kept.text
            scope.steps.append(("pass", f"SUM({name})" if value.series else name, ""))
        return kept


def _row(values: list[Any]) -> Term:
    return call("HSTACK", *map(as_term, values), series=False)


def _assigned(body: list[ast.stmt]) -> list[str]:
    """Return the names that statements give values to, in order."""
    names = [n.id for s in body for n in ast.walk(s) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)]
    return list(dict.fromkeys(names))


def _straight(body: list[ast.stmt]) -> bool:
    """Whether the code goes straight through, with at most one return, at its end."""
    return not any(
        isinstance(statement, (ast.If, ast.Return, ast.Raise)) for statement in body[:-1]
    ) and not isinstance(body[-1], (ast.If, ast.Raise))


def _only_refuses(body: list[ast.stmt]) -> bool:
    return all(isinstance(statement, ast.Expr) for statement in body)
