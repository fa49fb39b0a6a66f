"""What expressions of Python code become on their way into a formula: groups of terms, and steps before a result.

What a formula cannot do raises `CannotSay` with the reason; nothing is guessed and nothing is left out.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from types import FunctionType
from typing import Any

from pressfuncs.build.formula import ATOM, Term, binary, call, either, number, text
from pressfuncs.errors import OutOfRange

LONGEST_TEXT = 32767
"""Characters that a cell holds."""


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
class Guarded:
    """A list or a table of which each entry is there only under a condition: (condition, key, value)."""

    entries: tuple[tuple[Any, Any, Any], ...]

    @property
    def size(self) -> Term:
        """How many entries are there."""
        guards = [as_term(guard) for guard, _, _ in self.entries]
        counted = binary("*", guards[0], number(1))
        for guard in guards[1:]:
            counted = binary("+", counted, guard)
        return counted


@dataclass(frozen=True)
class Joined:
    """Texts put together with a separator, each of them under a condition."""

    separator: str
    entries: tuple[tuple[Any, Any], ...]


@dataclass(frozen=True)
class Choice:
    """One of two texts, by a condition."""

    test: Term
    then: Any
    otherwise: Any


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
    kept: dict[str, str] = field(default_factory=dict)
    """formula -> variable that already holds it"""

    def inside(self) -> Scope:
        """Return a scope for code that is only done under a condition: same names, steps of its own."""
        return Scope(dict(self.names), self.outer, kept=dict(self.kept))


def as_term(value: Any) -> Term:
    """Return a value as a term."""
    if isinstance(value, Term):
        return value
    if isinstance(value, Joined):
        # each text with its separator before it, the first separator cut off: TEXTJOIN would join a whole range
        whole = text("")
        for guard, one in value.entries:
            preceded = Words((value.separator, *(one.parts if isinstance(one, Words) else (one,))))
            part = either(as_term(guard), as_term(preceded), text(""))
            whole = part if whole == text("") else binary("&", whole, part)
        return (
            call("MID", whole, number(len(value.separator) + 1), number(LONGEST_TEXT))
            if value.separator
            else whole
        )
    if isinstance(value, Choice):
        return either(value.test, as_term(value.then), as_term(value.otherwise))
    if isinstance(value, Words):
        parts: list[Any] = []
        for part in value.parts:  # plain texts side by side become one
            if isinstance(part, str) and parts and isinstance(parts[-1], str):
                parts[-1] += part
            else:
                parts.append(part)
        joined = [as_term(part) for part in parts]
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


def settled(value: Any) -> bool:
    """Whether a text has no place for a quantity left in it, so that it may become a term."""
    if isinstance(value, Words):
        return all(map(settled, value.parts))
    if isinstance(value, Joined):
        return all(settled(one) for _, one in value.entries)
    if isinstance(value, Choice):
        return settled(value.then) and settled(value.otherwise)
    return isinstance(value, Term) or (isinstance(value, (str, int)) and "{" not in str(value))


def truth(value: Any) -> Any:
    """Return whether a value counts as true: known now, or as a term."""
    if isinstance(value, Guarded):
        return binary(">", value.size, number(0))
    return value if isinstance(value, Term) else bool(value)


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


def test_of(limit: FunctionType) -> tuple[ast.Lambda, str]:
    """Return the test that a function of `limits` holds each argument against, and the error it raises."""
    for node in ast.walk(code_of(limit)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "_check":
            test = node.args[1]
            assert isinstance(test, ast.Lambda)
            return test, OutOfRange.cell
    raise CannotSay(f"is limited by {limit.__name__}(), which no formula can say")


def unknown_now(given: list[Any]) -> bool:
    """Return whether a formula is needed to tell what any of the values is."""
    return not all(isinstance(value, (int, float, str, list, tuple)) for value in given)


def chosen(table: dict[str, Any], place: Term) -> Term:
    """Return the entry of a table by a text that is one of its keys."""
    *others, last = place.choices
    found = as_term(table[last])
    for choice in reversed(others):
        found = either(binary("=", place, text(choice)), as_term(table[choice]), found)
    return found


def each(whole: Any, part: Callable[[Term], Any]) -> Any:
    """Take a part of a series, or of every series that is walked beside it."""
    if isinstance(whole, Zipped):
        return Zipped(tuple(each(one, part) for one in whole.parts))
    if isinstance(whole, Term) and whole.series:
        return part(whole)
    raise CannotSay("takes a part of a list that is no range")


def total(given: list[Any]) -> Term:
    """Return sum(values) or sum(values, start)."""
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


def counted(given: list[Any]) -> Counted:
    """Return range(a, b) with ends that are not known now."""
    start, stop = (0, given[0]) if len(given) == 1 else given[:2]
    if len(given) > 2 or isinstance(start, Term):
        raise CannotSay("counts in steps")
    count = binary("-", as_term(stop), number(start)) if start else as_term(stop)
    return Counted(Term(f"SEQUENCE({count.text},1,{start})", series=True), count)


def stacked(parts: list[Any]) -> Any:
    """Return a list: of Python values as it is; with series in it as one series."""
    if not any(isinstance(p, (Counted, Zipped, Rest)) or (isinstance(p, Term) and p.series) for p in parts):
        return parts
    if any(isinstance(part, Zipped) for part in parts):
        rows = [part.parts if isinstance(part, Zipped) else part for part in parts]
        return Zipped(tuple(stacked(list(column)) for column in zip(*rows, strict=True)))
    counted = [part for part in parts if isinstance(part, Counted)]
    if not counted:
        return call("VSTACK", *map(as_term, parts), series=True)
    if len(counted) > 1:
        raise CannotSay("puts several lists together")
    all_of_it = [part.series if isinstance(part, Counted) else as_term(part) for part in parts]
    rest = [as_term(part) for part in parts if not isinstance(part, Counted)]
    is_there = binary(">", counted[0].count, number(0))
    return either(is_there, call("VSTACK", *all_of_it, series=True), call("VSTACK", *rest, series=True))
