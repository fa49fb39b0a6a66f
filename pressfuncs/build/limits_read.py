"""What a function refuses, read from the calls to `positive`, `within` and so on in its syntax tree.

The calls are followed into the private helpers of its module and into other functions of the library, as far as
an argument is handed on as it is.
"""

from __future__ import annotations

import ast
import inspect
import re
import sys
import textwrap
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

from pressfuncs.quantities import SYSTEMS, Kind
from pressfuncs.registry import FUNCTIONS, FunctionSpec

WORDS = {
    "positive": "greater than 0",
    "not_negative": "0 or more",
    "finite": "any finite number",
    "share": "greater than 0, at most 1",
    "loss": "0 or more, less than 1",
}
BOUNDS = {"within": ("lower", "upper"), "whole": ("least",)}
"""Arguments of a limit that are no arguments of the function."""


def limits_of(spec: FunctionSpec) -> dict[str, list[str]]:
    """Return argument -> its limits in words; those without any are left out."""
    found: dict[str, list[str]] = {}
    for name, words in _limits(spec.call, {argument.name: argument.name for argument in spec.arguments}, spec):
        if name and words not in found.setdefault(name, []):
            found[name].append(words)
    return found


def refusals_of(spec: FunctionSpec) -> list[str]:
    """Return the sentences that refuse numbers which do not fit together, with `names` in the place of numbers."""
    names = {argument.name: argument.name for argument in spec.arguments}
    return list(dict.fromkeys(words for name, words in _limits(spec.call, names, spec) if not name))


@cache
def _body(call: Callable[..., Any]) -> ast.FunctionDef:
    (node,) = ast.parse(textwrap.dedent(inspect.getsource(call))).body
    assert isinstance(node, ast.FunctionDef)
    return node


def _limits(call: Callable[..., Any], names: dict[str, str], spec: FunctionSpec) -> Iterator[tuple[str, str]]:
    """Yield (argument, words) for each limit; ("", sentence) for each refusal of several together.

    `names` gives for each parameter of `call` the argument of the function that is handed to it.
    """
    known = vars(sys.modules[call.__module__])
    for node in _calls_in_order(_body(call)):
        assert isinstance(node.func, ast.Name)
        limit = node.func.id
        if limit == "require":
            yield "", _sentence(_value(node.args[1], known))
        elif limit in WORDS or limit in ("within", "whole"):
            for keyword in node.keywords:
                name = names.get(_name(keyword.value)) or names.get(keyword.arg or "")
                if keyword.arg not in BOUNDS.get(limit, ()) and name:
                    yield name, _words(limit, node, known, spec.kinds[name])
        elif limit.startswith("_") or limit in FUNCTIONS:
            called = known.get(limit)
            if inspect.isfunction(called) and called.__module__.startswith("pressfuncs.functions"):
                yield from _limits(called, _handed_on(called, node, names), spec)


def _calls_in_order(body: ast.FunctionDef) -> Iterator[ast.Call]:
    calls = [n for n in ast.walk(body) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)]
    decorators = {id(n) for mark in body.decorator_list for n in ast.walk(mark)}
    yield from sorted((n for n in calls if id(n) not in decorators), key=lambda n: (n.lineno, n.col_offset))


def _handed_on(called: Callable[..., Any], node: ast.Call, names: dict[str, str]) -> dict[str, str]:
    given = dict(zip(inspect.signature(called).parameters, node.args, strict=False))
    given |= {keyword.arg or "": keyword.value for keyword in node.keywords}
    return {parameter: names[_name(value)] for parameter, value in given.items() if _name(value) in names}


def _name(node: ast.expr) -> str:
    return node.id if isinstance(node, ast.Name) else ""


def _words(limit: str, node: ast.Call, known: dict[str, Any], kind: Kind) -> str:
    given = {k.arg: k.value for k in node.keywords}
    if limit == "whole":
        bound = given.get("least") or next(iter(node.args), None)
        return f"whole number, {_value(bound, known) if bound else 1:g} or more"
    if limit == "within":
        lower, upper = (float(_value(one, known)) for one in node.args or [given["lower"], given["upper"]])
        shown = dict.fromkeys(f"{kind.show(lower, s)} to {kind.show(upper, s)}" for s in SYSTEMS)
        return f"from {' or '.join(shown)}"
    return WORDS[limit]


def _value(node: ast.expr, known: dict[str, Any]) -> Any:
    """Return what an expression of the library's own code comes to, from the names of its module."""
    return eval(compile(ast.Expression(node), "limit", "eval"), dict(known))


def _sentence(rule: str) -> str:
    """Put `names` in the place of numbers: "rod {rod} is not ..." becomes "`rod` is not ..."."""

    def replace(match: re.Match[str]) -> str:
        words, name = match[1].split(), match[2]
        repeated = next((n for n in range(len(words), 0, -1) if "_".join(words[-n:]) == name), 0)
        return " ".join([*words[: len(words) - repeated], f"`{name}`"])

    return re.sub(r"((?:\w+ ){0,3})\{(\w+)\}", replace, rule)
