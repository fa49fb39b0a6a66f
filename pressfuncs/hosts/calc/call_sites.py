"""The calls of a function in the text of Calc's formulas, with what each argument is: a cell, a value, or more.

The text is that of Calc's interface: English names, ";" between arguments, "." in numbers and before a cell.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Union

_CELL = re.compile(
    r"""\$?(?:(?P<quoted>'(?:[^']|'')+')\.|(?P<sheet>[^'.;()\[\]{}"\s!]+)\.)?
    \$?(?P<column>[A-Z]{1,3})\$?(?P<row>[1-9][0-9]{0,6})""",
    re.VERBOSE | re.IGNORECASE,
)
_NAME = re.compile(r"[^\W\d][\w.]*")
_IN_BRACKETS = r"(?:'.|[^'\[\]])*"
_COLUMN = re.compile(rf"(?P<table>[^\W\d][\w.]*)\[\[#This Row\];\[(?P<column>{_IN_BRACKETS})\]\]", re.IGNORECASE)
_PIECE = re.compile(
    rf"\[(?:\[{_IN_BRACKETS}\]|{_IN_BRACKETS[:-1]})*\]"  # of a table; an apostrophe there is no quote
    r"""|"(?:[^"]|"")*"|'(?:[^']|'')*'|[();{}]|[^"'();{}\[\]]+|["'\[\]]"""
)
_TEXT = re.compile(r'"(?:[^"]|"")*"')


@dataclass(frozen=True)
class Cell:
    """One cell that an argument points at: sheet ("" for the formula's own), column and row from 0."""

    sheet: str
    column: int
    row: int


@dataclass(frozen=True)
class Name:
    """A name, of a cell or of anything else."""

    name: str


@dataclass(frozen=True)
class Column:
    """The cell of a table's column in the row of the formula."""

    table: str
    heading: str


@dataclass(frozen=True)
class Open:
    """An argument whose value the text does not tell: an expression, a range."""


OPEN = Open()

Argument = Union[Cell, Name, Column, Open, float, str, None]
"""What stands at one place of a call; None where it is left out."""


def calls(formula: str, name: str) -> Iterator[tuple[Argument, ...]]:
    """Give the arguments of every call of a function in a formula.

    Arguments:
        formula: its text
        name: the function's worksheet name; a service name before it is allowed

    >>> list(calls("=1+X.PF_A($B$2;'My sheet'.C3;2.5;SUM(A1;2);A1:A3)", "PF_A"))
    [(Cell(sheet='', column=1, row=1), Cell(sheet='My sheet', column=2, row=2), 2.5, Open(), Open())]
    """
    for match in re.finditer(rf"(?<!\w){re.escape(name)}\(", formula, re.IGNORECASE):
        yield tuple(read(text.strip()) for text in _split(formula, match.end()))


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


def read(text: str) -> Argument:
    """Return what an argument is, from its text.

    >>> read('"inch"'), read("-1.5"), read("adjustment"), read("Presses[[#This Row];[Bore, mm]]")
    ('inch', -1.5, Name(name='adjustment'), Column(table='Presses', heading='Bore, mm'))
    """
    if not text:
        return None
    cell = cell_of(text[1:-1] if text.startswith("(") else text)
    if cell is not None:
        return cell
    if _TEXT.fullmatch(text):
        return text[1:-1].replace('""', '"')
    column = _COLUMN.fullmatch(text)
    if column is not None:
        return Column(column["table"], re.sub("'(.)", r"\1", column["column"]))
    try:
        return float(text)
    except ValueError:
        return Name(text) if _NAME.fullmatch(text) else OPEN


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
