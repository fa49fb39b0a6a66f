"""What stands in for functions of the engine, and keeps spreadsheets' rules for the last digits of a number."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from pressfuncs.batch.guards import error, finite, not_negative, number

_LONGEST = 20  # characters of a number written without an exponent


def shown(value: Any) -> Any:
    """Return a number as the text that a spreadsheet makes of it; anything else as it is.

    >>> shown(0.1 + 0.2), shown(1 / 3000), shown(1 / 30000), shown(1e19), shown(1e20), shown(-0.0)
    ('0.3', '0.000333333333333333', '3.33333333333333E-05', '10000000000000000000', '1E+20', '0')
    """
    if value.__class__ is bool:
        return "TRUE" if value else "FALSE"
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
    return _multiple(number, step, math.floor, error("Div"))


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
        return error("Num")
    return round_off(rounded(number / step)) * step


def _number(value: Any) -> Any:
    """Return what arithmetic makes of one value: a float, or an error."""
    return error("Value") if isinstance(value, list) else number(value)


def _cased(change: Callable[[str], str]) -> Callable[[Any], Any]:
    def cased(value: Any) -> Any:
        if isinstance(value, list):
            return [cased(inner) for inner in value]
        if value is None:
            return ""
        text = shown(value)
        return "".join(map(one, text)) if isinstance(text, str) else value

    def one(letter: str) -> str:
        changed = change(letter)
        return changed if len(changed) == 1 else letter  # a spreadsheet never makes two letters of one

    return cased


def on_sheet(sheet: Any, text: Any) -> Any:
    """Return the text of a reference with its sheet: INDIRECT("A1") means the sheet of its own formula."""
    return sheet + text if isinstance(text, str) and "!" not in text else text


STAND_INS: dict[str, tuple[Callable[..., Any], int, int]] = {
    "PRESSFUNCS.SHOWN": (shown, 1, 1),
    "PRESSFUNCS.ROUNDED": (rounded, 1, 1),
    "PRESSFUNCS.NUMBERS": (numbers, 1, 1),
    "PRESSFUNCS.DIFFERENCE": (difference, 3, 3),
    "PRESSFUNCS.ONSHEET": (on_sheet, 2, 2),
    "PRESSFUNCS.CEILING": (ceiling, 2, 2),
    "PRESSFUNCS.CEILINGMATH": (ceiling_math, 1, 3),
    "PRESSFUNCS.FLOOR": (floor, 2, 2),
    "PRESSFUNCS.UPPER": (_cased(str.upper), 1, 1),
    "PRESSFUNCS.LOWER": (_cased(str.lower), 1, 1),
    "PRESSFUNCS.SINCE1900": (not_negative, 1, 1),
    "PRESSFUNCS.FINITE": (finite, 1, 1),
}
"""Name, function, least and most arguments."""
