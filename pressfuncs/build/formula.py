"""Pieces of worksheet formulas as text: numbers, operators, names of variables, and the form a file keeps.

Variables are marked with "§" and optional parameters with "§?" until `in_file` or `as_typed` writes them out.
"""

from __future__ import annotations

import math
import re
import string
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

COMPARE, JOIN, ADD, MULTIPLY, POWER, MINUS, ATOM = range(7)
"""How firmly an operator binds, weakest first; Excel's minus sign binds firmer than its power."""

_RANKS = {"=": COMPARE, "<>": COMPARE, "<": COMPARE, "<=": COMPARE, ">": COMPARE, ">=": COMPARE}
_RANKS |= {"&": JOIN, "+": ADD, "-": ADD, "*": MULTIPLY, "/": MULTIPLY, "^": POWER}

_FUTURE = {
    **dict.fromkeys(("LET", "LAMBDA", "ISOMITTED", "MAP", "REDUCE", "SEQUENCE", "HSTACK", "VSTACK"), "_xlfn."),
    **dict.fromkeys(("TOCOL", "DROP"), "_xlfn."),
    "FILTER": "_xlfn._xlws.",
}
"""Functions newer than the file format, and what a file writes before them."""

_WORDS = re.compile(r'("(?:[^"]|"")*")|§(\??)(\w+)|\b([A-Z]+)(?=\()')


@dataclass(frozen=True)
class Term:
    """A piece of a formula; `series` marks a column of values, `choices` a text that is one of them."""

    text: str
    rank: int = ATOM
    series: bool = False
    choices: tuple[str, ...] = ()

    @property
    def atomic(self) -> bool:
        """Whether it may be repeated without computing anything twice."""
        return self.rank >= MINUS and "(" not in self.text


def number(value: float) -> Term:
    """Write a number with the 15 digits that Excel keeps; parts of pi by name, so that none is lost.

    >>> number(25.4).text, number(1e-9).text, number(math.pi / 180).text
    ('25.4', '1E-09', 'PI()*1/180')
    """
    if isinstance(value, bool):
        return Term("TRUE" if value else "FALSE")
    written = format(value, ".15g")
    if float(written) != value:
        part = Fraction(value / math.pi).limit_denominator(360)
        for given in (math.pi * part.numerator / part.denominator, part.numerator / part.denominator * math.pi):
            if given == value and part.numerator:
                tail = f"*{part.numerator}/{part.denominator}" if part.denominator > 1 else f"*{part.numerator}"
                return Term("PI()" if part == 1 else f"PI(){tail}", ATOM if part == 1 else MULTIPLY)
    return Term(written.upper(), ATOM if value >= 0 else MINUS)


def text(value: str) -> Term:
    """Write a text; a line break by its code, since a file may change it."""
    if value == "\n":
        return Term("CHAR(10)")
    return Term('"' + value.replace('"', '""') + '"')


def binary(operator: str, left: Term, right: Term) -> Term:
    """Join two terms by an operator, in the order of computing that the code has."""
    rank = _RANKS[operator]
    first = (
        left.text
        if left.rank > rank or (left.rank == rank and rank in (ADD, MULTIPLY, JOIN))
        else f"({left.text})"
    )
    bare = (right.rank > rank and not right.text.startswith("-")) or (rank == right.rank == JOIN)
    second = right.text if bare else f"({right.text})"
    return Term(f"{first}{operator}{second}", rank, left.series or right.series)


def negative(term: Term) -> Term:
    """Turn the sign of a term."""
    body = term.text if term.rank == ATOM and not term.text.startswith("-") else f"({term.text})"
    return Term(f"-{body}", MINUS, term.series)


def call(name: str, *terms: Term, series: bool | None = None) -> Term:
    """Call a worksheet function; its result is a series if an argument is one, unless said otherwise."""
    is_series = any(term.series for term in terms) if series is None else series
    return Term(f"{name}({','.join(term.text for term in terms)})", ATOM, is_series)


def negated(condition: Term) -> Term:
    """Turn a condition round."""
    unequal = re.fullmatch(r'(§\w+)<>(§\w+|"[^"]*")', condition.text)
    return binary("=", Term(unequal[1]), Term(unequal[2])) if unequal else call("NOT", condition)


def either(condition: Term, then: Term, otherwise: Term) -> Term:
    """Choose one of two terms, element by element."""
    return call("IF", condition, then, otherwise)


def every(terms: list[Term]) -> Term:
    """All conditions at once, element by element (AND would make one of a whole range)."""
    less = {found[1] for term in terms if (found := re.fullmatch(r"(§\w+)<[0-9]+", term.text))}
    # a text is never less than a number: what is less than one is not blank
    joined, *others = [term for term in terms if term.text not in {f'{name}<>""' for name in less}]
    for term in others:
        joined = binary("*", joined, term)
    return joined


def uses(body: str, name: str) -> bool:
    """Whether a formula reads a variable."""
    return re.search(rf"§{name}\b", body) is not None


def shortened(body: str, kept: set[str]) -> str:
    """Give every variable but the kept ones a short name, for a formula that would be too long."""
    names = [name for name, _ in Counter(re.findall(r"§\??(\w+)", body)).most_common() if name not in kept]
    letters = string.ascii_lowercase
    # R and C are a row and a column, N and T are functions, as many a word of two letters
    free = [*(letter for letter in letters if letter not in "rcnt"), *(f"{letter}_" for letter in letters)]
    free += [f"{first}{second}_" for first in letters for second in letters]
    short = dict(zip(names, (name for name in free if name not in kept)))
    return re.sub(r"§(\w+)", lambda match: f"§{short.get(match[1], match[1])}", body)


def in_file(body: str) -> str:
    """Return a formula as a file keeps it: marks before variables and before new functions.

    >>> in_file('LAMBDA(§x,§?y,IF(ISOMITTED(§y),"a(b",§x))')
    '_xlfn.LAMBDA(_xlpm.x,_xlop.y,IF(_xlfn.ISOMITTED(_xlpm.y),"a(b",_xlpm.x))'
    """
    return _written(
        body,
        lambda name, optional: f"_xlop.{name}" if optional else f"_xlpm.{name}",
        lambda name: _FUTURE.get(name, ""),
    )


def as_typed(body: str) -> str:
    """Return a formula as it is typed into the name manager, and shown there.

    >>> as_typed('LAMBDA(§x,§?y,IF(ISOMITTED(§y),"a(b",§x))')
    'LAMBDA(x,[y],IF(ISOMITTED(y),"a(b",x))'
    """
    return _written(body, lambda name, optional: f"[{name}]" if optional else name, lambda name: "")


def _written(body: str, variable: Callable[[str, bool], str], prefix: Callable[[str], str]) -> str:
    def write(match: re.Match[str]) -> str:
        literal, optional, name, function = match.groups()
        if literal is not None:
            return str(literal)
        if name is not None:
            return variable(name, bool(optional))
        return prefix(function) + str(function)

    return _WORDS.sub(write, body)


def depth(body: str) -> int:
    """Return how many levels of brackets a formula has at most."""
    level = deepest = 0
    for match in re.finditer(r'"(?:[^"]|"")*"|[()]', body):
        level += {"(": 1, ")": -1}.get(match[0], 0)
        deepest = max(deepest, level)
    return deepest
