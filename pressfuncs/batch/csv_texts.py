"""Texts in CSV files that a spreadsheet may open: none of them runs as a formula, and each can be had back.

A spreadsheet takes a cell of a CSV file that begins with = + - or @ for a formula, and a register may come from
anybody. Such a text gets an apostrophe in front, as one types it into a sheet; reading takes it off again.
"""

from __future__ import annotations

import re

_NUMBER = re.compile(r"[-+]?([0-9]+[.,]?[0-9]*|[.,][0-9]+)([eE][-+]?[0-9]+)?")
_RUNS = re.compile("'*[=+\\-@\t\r\\uff1d\\uff0b\\uff0d\\uff20]")  # the wide ones of East Asian keyboards run too


def guarded(text: str) -> str:
    """Return a text as it goes into a CSV file.

    >>> guarded("=1+1"), guarded("'=1+1"), guarded("D-203"), guarded("-12.5")
    ("'=1+1", "''=1+1", 'D-203', '-12.5')
    """
    return f"'{text}" if _RUNS.match(text) and not _NUMBER.fullmatch(text) else text


def unguarded(text: str) -> str:
    """Return a text of a CSV file as it was before it was guarded.

    >>> unguarded("'=1+1"), unguarded("''=1+1"), unguarded("=1+1"), unguarded("'88")
    ('=1+1', "'=1+1", '=1+1', "'88")
    """
    return text[1:] if text.startswith("'") and _RUNS.match(text) else text
