"""Values between Calc and the edge: errors as Calc carries them, and every result as rows.

Calc hands over a number as a float (a truth value or a date as well), a text as str, a range as rows, an
omitted argument as None. An error in a single cell never arrives: Calc passes it on itself.
"""

from __future__ import annotations

import struct
from typing import Any

from pressfuncs.errors import CellError

_QUIET_NAN = 0x7FF8000000000000

ERROR_NUMBERS = {
    "#NULL!": 521,
    "#DIV/0!": 532,
    "#VALUE!": 519,
    "#REF!": 524,
    "#NAME?": 525,
    "#NUM!": 503,
    "#N/A": 32767,
}
"""Error value -> Calc's number for it, which travels in the payload of a NaN."""


def error_number(code: str) -> float:
    """Return the number that Calc shows as an error value.

    >>> struct.pack(">d", error_number("#N/A")).hex()
    '7ff8000000007fff'
    """
    payload = ERROR_NUMBERS.get(code, ERROR_NUMBERS["#VALUE!"])
    return float(struct.unpack("<d", struct.pack("<Q", _QUIET_NAN | payload))[0])


def given(arguments: tuple[Any, ...]) -> list[Any]:
    """Return the arguments of a call without those omitted at its end."""
    values = list(arguments)
    while values and values[-1] is None:
        values.pop()
    return values


def rows(result: Any) -> tuple[tuple[Any, ...], ...]:
    """Return what the edge answers as rows of numbers and texts; Calc shows a single one as a plain cell."""
    if not isinstance(result, list):
        return ((cell(result),),)
    return tuple(tuple(cell(value) for value in row) for row in result)


def cell(value: Any) -> Any:
    """Return one value of a result as Calc takes it."""
    if isinstance(value, CellError):
        return error_number(value.code)
    return str(value) if isinstance(value, str) else float(value)
