"""The cells of a register: a column of them as figures in core units, or as texts."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from openpyxl.utils import get_column_letter

from pressfuncs.batch.assignment.fields import Heading
from pressfuncs.batch.assignment.heads import Head
from pressfuncs.batch.assignment.notation import Notation, Reading, reading
from pressfuncs.batch.assignment.register import Register, Trouble
from pressfuncs.batch.assignment.rows import field_range, out_of_range
from pressfuncs.batch.assignment.sources import NO_RESULT, Grid
from pressfuncs.edge.reading import PassedOn, read_one
from pressfuncs.errors import PressError
from pressfuncs.registry import Argument

Flags = np.ndarray[Any, np.dtype[np.bool_]]

SEPARATORS = re.compile(r"[;|\n\r]+")
NOT_GIVEN = ("", "-", "--", "\N{EN DASH}", "\N{EM DASH}", "n/a")  # written where there is nothing to write
_PLAIN = re.compile(r"[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?")


@dataclass
class Figures:
    """What a column of figures holds, row by row."""

    column: int
    heading: Heading
    range: str
    values: Any
    """NaN where nothing is given; of a series, a list of tuples"""
    unread: Flags
    as_text: list[int] = field(default_factory=list)
    """rows of numbers that a sheet stores as text"""
    doubtful: list[tuple[int, str, Reading]] = field(default_factory=list)
    """row, text and both readings of what may be two numbers"""
    no_result: list[int] = field(default_factory=list)
    bare: list[float] = field(default_factory=list)
    """numbers without a unit of their own, as they stand"""


class Cells:
    """The cells of a grid below its headings."""

    def __init__(self, register: Register, grid: Grid, head: Head, decimal: str | None) -> None:
        """Take the grid and its headings; `decimal` is what the user says of its numbers."""
        self.register = register
        self.grid = grid
        self.texts = head.texts
        self.headings = head.headings
        self.rows = [r for r in range(head.first, len(grid.cells)) if self.filled(r)]
        self.notation = Notation(decimal, grid.usual_mark)
        self.bad: dict[int, str] = {}

    def heading(self, column: int) -> Heading:
        """Return the heading of a column that is used."""
        heading = self.headings[column]
        assert isinstance(heading, Heading)
        return heading

    def row_number(self, row: int) -> int:
        """Return the number of a row in the file."""
        return self.grid.row_numbers[row]

    def place(self, row: int, column: int) -> str:
        """Return what a cell is called: by its address in a sheet, by its row in a text file."""
        if self.grid.plain_text:
            return f"row {self.row_number(row)}"
        return f"{get_column_letter(self.grid.column_numbers[column])}{self.row_number(row)}"

    def note(self, column: int, sentence: str) -> None:
        """Add a sentence about a column."""
        place = f'column "{self.texts[column]}"'
        self.register.troubles.append(Trouble(self.register.kind, place, "", sentence))

    def filled(self, row: int) -> bool:
        """Whether a row holds anything."""
        return any(cell is not None and cell != "" for cell in self.grid.cells[row])

    def cell(self, row: int, column: int) -> Any:
        """Return the value of a cell; None beyond the end of a short row."""
        cells = self.grid.cells[row]
        return cells[column] if column < len(cells) else None

    def named(self, field_: Argument, column: int) -> Argument:
        """Return the field under the name that the user knows it by, for sentences."""
        return field_._replace(name=self.texts[column], series=False)

    def text(self, row: int, column: int, field_: Argument) -> str:
        """Return the text of a cell; a bad one sets its row aside, unless no check looks at it."""
        value = self.cell(row, column)
        if value is None or value is NO_RESULT or (isinstance(value, str) and not value.strip()):
            return ""
        try:
            return str(read_one(self.named(field_, column), value, 1.0))
        except (PassedOn, PressError) as error:
            if field_.name == "part":
                return ""
            self.bad.setdefault(row, self.sentence(error, column))
        return ""

    def sentence(self, error: PassedOn | PressError, column: int) -> str:
        """Return what is wrong with a cell."""
        if isinstance(error, PassedOn):
            return f"{self.texts[column]} is the error {error.error.code}"
        return error.sentence(self.register.system)

    def text_column(self, column: int, field_: Argument) -> list[str]:
        """Return the texts of a column."""
        return [self.text(r, column, field_) for r in self.rows]

    def looks_like_figure(self, cell: Any) -> bool:
        """Whether a cell holds a number, with or without its unit."""
        return cell.__class__ is float or (
            isinstance(cell, str) and any(sign.isdigit() for sign in cell) and reading(cell) is not None
        )

    def shown(self, row: int, column: int) -> str:
        """Return a cell as it stands, with its address in a sheet."""
        value = self.cell(row, column)
        text = f"{value:.15g}" if isinstance(value, float) else str(value)
        return text if self.grid.plain_text else f"{text} ({self.place(row, column)})"

    def number_column(self, column: int) -> Figures:
        """Return the figures of a column, in core units."""
        read = self.figures(column, np.full(len(self.rows), np.nan))
        for i, r in enumerate(self.rows):
            value = self.cell(r, column)
            if value is not None:
                figure = self.figure(r, value, read, i)
                if figure is not None:
                    read.values[i] = figure
        return read

    def series_column(self, column: int) -> Figures:
        """Return the figures of a column that holds several in a cell, with semicolons between."""
        read = self.figures(column, [()] * len(self.rows))
        for i, r in enumerate(self.rows):
            cell = self.cell(r, column)
            parts = SEPARATORS.split(cell.strip()) if isinstance(cell, str) else [cell]
            found = [self.figure(r, part, read, i) for part in parts]
            if len(parts) > 1 and None in found and r not in self.bad and not read.unread[i]:
                self.bad[r] = f"{self.texts[column]} has a blank between its semicolons"
            if None not in found:
                read.values[i] = tuple(found)
        return read

    def figures(self, column: int, values: Any) -> Figures:
        """Return a column of figures that is yet to be read."""
        heading = self.heading(column)
        range_ = field_range(self.register.kind, heading.field.name)
        return Figures(column, heading, range_, values, np.zeros(len(self.rows), bool))

    def figure(self, row: int, value: Any, read: Figures, place: int) -> float | None:
        """Return a figure in core units; None where there is none, or it cannot be read, which is noted."""
        if value.__class__ is str:
            if _PLAIN.fullmatch(value) and self.notation.takes_points(value):
                value = float(value)
                read.as_text.append(row)
            else:
                value = self.from_text(row, value, read, place)
        if value is None:
            return None
        if value is NO_RESULT:
            read.no_result.append(row)
            read.unread[place] = True
            return None
        if value.__class__ is float:
            read.bare.append(value)
            figure = value * read.heading.factor
            if not math.isfinite(figure):
                self.bad.setdefault(row, f"{self.texts[read.column]} is not a finite number")
                return None
        else:
            try:
                field_ = self.named(read.heading.field, read.column)
                figure = float(read_one(field_, value, read.heading.factor))
            except (PassedOn, PressError) as error:
                self.bad.setdefault(row, self.sentence(error, read.column))
                return None
        wrong = out_of_range(figure, read.range)
        if wrong:
            shown = read.heading.field.kind.show(figure, self.register.system)
            self.bad.setdefault(row, f"{self.texts[read.column]} {wrong}, got {shown}")
            return None
        return figure

    def from_text(self, row: int, text: str, read: Figures, place: int) -> float | str | None:
        """Return the number of a text, with its own unit as a text still; other texts as they are."""
        if text.strip().casefold() in NOT_GIVEN:
            return None
        both = reading(text)
        if both is None:
            return text
        number = self.notation.value(both)
        if number is not None:
            if both.unit:
                return f"{number!r} {both.unit}"
            read.as_text.append(row)
        elif both.point is not None and both.comma is not None:
            read.doubtful.append((row, text, both))
            read.unread[place] = True
        else:
            sentence = (
                f'{self.texts[read.column]} is "{text}", no number with a decimal {self.notation.said or "point"}'
            )
            self.bad.setdefault(row, sentence)
        return number
