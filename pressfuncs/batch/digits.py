"""Fifteen digits: what spreadsheets do with the last bits of a number, for an engine that keeps them all.

Spreadsheets show, join and compare numbers by 15 significant digits: `0.1+0.2&""` is "0.3", `0.1+0.2=0.3` is
TRUE and `=0.1+0.2-0.3` is 0. `adapt` rewrites a formula so that an engine which computes with plain floats says
so too, with the help of the few functions in `HELPERS`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from pressfuncs.batch.formulas import NotUnderstood, Template, Token, call_end, function_name
from pressfuncs.batch.guards import CATCHING, CATCHING_TOO, GUARDS, REFUSED, date
from pressfuncs.batch.standins import STAND_INS
from pressfuncs.batch.tokens import XlToken

_COMPARISONS = ("=", "<>", "<", ">", "<=", ">=")
_SUMS = ("+", "-", "*", "/")
_MOST_REPEATED = 12  # tokens of a sum that is written three times

# The arguments that these functions take as texts: a number there is joined by 15 digits too.
_TEXTS: dict[str, Callable[[int], bool]] = {
    **dict.fromkeys(
        "LEN LENB LEFT LEFTB RIGHT RIGHTB MID MIDB TRIM CLEAN REPT CODE UNICODE".split(), lambda i: i == 0
    ),
    **dict.fromkeys(("FIND", "SEARCH", "EXACT"), lambda i: i < 2),
    "SUBSTITUTE": lambda i: i < 3,
    "REPLACE": lambda i: i in (0, 3),
    **dict.fromkeys(("CONCATENATE", "CONCAT"), lambda i: True),
    "TEXTJOIN": lambda i: i != 1,
}
_SHOWN, _ROUNDED, _DIFFERENCE = "PRESSFUNCS.SHOWN", "PRESSFUNCS.ROUNDED", "PRESSFUNCS.DIFFERENCE"
_NUMBERS, _NUMBER, _POWER, _SINCE_1900 = (
    f"PRESSFUNCS.{name}" for name in ("NUMBERS", "NUMBER", "POWER", "SINCE1900")
)
_INSTEAD = {
    name: f"PRESSFUNCS.{name.replace('.', '')}"
    for name in "CEILING CEILING.MATH FLOOR UPPER LOWER POWER MOD TIME DAYS REPLACE VALUE".split()
}

_GIVE_TEXT_INSTEAD = frozenset(("PRESSFUNCS.UPPER(", "PRESSFUNCS.LOWER(", "PRESSFUNCS.REPLACE("))
_COMMA = Token(XlToken.SEP, XlToken.ARG, ",")
_TO_THE = Token(XlToken.OP_IN, "", "^")
Parts = list[tuple[tuple[Token, ...], tuple[Token, ...]]]

# The arguments that are handed on through a guard, by function.
_DATES = ("PRESSFUNCS.DATE", "PRESSFUNCS.PLAIN")
_GUARDED: dict[str, Callable[[int], str]] = {
    **dict.fromkeys(("EDATE", "EOMONTH", "WORKDAY"), lambda i: _DATES[i] if i < 2 else ""),
    **dict.fromkeys(("DAYS360", "YEARFRAC", "NETWORKDAYS"), lambda i: _DATES[0] if i < 2 else ""),
    **dict.fromkeys(("ISOWEEKNUM", "WEEKNUM", "WEEKDAY"), lambda i: _DATES[0] if i == 0 else _DATES[1]),
    **dict.fromkeys(
        "MROUND QUOTIENT ISEVEN ISODD FACTDOUBLE SQRTPI ERF ERFC ERF.PRECISE ERFC.PRECISE DELTA GESTEP".split(),
        lambda i: "PRESSFUNCS.PLAIN",
    ),
    **dict.fromkeys(("SIN", "COS", "TAN"), lambda i: "PRESSFUNCS.ANGLE"),
    **dict.fromkeys(("LEFT", "RIGHT", "REPT", "SMALL"), lambda i: "PRESSFUNCS.COUNTED" if i == 1 else ""),
    "LARGE": lambda i: "PRESSFUNCS.PLACE" if i == 1 else "",
    "MID": lambda i: "PRESSFUNCS.COUNTED" if i else "",
}
# What is done to the result of a function.
_RESULTS = {"DATE": _SINCE_1900, **dict.fromkeys(("PV", "FV", "PMT", "NPER"), "PRESSFUNCS.FINITE")}
# Functions that give a text: in arithmetic it is read as a number, by our rules.
_GIVE_TEXT = frozenset(
    "LEFT RIGHT MID TRIM CLEAN SUBSTITUTE REPLACE CONCATENATE CONCAT TEXTJOIN TEXT UPPER LOWER REPT T CHAR"
    " TEXTBEFORE TEXTAFTER".split()
)


HELPERS: dict[str, tuple[Callable[..., Any], int, int]] = {
    **STAND_INS,
    **GUARDS,
    **{f"PRESSFUNCS.{name}": entry for name, entry in CATCHING.items()},
}
"""Name, function, least and most arguments of what an engine must know for formulas that are adapted."""


def adapt(template: Template) -> Template:
    """Return the formula so that it gives the values of a spreadsheet in the last digits too."""
    tokens = template.tokens
    if not any(_matters(token) for token in tokens):
        return template
    return Template(_last_sum(tokens) or _expression(tokens))


def _matters(token: Token) -> bool:
    if token.opens:
        name = function_name(token.text)
        return name in _TEXTS or name in _INSTEAD or name in _GUARDED or name in _RESULTS or name == "SUMPRODUCT"
    if token.kind == XlToken.OP_IN:
        return token.text in _COMPARISONS or token.text in "&+-^*/"
    return token.kind in (XlToken.OP_PRE, XlToken.OP_POST)


def _expression(tokens: tuple[Token, ...]) -> tuple[Token, ...]:
    """Adapt one expression: comparisons bind least, then &."""
    sides = _split(tokens, _COMPARISONS)
    if len(sides) == 1:
        return _joined(tokens)
    plain = [_bare(side) for side, _ in sides]
    exact = len(sides) == 2 and any(_is_exact(side) for side in plain)
    out: list[Token] = []
    for side, operator in sides:
        done = _joined(side)
        out += done if exact or _is_constant(_bare(side)) else _call(_ROUNDED, done)
        out += operator
    return tuple(out)


def _joined(tokens: tuple[Token, ...]) -> tuple[Token, ...]:
    parts = _split(tokens, ("&",))
    if len(parts) == 1:
        return _inside(tokens)
    out: list[Token] = []
    for part, operator in parts:
        out += _as_text(part)
        out += operator
    return tuple(out)


def _as_text(tokens: tuple[Token, ...]) -> tuple[Token, ...]:
    bare = _bare(tokens)
    if not bare or (len(bare) == 1 and bare[0].subtype == XlToken.TEXT):
        return tokens
    return _call(_SHOWN, _inside(tokens))


def _inside(tokens: tuple[Token, ...]) -> tuple[Token, ...]:
    """Adapt an expression that holds no comparison and no & outside of its brackets."""
    out: list[Token] = []
    terms = _split(_brackets(tokens), _SUMS)
    for term, operator in terms:
        factors = [factor for factor, _ in _split(term, ("^",))]
        done = _as_number(factors[0], len(terms) + len(factors) > 2)
        for factor in factors[1:]:
            if _is_plain_exponent(factor):
                done = (*done, _TO_THE, *factor)
            else:
                done = _call(_POWER, (*done, _COMMA, *_as_number(factor, True)))
        out += done
        out += operator
    return tuple(out)


def _as_number(tokens: tuple[Token, ...], computes: bool) -> tuple[Token, ...]:
    """Adapt one side of an operator: a text is read as a number by our rules."""
    first, last = 0, len(tokens)
    while first < last and tokens[first].kind in (XlToken.WSPACE, XlToken.OP_PRE):
        first += 1
    while first < last and tokens[last - 1].kind in (XlToken.WSPACE, XlToken.OP_POST):
        last -= 1
    inner = tokens[first:last]
    if first and all(token.text == "+" or token.kind == XlToken.WSPACE for token in tokens[:first]):
        tokens, last, first = tokens[first:], last - first, 0  # =+A1 is A1, even if that is a text
    if not inner or not _may_be_text(inner) or not (computes or _bare(tokens) != inner):
        return tokens
    return (*tokens[:first], *_call(_NUMBER, inner), *tokens[last:])


def _may_be_text(tokens: tuple[Token, ...]) -> bool:
    """Whether it is a text, or a function or bracket that gives one."""
    first = tokens[0]
    if len(tokens) == 1:
        return bool(first.subtype == XlToken.TEXT)
    if first.subtype != XlToken.OPEN or _closing(tokens, 0) != len(tokens) - 1:
        return False
    if first.opens:
        return function_name(first.text) in _GIVE_TEXT or first.text in _GIVE_TEXT_INSTEAD
    return first.kind == XlToken.PAREN and len(_split(tokens[1:-1], ("&",))) > 1


def _is_plain_exponent(tokens: tuple[Token, ...]) -> bool:
    bare = [token for token in tokens if token.kind not in (XlToken.WSPACE, XlToken.OP_PRE)]
    if len(bare) != 1 or bare[0].subtype != XlToken.NUMBER:
        return False
    number = float(bare[0].text)
    return number != 0.0 and number % 0.5 == 0.0  # others may be an odd root, of a negative number


def _brackets(tokens: tuple[Token, ...]) -> tuple[Token, ...]:
    """Adapt what stands in the brackets of an expression."""
    out: list[Token] = []
    i = 0
    while i < len(tokens):
        token = tokens[i]
        if token.subtype != XlToken.OPEN or token.kind == XlToken.ARRAY:
            out.append(token)
            i += 1
            continue
        end = _closing(tokens, i)
        if token.opens:
            out += _called(token, _split(tokens[i + 1 : end], (",",), XlToken.SEP), tokens[end])
        else:
            out += (token, *_expression(tokens[i + 1 : end]), tokens[end])
        i = end + 1
    return tuple(out)


def _called(opening: Token, arguments: Parts, closing: Token) -> tuple[Token, ...]:
    """Adapt a call, given its arguments with the separators after them."""
    name = function_name(opening.text)
    texts, guard = _TEXTS.get(name), _GUARDED.get(name)
    inner: list[Token] = []
    for place, (argument, separator) in enumerate(arguments):
        adapted = _expression(argument)
        bare = _bare(argument)
        if name == "SUMPRODUCT" and len(argument) == 1 and argument[0].ref is not None:
            adapted = _call(_NUMBERS, adapted)
        elif texts and texts(place) and bare:
            adapted = _call(_SHOWN, adapted)
        elif guard and guard(place) and bare and not _needs_no_guard(bare, guard(place)):
            adapted = _call(guard(place), adapted)
        inner += adapted
        inner += separator
    if name in CATCHING or name in CATCHING_TOO:
        if any(token.text[:-1] in GUARDS for token in inner if token.opens):
            if name in CATCHING_TOO:
                raise NotUnderstood(f"{name} would take what the engine cannot read for an error")
            opening = _named(opening, f"PRESSFUNCS.{name}")
    elif name in _INSTEAD:
        opening = _named(opening, _INSTEAD[name])
    call = (opening, *inner, closing)
    return _call(_RESULTS[name], call) if name in _RESULTS else call


def _needs_no_guard(argument: tuple[Token, ...], guard: str) -> bool:
    """Whether it is a whole number, written out, that every function takes as it is."""
    if len(argument) != 1 or argument[0].subtype != XlToken.NUMBER:
        return False
    text = argument[0].text
    return text.isdigit() and len(text) < 7 and (guard != _DATES[0] or date(float(text)) != REFUSED)


def _last_sum(tokens: tuple[Token, ...]) -> tuple[Token, ...] | None:
    """Adapt a formula whose last step is + or - of single cells: there a spreadsheet clears the last bits."""
    if len(_split(tokens, (*_COMPARISONS, "&"))) > 1 or len(tokens) > _MOST_REPEATED:
        return None
    if any(token.ref is not None and not token.ref.single for token in tokens):
        return None
    terms = _split(tokens, ("+", "-"))
    if len(terms) == 1:
        return None
    last = terms[-1][0]
    first = tokens[: len(tokens) - len(last) - 1]
    return _call(_DIFFERENCE, (*_inside(tokens), _COMMA, *_inside(first), _COMMA, *_inside(last)))


def _split(tokens: tuple[Token, ...], texts: Iterable[str], kind: str = XlToken.OP_IN) -> Parts:
    """Return (part, the operator or separator after it) for an expression cut outside of its brackets."""
    parts: Parts = []
    depth = start = 0
    for i, token in enumerate(tokens):
        if token.subtype == XlToken.OPEN:
            depth += 1
        elif token.subtype == XlToken.CLOSE:
            depth -= 1
        elif depth == 0 and token.kind == kind and token.text in texts:
            parts.append((tokens[start:i], (token,)))
            start = i + 1
    parts.append((tokens[start:], ()))
    return parts


def _closing(tokens: tuple[Token, ...], start: int) -> int:
    if tokens[start].opens:
        return call_end(tokens, start)
    depth = 0
    for i in range(start, len(tokens)):
        depth += (tokens[i].subtype == XlToken.OPEN) - (tokens[i].subtype == XlToken.CLOSE)
        if depth == 0:
            return i
    return len(tokens) - 1


def _bare(tokens: tuple[Token, ...]) -> tuple[Token, ...]:
    return tuple(token for token in tokens if token.kind != XlToken.WSPACE)


def _is_constant(tokens: tuple[Token, ...]) -> bool:
    return len(tokens) == 1 and tokens[0].kind == XlToken.OPERAND and not tokens[0].is_range


def _is_exact(tokens: tuple[Token, ...]) -> bool:
    """Whether digits play no part in a comparison with this: a text, a truth value, 0."""
    return _is_constant(tokens) and (tokens[0].subtype != XlToken.NUMBER or float(tokens[0].text) == 0.0)


def _call(name: str, tokens: tuple[Token, ...]) -> tuple[Token, ...]:
    opening = Token(XlToken.FUNC, XlToken.OPEN, name + "(")
    return (opening, *tokens, Token(XlToken.FUNC, XlToken.CLOSE, ")"))


def _named(token: Token, name: str) -> Token:
    return Token(token.kind, token.subtype, name + "(")
