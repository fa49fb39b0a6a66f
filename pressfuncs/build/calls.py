"""Calls in the functions' own Python code, of our refusals, of `arrays` and of Python, as pieces of formulas."""

from __future__ import annotations

import ast
import inspect
import math
import string
from abc import ABC, abstractmethod
from collections.abc import Sequence
from functools import partial
from types import BuiltinMethodType, FunctionType
from typing import Any

from pressfuncs import arrays, limits
from pressfuncs.build.formula import Term, binary, call, either, every, negative, number, text
from pressfuncs.build.pieces import (
    CannotSay,
    Choice,
    Guarded,
    Joined,
    Scope,
    Words,
    Zipped,
    as_term,
    counted,
    settled,
    test_of,
    total,
    unknown_now,
)
from pressfuncs.errors import Impossible, WrongChoice
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

ROUNDINGS = {"up": "ROUNDUP", "down": "ROUNDDOWN"}
"""How a sentence rounds its quantities: variable that does it -> worksheet function."""

NOISELESS, SHOWN = 10, 6
"""Significant digits to which a quantity in a sentence is free of noise, and which it shows."""


def rounding(name: str) -> str:
    """Return the formula that writes a number as sentences do: six digits, an exponent where it is far from 1.

    The exponent is put together from its sign and digits, since the codes of TEXT differ by country.
    """
    place = "INT(LOG10(ABS({0})+({0}=0)))"
    rounded = f"{ROUNDINGS[name]}(ROUND(§number,{NOISELESS - 1}-§place),{SHOWN - 1}-§place)"
    power = 'ROUND(§rounded/10^§power,5)&"e"&IF(§power<0,"-","+")&TEXT(ABS(§power),"00")'
    lets = f"§place,{place.format('§number')},§rounded,{rounded},§power,{place.format('§rounded')}"
    return f'LAMBDA(§number,LET({lets},IF((§power>={SHOWN})+(§power<-4),{power},§rounded&"")))'


class Calls(ABC):
    """Turns calls into terms; how their arguments are evaluated stands in `Expressions`."""

    def __init__(self) -> None:
        """Start with no variable."""
        self.count = 0
        self.loops = False
        """whether there is something in it that Excel does for one set of numbers at a time"""
        self.roundings: set[str] = set()
        """ways in which its sentences round"""
        self.kinds: dict[str, Kind] = {}
        """kinds whose numbers are scaled, by the variable that holds the factor"""
        self.units: dict[str, Kind] = {}
        """kinds whose units a text names, by the variable that holds the unit"""

    @abstractmethod
    def evaluate(self, node: ast.expr, scope: Scope) -> Any:
        """Return a Python value where it is known now, else a term (or a group of terms)."""

    @abstractmethod
    def inline(self, function: FunctionType, given: list[Any], named: dict[str, Any], scope: Scope) -> Any:
        """Put the code of one of our own functions in the place of its call."""

    def fresh(self, name: str) -> str:
        """Return a name for a variable that is not in use and does not read as a cell."""
        self.count += 1
        return f"{name.strip('_')}_{self.count}"

    def keep(self, value: Any, scope: Scope, name: str) -> Any:
        """Put a term into a variable, so that it can be repeated."""
        if isinstance(value, Words) and settled(value):
            value = as_term(value)
        if not isinstance(value, Term) or value.atomic:
            return value
        variable = scope.kept.get(value.text)
        if variable is None:
            variable = scope.kept[value.text] = self.fresh(name)
            scope.steps.append(("let", variable, value.text))
        return Term(f"§{variable}", series=value.series, choices=value.choices)

    def _call(self, node: ast.Call, scope: Scope) -> Any:
        called = self.evaluate(node.func, scope)
        module = getattr(called, "__module__", "")
        if called is sorted:
            raise CannotSay(f"sorts a list ({ast.unparse(node)})")
        if called is limits.require:
            return self._require(node, scope)
        named = self._named(node, scope)
        if isinstance(called, FunctionType) and module == limits.__name__:
            return self._limit(called, [self.evaluate(word, scope) for word in node.args], named, scope)
        given: list[Any] = []
        for word in node.args:
            given.append(self.evaluate(word, scope))
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

    def _named(self, node: ast.Call, scope: Scope) -> dict[str, Any]:
        """Return the arguments that are given by name; those of a table with conditions as well."""
        named: dict[str, Any] = {}
        for keyword in node.keywords:
            value = self.evaluate(keyword.value, scope)
            if keyword.arg is not None:
                named[keyword.arg] = value
            elif isinstance(value, Guarded):
                named |= {key: one for _, key, one in value.entries}
            else:
                raise CannotSay(f"hands a table on ({ast.unparse(node)})")
        return named

    def _known(self, called: Any, given: list[Any], scope: Scope) -> Any:
        """Return the call of a function of `arrays` or of Python's own; None if it is none of these."""
        if not unknown_now(given) and called in (*ELEMENTWISE, arrays.minimum, arrays.maximum, range, math.prod):
            return called(*given)
        if isinstance(called, partial):  # a method of a text, or of a table with conditions
            return called(*given)
        if isinstance(called, BuiltinMethodType) and isinstance(called.__self__, (str, dict)):
            return self._method(called, given)
        if called is len and isinstance(given[0], Guarded):
            return given[0].size
        if called in (len, zip) and all(isinstance(value, (list, tuple, dict)) for value in given):
            return len(given[0]) if called is len else list(zip(*given, strict=False))
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
            return total(given)
        if called is math.prod:
            return call("PRODUCT", as_term(given[0]), series=False)
        if called in (min, max):
            return call("MIN" if called is min else "MAX", *map(as_term, given), series=False)
        if called is len and isinstance(given[0], Term):
            return call("ROWS", given[0], series=False)
        if called is dict and isinstance(given[0], list):
            return dict(given[0])
        if called in (list, tuple):
            return given[0]
        if called is zip:
            return Zipped(tuple(given))
        if called is range:
            return counted(given)
        return None

    def _method(self, called: BuiltinMethodType, given: list[Any]) -> Any:
        """Return what a method of a text or a table known now gives."""
        owner = called.__self__
        if called.__name__ == "join" and isinstance(owner, str) and isinstance(given[0], Guarded):
            return Words((Joined(owner, tuple((guard, value) for guard, _, value in given[0].entries)),))
        if called.__name__ == "items" and isinstance(owner, dict):
            return list(owner.items())
        if called.__name__ == "get" or (isinstance(owner, str) and not unknown_now(given)):
            return called(*given)
        raise CannotSay(f"calls {called.__name__}(), which no formula can do")

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
        test, error = test_of(limit)
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
            if isinstance(part, Joined):
                filled = [(guard, self._wording(one, numbers)) for guard, one in part.entries]
                parts.append(Joined(part.separator, tuple(filled)))
                continue
            if isinstance(part, Choice):
                then, otherwise = (self._wording(one, numbers) for one in (part.then, part.otherwise))
                parts.append(Choice(part.test, then, otherwise))
                continue
            if not isinstance(part, str):
                parts.append(part)
                continue
            for before, name, _, _ in string.Formatter().parse(part):
                parts += [before] if before else []
                if name is not None:
                    value, kind = numbers[name]
                    parts.append(self._shown(name, as_term(value), kind))
        return Words(tuple(parts))

    def _shown(self, name: str, value: Term, kind: Kind) -> Term:
        """Write a quantity as `Wording` does: six digits, rounded to the safe side, and the unit."""
        way = "down" if name.startswith("most") else "up"
        self.roundings.add(way)
        unit = text(f" {kind.metric}" if kind.has_unit else "")
        if kind.metric != kind.inch:
            unit = Term(f"§unit_{_variable(kind)}")
            self.units[unit.text] = kind
        value = binary("/", value, self.factor(kind)) if kind.has_unit else value
        return binary("&", Term(f"§{way}({value.text})"), unit)

    def factor(self, kind: Kind) -> Term:
        """Return the variable that holds how many core units one shown unit is, or the plain factor."""
        metric, inch = (kind.factor(system) for system in SYSTEMS)
        if metric == inch:
            return number(metric)
        for variable, other in self.kinds.items():
            if all(other.factor(system) == kind.factor(system) for system in SYSTEMS):
                return Term(f"§{variable}")
        variable = f"k_{_variable(kind)}"
        self.kinds[variable] = kind
        return Term(f"§{variable}")


def _variable(kind: Kind) -> str:
    return kind.name.replace(" ", "_")
