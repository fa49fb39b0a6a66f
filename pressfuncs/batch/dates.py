"""Dates in cells: which number formats show one, and what a number of days or a text means.

openpyxl knows how; it is imported when the first date is met, since that takes longer than a small book.
"""

from __future__ import annotations

import datetime
import re
from typing import Any

EPOCH_1900 = datetime.datetime(1899, 12, 30)
EPOCH_1904 = datetime.datetime(1904, 1, 1)
"""Day 0 of a workbook's dates: `CALENDAR_WINDOWS_1900` and `CALENDAR_MAC_1904` of openpyxl."""

BUILT_IN = frozenset([*range(14, 23), 45, 46, 47])
"""Numbers of the formats that need no definition in a file and show a date or a time."""

_NOT_SHOWN = re.compile(r'".*?"|\[(?!hh?\]|mm?\]|ss?\])[^\]]*\]')  # texts, colours, conditions and languages
_DATE = re.compile(r"(?<![_\\])[dmhysDMHYS]")


def is_date_format(code: str) -> bool:
    """Whether a number format shows a date or a time.

    >>> is_date_format("yyyy-mm-dd"), is_date_format('[Red]0.0" mm"')
    (True, False)
    """
    return _DATE.search(_NOT_SHOWN.sub("", code.split(";")[0])) is not None


def date_of(days: float, epoch: datetime.datetime) -> Any:
    """Return the date, or below one day the time, of a number of days; ValueError or OverflowError if none."""
    from openpyxl.utils.datetime import from_excel

    return from_excel(days, epoch)


def days_of(text: str, epoch: datetime.datetime) -> float:
    """Return the number of days of a date or a time in ISO 8601; ValueError if it is none."""
    from openpyxl.utils.datetime import from_ISO8601, to_excel

    return float(to_excel(from_ISO8601(text), epoch))
