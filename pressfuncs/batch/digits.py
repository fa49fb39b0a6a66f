"""Fifteen digits: what spreadsheets do with the last bits of a number, for an engine that keeps them all.

Spreadsheets show, join and compare numbers by 15 significant digits: `0.1+0.2&""` is "0.3", `0.1+0.2=0.3` is
TRUE and `=0.1+0.2-0.3` is 0. `adapt` rewrites a formula so that an engine which computes with plain floats says
so too, with the help of the few functions in `HELPERS`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import Any

from openpyxl.formula.tokenizer import Token as XlToken

from pressfuncs.batch.formulas import Template, Token, call_end, function_name

_LONGEST = 20  # characters of a number written without an exponent
_COMPARISONS = ("=", "<>", "<", ">", "<=", ">=")
_MOST_REPEATED = 12  # tokens of a sum that is written three times

# The arguments that these functions take as texts: a number there is joined by 15 digits too.
_TEXTS: dict[str, Callable[[int], bool]] = {
    **dict.fromkeys(("LEN", "LEFT", "RIGHT", "MID", "TRIM", "CLEAN", "REPT"), lambda i: i == 0),
    **dict.fromkeys(("FIND", "SEARCH", "EXACT"), lambda i: i < 2),
    "SUBSTITUTE": lambda i: i < 3,
    "REPLACE": lambda i: i in (0, 3),
    **dict.fromkeys(("CONCATENATE", "CONCAT"), lambda i: True),
    "TEXTJOIN": lambda i: i != 1,
}
_SHOWN, _ROUNDED, _DIFFERENCE = "PRESSFUNCS.SHOWN", "PRESSFUNCS.ROUNDED", "PRESSFUNCS.DIFFERENCE"
_NUMBERS = "PRESSFUNCS.NUMBERS"
_INSTEAD = {
    "CEILING": "PRESSFUNCS.CEILING",
    "CEILING.MATH": "PRESSFUNCS.CEILINGMATH",
    "FLOOR": "PRESSFUNCS.FLOOR",
    "UPPER": "PRESSFUNCS.UPPER",
    "LOWER": "PRESSFUNCS.LOWER",
}


def shown(value: Any) -> Any:
    """Return a number as the text that a spreadsheet makes of it; anything else as it is.

    >>> shown(0.1 + 0.2), shown(1 / 3000), shown(1 / 30000), shown(1e19), shown(1e20), shown(-0.0)
    ('0.3', '0.000333333333333333', '3.33333333333333E-05', '10000000000000000000', '1E+20', '0')
    """
    if value.__class__ is not float:
        return [shown(inner) for inner in value] if isinstance(value, list) else value
    if value == 0:
        return "0"
    digits = format(value, ".15g")
    plain = digits if "e" not in digits else format(Decimal(digits), "f")
    if len(plain.lstrip("-")) <= _LONGEST:
        return plain
    mantissa, _, exponent = format(Decimal(digits), "e").upper().partition("E")
    if "." in mantissa:
        mantissa = mantissa.rstrip("0").rstrip(".")
    return f"{mantissa}E{exponent[0]}{exponent[1:]:0>2}"


def rounded(value: Any) -> Any:
    """Return a number by its 15 digits, anything else as it is."""
    if value.__class__ is float:
        return float(format(value, ".15g"))
    return [rounded(inner) for inner in value] if isinstance(value, list) else value


def numbers(value: Any) -> Any:
    """Return a range with 0 for what is no number: SUMPRODUCT counts neither texts nor truth values."""
    if isinstance(value, list):
        return [numbers(inner) for inner in value]
    return value if isinstance(value, (float, dict)) else 0.0


def difference(result: Any, left: Any, right: Any) -> Any:
    """Return the result of a last + or -; 0 where its two sides are the same by 15 digits but for the sign."""
    if result.__class__ is left.__class__ is right.__class__ is float and result:
        if abs(result) < 1e-14 * abs(left) and rounded(abs(left)) == rounded(abs(right)):
            return 0.0
    return result


def ceiling(number: Any, step: Any) -> Any:
    """Return CEILING: away from 0 for a negative step, and never up for the last bits alone."""
    return _multiple(number, step, math.ceil, 0.0)


def floor(number: Any, step: Any) -> Any:
    """Return FLOOR: towards 0 for a negative step, and never down for the last bits alone."""
    return _multiple(number, step, math.floor, _error("Div"))


def ceiling_math(number: Any, step: Any = 1.0, mode: Any = 0.0) -> Any:
    """Return CEILING.MATH: up, or away from 0 if a mode is given."""
    number, step, mode = _number(number), _number(step), _number(mode)
    for value in (number, step, mode):
        if isinstance(value, dict):
            return value
    if not step:
        return 0.0
    round_off = math.floor if number < 0 and mode else math.ceil
    return round_off(rounded(number / abs(step))) * abs(step)


def _multiple(number: Any, step: Any, round_off: Callable[[float], int], zero: Any) -> Any:
    number, step = _number(number), _number(step)
    for value in (number, step):
        if isinstance(value, dict):
            return value
    if not number:
        return 0.0
    if not step:
        return zero
    if number > 0 > step:
        return _error("Num")
    return round_off(rounded(number / step)) * step


def _number(value: Any) -> Any:
    """Return what arithmetic makes of a value: a float, or an error."""
    if isinstance(value, (bool, float)) or value is None:
        return float(value or 0.0)
    if isinstance(value, dict):
        return value
    try:
        return float(value)
    except (TypeError, ValueError):  # a range, or a text that is no number
        return _error("Value")


def _error(kind: str) -> dict[str, str]:
    return {"type": "Error", "kind": kind}


def _cased(change: Callable[[str], str]) -> Callable[[Any], Any]:
    def cased(value: Any) -> Any:
        if isinstance(value, list):
            return [cased(inner) for inner in value]
        if isinstance(value, bool) or value is None:
            return change(str(value)) if value is not None else ""
        return change(shown(value)) if isinstance(value, (str, float)) else value

    return cased


def on_sheet(sheet: Any, text: Any) -> Any:
    """Return the text of a reference with its sheet: INDIRECT("A1") means the sheet of its own formula."""
    return sheet + text if isinstance(text, str) and "!" not in text else text


HELPERS: dict[str, tuple[Callable[..., Any], int, int]] = {
    _SHOWN: (shown, 1, 1),
    _ROUNDED: (rounded, 1, 1),
    _NUMBERS: (numbers, 1, 1),
    _DIFFERENCE: (difference, 3, 3),
    "PRESSFUNCS.ONSHEET": (on_sheet, 2, 2),
    _INSTEAD["CEILING"]: (ceiling, 2, 2),
    _INSTEAD["CEILING.MATH"]: (ceiling_math, 1, 3),
    _INSTEAD["FLOOR"]: (floor, 2, 2),
    _INSTEAD["UPPER"]: (_cased(str.upper), 1, 1),
    _INSTEAD["LOWER"]: (_cased(str.lower), 1, 1),
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
        return name in _TEXTS or name in _INSTEAD or name == "SUMPRODUCT"
    return token.kind == XlToken.OP_IN and (token.text in _COMPARISONS or token.text in "&+-")


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
    """Adapt what stands in the brackets of an expression that holds no comparison and no & itself."""
    out: list[Token] = []
    i = 0
    while i < len(tokens):
        token = tokens[i]
        if token.subtype != XlToken.OPEN or token.kind == XlToken.ARRAY:
            out.append(token)
            i += 1
            continue
        end = _closing(tokens, i)
        name = function_name(token.text) if token.opens else ""
        texts = _TEXTS.get(name)
        out.append(_named(token, _INSTEAD[name]) if name in _INSTEAD else token)
        for number, (argument, separator) in enumerate(_split(tokens[i + 1 : end], (",",), XlToken.SEP)):
            adapted = _expression(argument)
            if name == "SUMPRODUCT" and len(argument) == 1 and argument[0].ref is not None:
                adapted = _call(_NUMBERS, adapted)
            out += _call(_SHOWN, adapted) if texts and texts(number) and _bare(argument) else adapted
            out += separator
        out.append(tokens[end])
        i = end + 1
    return tuple(out)


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
    comma = Token(XlToken.SEP, XlToken.ARG, ",")
    return _call(_DIFFERENCE, (*_inside(tokens), comma, *_inside(first), comma, *_inside(last)))


def _split(
    tokens: tuple[Token, ...], texts: Iterable[str], kind: str = XlToken.OP_IN
) -> list[tuple[tuple[Token, ...], tuple[Token, ...]]]:
    """Return (part, the operator or separator after it) for an expression cut outside of its brackets."""
    parts: list[tuple[tuple[Token, ...], tuple[Token, ...]]] = []
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
