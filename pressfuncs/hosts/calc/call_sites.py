"""The calls of a function in the text of Calc's formulas, with what each argument is: a cell, a value, or more.

The text is that of Calc's interface: English names, ";" between arguments, "." in numbers and before a cell.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Union

_CELL = re.compile(
    r"""\$?(?:(?P<quoted>'(?:[^']|'')+')\.|(?P<sheet>[^'.;()\[\]{}"\s!]+)\.)?
    \$?(?P<column>[A-Z]{1,3})\$?(?P<row>[1-9][0-9]{0,6})""",
    re.VERBOSE | re.IGNORECASE,
)
_PIECE = re.compile(r"""("(?:[^"]|"")*"|'(?:[^']|'')*'|[();{}]|[^"'();{}]+|["'])""")


@dataclass(frozen=True)
class Cell:
    """One cell that an argument points at: sheet ("" for the formula's own), column and row from 0."""

    sheet: str
    column: int
    row: int


@dataclass(frozen=True)
class Open:
    """An argument whose value the text does not tell: an expression, a range."""


OPEN = Open()

Argument = Union[Cell, Open, float, str, None]
"""What stands at one place of a call; None where it is left out."""


def calls(formula: str, name: str, named_cell: Callable[[str], Cell | None]) -> Iterator[tuple[Argument, ...]]:
    """Give the arguments of every call of a function in a formula.

    Arguments:
        formula: its text
        name: the function's worksheet name; a service name before it is allowed
        named_cell: returns the cell that a name stands for

    >>> list(calls("=1+X.PF_A($B$2;'My sheet'.C3;2.5;SUM(A1;2);A1:A3)", "PF_A", lambda name: None))
    [(Cell(sheet='', column=1, row=1), Cell(sheet='My sheet', column=2, row=2), 2.5, Open(), Open())]
    """
    for match in re.finditer(rf"(?<![\w]){re.escape(name)}\(", formula, re.IGNORECASE):
        texts = _split(formula, match.end())
        yield tuple(read(text.strip(), named_cell) for text in texts)


def _split(formula: str, start: int) -> list[str]:
    """Return the texts of the arguments of the call whose parenthesis opens just before `start`."""
    depth, found = 0, [""]
    for match in _PIECE.finditer(formula, start):
        piece = match[0]
        if piece in ("(", "{"):
            depth += 1
        elif piece in (")", "}"):
            depth -= 1
            if depth < 0:
                break
        elif piece == ";" and depth == 0:
            found.append("")
            continue
        found[-1] += piece
    return found


def read(text: str, named_cell: Callable[[str], Cell | None]) -> Argument:
    """Return what an argument is, from its text.

    >>> read('"inch"', lambda name: None), read("", lambda name: None), read("-1.5", lambda name: None)
    ('inch', None, -1.5)
    """
    if not text:
        return None
    cell = cell_of(text)
    if cell is not None:
        return cell
    if re.fullmatch(r'"(?:[^"]|"")*"', text):
        return text[1:-1].replace('""', '"')
    try:
        return float(text)
    except ValueError:
        return named_cell(text) or OPEN


def cell_of(text: str) -> Cell | None:
    """Return the cell that a text such as "$Sheet1.$B$2" names; None if it names none.

    >>> cell_of("$Presses.$B$12")
    Cell(sheet='Presses', column=1, row=11)
    """
    match = _CELL.fullmatch(text)
    if match is None:
        return None
    column = 0
    for letter in match["column"].upper():
        column = column * 26 + ord(letter) - ord("A") + 1
    sheet = match["quoted"][1:-1].replace("''", "'") if match["quoted"] else match["sheet"] or ""
    return Cell(sheet, column - 1, int(match["row"]) - 1)
