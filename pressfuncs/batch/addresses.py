"""Cell addresses: letters and numbers of columns, corners of ranges.

openpyxl has the same, but importing any part of it imports all of it, which takes longer than a small book.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

MOST_COLUMNS = 18_278
"""Columns that three letters can name; a sheet has 16 384."""

_CELL = re.compile(r"\$?([A-Za-z]{1,3})\$?(\d+)", re.ASCII)
_CORNER = r"\$?([A-Za-z]{1,3})?\$?(\d+)?"
_RANGE = re.compile(f"{_CORNER}(:{_CORNER})?", re.ASCII)


@lru_cache(maxsize=MOST_COLUMNS)
def get_column_letter(column: int) -> str:
    """Return the letters of a column.

    >>> get_column_letter(28)
    'AB'
    """
    if not 1 <= column <= MOST_COLUMNS:
        raise ValueError(f"there is no column {column}")
    letters = ""
    while column:
        column, letter = divmod(column - 1, 26)
        letters = chr(65 + letter) + letters
    return letters


@lru_cache(maxsize=MOST_COLUMNS)
def column_index_from_string(letters: str) -> int:
    """Return the number of a column, in either letter case.

    >>> column_index_from_string("AB")
    28
    """
    if not (len(letters) <= 3 and letters.isascii() and letters.isalpha()):
        raise ValueError(f"{letters!r} is no column")
    column = 0
    for letter in letters.upper():
        column = column * 26 + ord(letter) - 64
    return column


def coordinate_from_string(address: str) -> tuple[str, int]:
    """Return letters and row of a cell; ValueError if it is none.

    >>> coordinate_from_string("$B$12")
    ('B', 12)
    """
    match = _CELL.fullmatch(address)
    if match is None or not int(match[2]):
        raise ValueError(f"{address!r} is no cell")
    return match[1], int(match[2])


def range_boundaries(area: str) -> tuple[Any, Any, Any, Any]:
    """Return first column, first row, last column and last row; None where whole rows or columns are meant.

    >>> range_boundaries("B2:$C$9"), range_boundaries("A:B")
    ((2, 2, 3, 9), (1, None, 2, None))
    """
    match = _RANGE.fullmatch(area)
    if match is None:
        raise ValueError(f"{area!r} is no range")
    left, top, pair, right, bottom = match.groups()
    columns, rows = (left, right), (top, bottom)
    if pair and not (all(columns + rows) or (all(columns) and not any(rows)) or (all(rows) and not any(columns))):
        raise ValueError(f"{area!r} is no range")
    first = column_index_from_string(left) if left else None, int(top) if top else None
    last = column_index_from_string(right) if right else first[0], int(bottom) if bottom else first[1]
    return *first, *last
