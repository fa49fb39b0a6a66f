"""Stand-ins for functions that the engine computes otherwise, and guards for values that it reads otherwise.

A guard hands a value on where the engine is known to be right, and refuses it where it is not: the cell then
fails, keeps its stored result, and is reported. Errors, blanks and numbers reach these functions as the engine
hands them over: an error as a dict, a blank as None, a range as a list of rows.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

REFUSED = {"type": "Error", "kind": "NImpl"}
"""What the engine shows for a value that is refused; the batch mode takes it for a failure, never for a value."""

_PLAIN_NUMBER = re.compile(r"\s*[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?\s*")
_HAS_DIGIT = re.compile(r"\d")
# What some country writes for a number: groups of three, a decimal comma, a currency, %, brackets for a minus.
_GROUPED = r"\d{1,3}(?:[.,' \u00a0\u202f]\d{3})+(?:[.,]\d*)?"
_MONEY = r"[$\u20ac\u00a3\u00a5]?"
_WRITTEN_NUMBER = re.compile(
    rf"[+-]?\s*\(?\s*[+-]?{_MONEY}\s*[+-]?(?:{_GROUPED}|\d*[.,]?\d+|\d+[.,])(?:e[+-]?\d+)?\s*{_MONEY}\s*%?\s*\)?-?",
    re.IGNORECASE,
)
_FRACTION = re.compile(r"[+-]?(?:\d+\s+)?\d+/\d+")
_DATE = re.compile(
    r"(?P<first>\d{1,4})(?P<sign>[-/.])(?P<second>\d{1,2})(?:(?P=sign)\d{1,4})?\.?"
    r"(?P<rest>(?:[ T].*)?)"
)
_TIME = re.compile(r"\d{1,4}:\d{1,2}(?::\d{1,2}(?:[.,]\d*)?)?\s*(?:[ap]m?)?", re.IGNORECASE)
_WORDS = re.compile(r"[^\W\d_]+")
_MONTHS = re.compile(r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[^\W\d_]*", re.IGNORECASE)
_MOST_DAYS = 31
_LONGEST_DATE = 30
_NEARLY = 1e-9
_LARGEST_ANGLE = 2.0**27
_LARGEST_QUOTIENT = 2.0**27
_FIRST_SURE_DATE = 61.0  # 1 March 1900: before it spreadsheets count a day that never was
_LAST_DATE = 2_958_465.0  # 31 December 9999
_MOST_OF_A_TIME = 32767
_DAY = 86400


def error(kind: str) -> dict[str, str]:
    """Return an error as the engine takes it: Num, Value, Div, Na ..."""
    return {"type": "Error", "kind": kind}


def maybe_number(text: str) -> bool:
    """Whether a spreadsheet may read a text as a number, a date or a time, and the engine may not, or otherwise.

    >>> [maybe_number(text) for text in ("1,000", "5%", "$5", "2024-02-29", "12:30", "31 Jan 2024", "(5)")]
    [True, True, True, True, True, True, True]
    >>> [maybe_number(text) for text in ("12", " -1.5 ", "1e3", "", "abc", "die 12", "A-12/3", "2.52.5")]
    [False, False, False, False, False, False, False, False]
    """
    text = text.strip()
    if not _HAS_DIGIT.search(text) or _PLAIN_NUMBER.fullmatch(text):
        return False
    if any(pattern.fullmatch(text) for pattern in (_WRITTEN_NUMBER, _FRACTION, _TIME)):
        return True
    found = _DATE.fullmatch(text)
    if found is not None:
        years = len(found["first"]) > 2 or 1 <= int(found["first"]) <= _MOST_DAYS
        return years and 1 <= int(found["second"]) <= _MOST_DAYS and (not found["rest"] or ":" in found["rest"])
    words = _WORDS.findall(text)
    return bool(words) and len(text) <= _LONGEST_DATE and any(_MONTHS.fullmatch(word) for word in words)


def number(value: Any) -> Any:
    """Return what arithmetic makes of a value; a text that some spreadsheet reads as a number is refused."""
    if value.__class__ is float or isinstance(value, dict):
        return value
    if isinstance(value, list):
        return [number(inner) for inner in value]
    if value is None or isinstance(value, (bool, int)):
        return float(value or 0.0)
    if _PLAIN_NUMBER.fullmatch(value):
        return float(value)
    return REFUSED if maybe_number(value) else error("Value")


def value_of(value: Any) -> Any:
    """Return VALUE: a number, or what a text says if it says it in every country; a truth value is none."""
    return error("Value") if isinstance(value, bool) else number(value)


def plain(value: Any) -> Any:
    """Hand on numbers, blanks, errors and plain texts; refuse truth values and texts that may be numbers."""
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    if isinstance(value, bool):
        return REFUSED
    return number(value) if isinstance(value, str) else value


def counted(value: Any) -> Any:
    """Return a number of characters: a text that is none is an error, where the engine takes it for 0."""
    return number(value) if isinstance(value, str) else value


def date(value: Any) -> Any:
    """Hand on dates from March 1900 on; refuse earlier ones, truth values and dates written as text."""
    if isinstance(value, list):
        return [date(inner) for inner in value]
    value = plain(value)
    if isinstance(value, dict):
        return value
    return value if value is not None and _FIRST_SURE_DATE <= value <= _LAST_DATE else REFUSED


def angle(value: Any) -> Any:
    """Return the argument of SIN, COS or TAN: spreadsheets refuse those from 2^27 on."""
    if isinstance(value, list):
        return [angle(inner) for inner in value]
    value = number(value)
    return error("Num") if isinstance(value, float) and abs(value) >= _LARGEST_ANGLE else value


def place(value: Any) -> Any:
    """Return the place of LARGE: spreadsheets round it up."""
    value = number(value) if isinstance(value, str) else value
    return float(math.ceil(value)) if isinstance(value, float) else value


def finite(value: Any) -> Any:
    """Return a result, or #NUM! where it is beyond all numbers."""
    return error("Num") if isinstance(value, float) and not math.isfinite(value) else value


def not_negative(value: Any) -> Any:
    """Return a date: there are none before 1900."""
    return error("Num") if isinstance(value, float) and value < 0 else value


def power(base: Any, exponent: Any) -> Any:
    """Return base ^ exponent as spreadsheets have it: 0^0 is #NUM!, and 0 to a negative power #DIV/0!."""
    return _by_element(_power, base, exponent)


def _power(base: Any, exponent: Any) -> Any:
    base, exponent = number(base), number(exponent)
    for value in (base, exponent):
        if isinstance(value, dict):
            return value
    if base == 0 and exponent <= 0:
        return error("Div" if exponent else "Num")
    if base < 0 and exponent != int(exponent):
        root = 1 / exponent
        odd = math.isclose(root, round(root), rel_tol=1e-9) and round(root) % 2
        return REFUSED if odd else error("Num")  # whether there is a cube root of -8, spreadsheets do not agree
    try:
        return float(base**exponent)
    except OverflowError:
        return error("Num")


def modulo(dividend: Any, divisor: Any) -> Any:
    """Return MOD, with the sign of the divisor; what spreadsheets do not agree on is refused."""
    return _by_element(_modulo, dividend, divisor)


def _modulo(dividend: Any, divisor: Any) -> Any:
    dividend, divisor = number(dividend), number(divisor)
    for value in (dividend, divisor):
        if isinstance(value, dict):
            return value
    if not divisor:
        return error("Div")
    if abs(dividend / divisor) >= _LARGEST_QUOTIENT:
        return REFUSED
    exact, usual = dividend % divisor, dividend - divisor * math.floor(dividend / divisor)
    return float(usual) if abs(exact - usual) < _NEARLY * abs(divisor) else REFUSED


def time(hours: Any, minutes: Any, seconds: Any) -> Any:
    """Return TIME as a part of a day; there is none before midnight."""
    total = 0
    for value, length in ((hours, 3600), (minutes, 60), (seconds, 1)):
        value = number(value)
        if isinstance(value, dict):
            return value
        if isinstance(value, list):
            return error("Value")
        if abs(value) > _MOST_OF_A_TIME:
            return error("Num")
        total += math.trunc(value) * length
    return error("Num") if total < 0 else total % _DAY / _DAY


def days(last: Any, first: Any) -> Any:
    """Return DAYS: whole days from one date to another."""
    ends = [number(last), number(first)]
    for value in ends:
        if isinstance(value, (dict, list)):
            return error("Value") if isinstance(value, list) else value
        if not 0 <= value <= _LAST_DATE:
            return error("Num")
    return float(math.floor(ends[0]) - math.floor(ends[1]))


def replace(text: Any, start: Any, count: Any, new: Any) -> Any:
    """Return REPLACE: from beyond the end on it appends."""
    start, count = number(start), number(count)
    for value in (text, start, count, new):
        if isinstance(value, dict):
            return value
    if isinstance(start, list) or isinstance(count, list) or start < 1 or count < 0:
        return error("Value")
    old, first = str(text or ""), int(start) - 1
    return old[:first] + str(new or "") + old[first + int(count) :]


def if_error(value: Any, instead: Any) -> Any:
    """Return IFERROR: what is refused stays refused."""
    return _by_element(lambda v, i: i if isinstance(v, dict) and v["kind"] != "NImpl" else v, value, instead)


def _telling(test: Callable[[Any], bool]) -> Callable[[Any], Any]:
    """Return a test of a value, of which a refused one is neither true nor false."""

    def told(value: Any) -> Any:
        if isinstance(value, list):
            return [told(inner) for inner in value]
        return value if isinstance(value, dict) and value["kind"] == "NImpl" else test(value)

    return told


def _by_element(function: Callable[[Any, Any], Any], left: Any, right: Any) -> Any:
    """Compute element by element; a value, a row or a column goes with every element of the other side."""
    if not isinstance(left, list) and not isinstance(right, list):
        return function(left, right)
    a, b = ([[side]] if not isinstance(side, list) else side for side in (left, right))
    rows, columns = max(len(a), len(b)), max(len(a[0]), len(b[0]))

    def at(side: list[list[Any]], row: int, column: int) -> Any:
        row, column = row if len(side) > 1 else 0, column if len(side[0]) > 1 else 0
        return side[row][column] if row < len(side) and column < len(side[0]) else error("Na")

    return [[function(at(a, i, j), at(b, i, j)) for j in range(columns)] for i in range(rows)]


GUARDS: dict[str, tuple[Callable[..., Any], int, int]] = {
    "PRESSFUNCS.NUMBER": (number, 1, 1),
    "PRESSFUNCS.VALUE": (value_of, 1, 1),
    "PRESSFUNCS.PLAIN": (plain, 1, 1),
    "PRESSFUNCS.COUNTED": (counted, 1, 1),
    "PRESSFUNCS.PLACE": (place, 1, 1),
    "PRESSFUNCS.DATE": (date, 1, 1),
    "PRESSFUNCS.ANGLE": (angle, 1, 1),
    "PRESSFUNCS.POWER": (power, 2, 2),
    "PRESSFUNCS.MOD": (modulo, 2, 2),
    "PRESSFUNCS.TIME": (time, 3, 3),
    "PRESSFUNCS.DAYS": (days, 2, 2),
    "PRESSFUNCS.REPLACE": (replace, 4, 4),
}
"""What may refuse a value: name, function, least and most arguments."""

CATCHING: dict[str, tuple[Callable[..., Any], int, int]] = {
    "IFERROR": (if_error, 2, 2),
    "ISERROR": (_telling(lambda v: isinstance(v, dict)), 1, 1),
    "ISERR": (_telling(lambda v: isinstance(v, dict) and v["kind"] != "Na"), 1, 1),
    "ISNA": (_telling(lambda v: isinstance(v, dict) and v["kind"] == "Na"), 1, 1),
    "ISNUMBER": (_telling(lambda v: isinstance(v, float)), 1, 1),
}
"""Functions that would take a refusal for an error, with what stands in for them where a guard is inside."""

CATCHING_TOO = frozenset(
    "ISTEXT ISNONTEXT ISLOGICAL ISBLANK ISREF TYPE ERROR.TYPE COUNT COUNTA COUNTIF COUNTIFS AGGREGATE".split()
)
"""The others of which that is true: with a guard inside they are left alone."""
