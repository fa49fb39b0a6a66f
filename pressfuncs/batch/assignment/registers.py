"""Reading a register: a sheet, a table or a CSV file becomes one column table in core units.

A bad row never stops the rest and never counts: it is set aside with a sentence. A missing figure stays
missing (NaN), so that a check that needs it says "not checked".
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from openpyxl.utils import get_column_letter

from pressfuncs.batch.assignment.fields import Heading, bare_unit, field_entry, fields, is_unit, read_heading
from pressfuncs.batch.assignment.sources import Grid, plain_number, read_grids
from pressfuncs.batch.refusals import Refused
from pressfuncs.edge.reading import PassedOn, read_one
from pressfuncs.errors import PressError, WrongUnit
from pressfuncs.quantities import TEXT
from pressfuncs.registry import Argument

_PERCENT = (
    "is in percent by its heading, yet no figure is above 1: write shares under a heading without %, or percents;"
    " the column is not used"
)

Floats = np.ndarray[Any, np.dtype[np.float64]]

UNREAD = "?"
"""Text of a field that could not be read; no kind of press or material is called so."""
_HEADINGS_WITHIN = 30  # rows from the top in which the headings are looked for
_NOT_GIVEN = ("", "-", "--", "\N{EN DASH}", "\N{EM DASH}", "n/a")  # written where there is nothing to write


@dataclass(frozen=True)
class Trouble:
    """A row or a column of a register that cannot be used, or only in part."""

    register: str
    place: str
    name: str
    sentence: str


@dataclass
class Register:
    """A register read; all columns have the length of `ids`."""

    kind: str
    source: str
    ids: list[str] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    """row of each entry in its file"""
    numbers: dict[str, Floats] = field(default_factory=dict)
    """figures in core units by field; NaN where none is given"""
    texts: dict[str, list[str]] = field(default_factory=dict)
    """texts by field; "" where none is given"""
    series: dict[str, list[tuple[float, ...]]] = field(default_factory=dict)
    """figures of fields that take several, in core units; () where none is given"""
    unread: dict[str, np.ndarray[Any, np.dtype[np.bool_]]] = field(default_factory=dict)
    """entries whose figure is there and could not be read: neither given nor blank, so no default stands for it"""
    blanks: dict[str, float | str] = field(default_factory=dict)
    """what the shop says a blank means in its registers, in core units"""
    headings: dict[str, str] = field(default_factory=dict)
    """field -> the heading it was read from"""
    units: dict[str, str] = field(default_factory=dict)
    carried: dict[str, list[Any]] = field(default_factory=dict)
    """columns that mean nothing to the checks, as they are"""
    troubles: list[Trouble] = field(default_factory=list)
    system: str = "metric"
    """units that sentences about it are written in"""
    noted: set[Trouble] = field(default_factory=set, repr=False)
    """what was found by comparing figures, so that it is said once"""

    def __len__(self) -> int:
        """Return how many entries can be used."""
        return len(self.ids)

    def note(self, place: str, name: str, sentence: str) -> None:
        """Add a trouble, unless it was noted before."""
        trouble = Trouble(self.kind, place, name, sentence)
        if trouble not in self.noted:
            self.noted.add(trouble)
            self.troubles.append(trouble)

    def number(self, name: str) -> Floats:
        """Return a field's figures: as given, else what the shop or the field says of a blank, else NaN."""
        blank = self.blanks.get(name, fields(self.kind)[name].default)
        given = self.numbers.get(name, np.full(len(self), np.nan))
        filled = given if blank is None else np.where(np.isnan(given), float(blank), given)
        return np.where(self.unread[name], np.nan, filled) if name in self.unread else filled

    def text(self, name: str) -> list[str]:
        """Return a field's texts, "" where none is given and UNREAD where it could not be read."""
        blank = str(self.blanks.get(name, ""))
        texts = [text or blank for text in self.texts.get(name, [""] * len(self))]
        unread = self.unread.get(name, np.zeros(len(self), bool))
        return [UNREAD if bad else text for text, bad in zip(texts, unread)]

    def several(self, name: str) -> list[tuple[float, ...]]:
        """Return the figures of a field that takes several, () where none is given, (NaN,) where not read."""
        given = self.series.get(name, [()] * len(self))
        unread = self.unread.get(name, np.zeros(len(self), bool))
        return [(np.nan,) if bad else figures for figures, bad in zip(given, unread)]


def read_register(
    path: Path, kind: str, sheet: str | None = None, system: str = "metric", own: Mapping[str, str] | None = None
) -> Register:
    """Read a register.

    Arguments:
        path: .xlsx, .xlsm, .ods or .csv
        kind: "die" or "press"
        sheet: name of a sheet or table; else the one with the most headings that are known
        system: units of bare numbers under headings without a unit
        own: further headings (see `fields.read_own_headings`)

    Raises:
        Refused: the file cannot be read, or holds no register of this kind.
    """
    grids = read_grids(path)
    if sheet is not None:
        grids = [grid for grid in grids if grid.name.casefold() == sheet.casefold()]
        if not grids:
            raise Refused(f'holds no sheet or table "{sheet}"', path)
    best: tuple[int, Grid, int, list[Heading | WrongUnit | None]] | None = None
    for grid in grids:
        for row in range(min(_HEADINGS_WITHIN, len(grid.cells)) if not grid.table else 1):
            headings = [_try_heading(cell, kind, system, own or {}) for cell in grid.cells[row]]
            known = sum(isinstance(heading, Heading) for heading in headings)
            has_id = any(isinstance(h, Heading) and h.field.name == "id" for h in headings)
            if known >= 2 and has_id and (best is None or known > best[0]):
                best = (known, grid, row, headings)
    if best is None:
        what = noun(kind)
        raise Refused(f'holds no {what} register: no row of headings with "{what}" and at least one figure', path)
    _, grid, row, headings = best
    unit_row = _with_units_below(grid, row, headings, lambda text: _try_heading(text, kind, system, own or {}))
    reader = _Reader(kind, path, grid, row, unit_row or headings, system)
    reader.first += unit_row is not None
    return reader.read()


def _try_heading(cell: Any, kind: str, system: str, own: Mapping[str, str]) -> Heading | WrongUnit | None:
    if not isinstance(cell, str) or not cell.strip():
        return None
    try:
        return read_heading(cell, kind, system, own)
    except WrongUnit as error:
        return error


def _with_units_below(
    grid: Grid,
    row: int,
    headings: list[Heading | WrongUnit | None],
    read: Callable[[str], Heading | WrongUnit | None],
) -> list[Heading | WrongUnit | None] | None:
    """Return the headings with the units of a second heading row; None if the next row holds no units.

    A unit in the heading itself goes before; where the two differ the column is not used.
    """
    below = grid.cells[row + 1] if row + 1 < len(grid.cells) else []
    words = {c: cell for c, cell in enumerate(below) if cell is not None and str(cell).strip()}
    if not words or not all(isinstance(cell, str) and is_unit(cell) for cell in words.values()):
        return None
    known = [(c, heading) for c, heading in enumerate(headings) if isinstance(heading, Heading)]
    if any(heading.field.name == "id" and words.get(c, "-") != "-" for c, heading in known):
        return None  # an entry, whatever it is called
    found = list(headings)
    for c, heading in known:
        if c not in words or heading.field.kind is TEXT:
            continue
        cell = words[c]
        text, unit = str(grid.cells[row][c]), bare_unit(cell)
        if not heading.stated:
            found[c] = read(f"{text} [{unit}]")
        elif unit != heading.unit:
            sentence = f'heading "{text}" has the unit {heading.unit}, the row below it {unit}'
            found[c] = WrongUnit(sentence, argument=heading.field.name, value=unit)
    return found


class _Reader:
    """Reads the rows below the headings."""

    def __init__(
        self,
        kind: str,
        path: Path,
        grid: Grid,
        heading_row: int,
        headings: Sequence[Heading | WrongUnit | None],
        system: str,
    ) -> None:
        self.grid = grid
        self.texts = [str(cell).strip() if cell is not None else "" for cell in grid.cells[heading_row]]
        self.headings = headings
        self.first = heading_row + 1
        self.register = Register(kind, f"{path.name}: {grid.name}" if grid.name else path.name, system=system)

    def read(self) -> Register:
        columns = self.choose_columns()
        rows = [r for r in range(self.first, len(self.grid.cells)) if self.filled(r)]
        id_column = next(c for c, heading in columns.items() if heading.field.name == "id")
        bad: dict[int, str] = {}
        seen: dict[str, int] = {}
        ids: dict[int, str] = {}
        for r in rows:
            text = self.text(r, id_column, columns[id_column].field, bad)
            if not text:
                bad.setdefault(r, f"has no {noun(self.register.kind)} id")
            elif text in seen:
                bad.setdefault(r, f'has the id "{text}" of row {self.row_number(seen[text])} again')
            else:
                seen[text] = r
            ids[r] = text
        found: dict[str, Any] = {}
        for c, heading in list(columns.items()):
            field_ = heading.field
            if heading.unit == "%" and self.shares_for_percents(rows, c):
                self.note(self.texts[c], _PERCENT)
                del columns[c]
            elif field_.kind is TEXT:
                found[field_.name] = [self.text(r, c, field_, bad) for r in rows]
            else:
                found[field_.name] = self.numbers(rows, c, heading, bad)
        good = [i for i, r in enumerate(rows) if r not in bad]
        self.fill(rows, good, columns, found, ids)
        for r, sentence in sorted(bad.items()):
            place = f"row {self.row_number(r)}"
            self.register.troubles.append(Trouble(self.register.kind, place, ids[r], sentence))
        return self.register

    def choose_columns(self) -> dict[int, Heading]:
        """Return column -> heading; a field that stands twice is read from its first column."""
        columns: dict[int, Heading] = {}
        taken: dict[str, str] = {}
        for c, heading in enumerate(self.headings):
            if isinstance(heading, WrongUnit):
                self.note(self.texts[c], heading.rule + "; the column is not used")
            elif heading is not None and heading.field.name in taken:
                first = taken[heading.field.name]
                self.note(self.texts[c], f'means the same as "{first}"; the first one is used')
            elif heading is not None:
                columns[c] = heading
                taken[heading.field.name] = self.texts[c]
        return columns

    def row_number(self, row: int) -> int:
        return self.grid.row_numbers[row]

    def note(self, heading: str, sentence: str) -> None:
        self.register.troubles.append(Trouble(self.register.kind, f'column "{heading}"', "", sentence))

    def own_name(self, heading: str, column: int) -> str:
        """Return the name of a column that is carried through: no two are the same."""
        letter = get_column_letter(self.grid.column_numbers[column])
        heading = heading or f"column {letter}"
        return heading if heading not in self.register.carried else f"{heading} ({letter})"

    def filled(self, row: int) -> bool:
        return any(cell is not None and cell != "" for cell in self.grid.cells[row])

    def named(self, field_: Argument, column: int) -> Argument:
        """Return the field under the name that the user knows it by, for sentences."""
        return field_._replace(name=self.texts[column])

    def text(self, row: int, column: int, field_: Argument, bad: dict[int, str]) -> str:
        value = self.cell(row, column)
        if value is None or (isinstance(value, str) and not value.strip()):
            return ""
        try:
            return str(read_one(self.named(field_, column), value, 1.0))
        except (PassedOn, PressError) as error:
            if field_.name == "part":  # no check looks at it
                return ""
            if isinstance(error, PassedOn):
                bad.setdefault(row, f"{self.texts[column]} is the error {error.error.code}")
            else:
                bad.setdefault(row, error.sentence(self.register.system))
        return ""

    def cell(self, row: int, column: int) -> Any:
        cells = self.grid.cells[row]
        return cells[column] if column < len(cells) else None

    def figure(self, row: int, column: int) -> Any:
        """Return the cell of a figure: a number of a CSV file as a number, None where nothing is given."""
        value = self.cell(row, column)
        if value.__class__ is str:
            if value.strip().casefold() in _NOT_GIVEN:
                return None
            if self.grid.plain_text:
                number = plain_number(value, self.grid.decimal_comma)
                return value if number is None else number
        return value

    def shares_for_percents(self, rows: list[int], column: int) -> bool:
        """Whether a column of percents holds figures like 0.85 only: shares, shown as percents by their format."""
        numbers = [value for r in rows if isinstance(value := self.figure(r, column), float)]
        return any(numbers) and all(0 <= number <= 1 for number in numbers)

    def numbers(self, rows: list[int], column: int, heading: Heading, bad: dict[int, str]) -> Floats:
        values = np.full(len(rows), np.nan)
        range_ = field_range(self.register.kind, heading.field.name)
        named = self.named(heading.field, column)
        for i, r in enumerate(rows):
            value = self.figure(r, column)
            if value is None:
                continue
            if value.__class__ is not float:
                try:
                    value = read_one(named, value, heading.factor)
                except PassedOn as passed:
                    bad.setdefault(r, f"{self.texts[column]} is the error {passed.error.code}")
                    continue
                except PressError as error:
                    bad.setdefault(r, error.sentence(self.register.system))
                    continue
            else:
                value = value * heading.factor
                if not math.isfinite(value):
                    bad.setdefault(r, f"{self.texts[column]} is not a finite number")
                    continue
            sentence = out_of_range(value, range_)
            if sentence:
                bad.setdefault(
                    r,
                    f"{self.texts[column]} {sentence}, got {heading.field.kind.show(value, self.register.system)}",
                )
            else:
                values[i] = value
        return values

    def fill(
        self,
        rows: list[int],
        good: list[int],
        columns: dict[int, Heading],
        found: dict[str, Any],
        ids: dict[int, str],
    ) -> None:
        register = self.register
        register.ids = [ids[rows[i]] for i in good]
        register.rows = [self.row_number(rows[i]) for i in good]
        for c, heading in columns.items():
            register.headings[heading.field.name] = self.texts[c]
            register.units[heading.field.name] = heading.unit
        for c in range(len(self.grid.column_numbers)):
            if c not in columns:
                values = [self.cell(rows[i], c) for i in good]
                heading_text = self.texts[c] if c < len(self.texts) else ""
                if heading_text or any(value is not None for value in values):
                    register.carried[self.own_name(heading_text, c)] = values
        for name, column in found.items():
            if isinstance(column, np.ndarray):
                register.numbers[name] = column[good]
            else:
                register.texts[name] = [column[i] for i in good]


def noun(kind: str) -> str:
    """Return what an entry of a register is called in a sentence.

    >>> noun("drawing")
    'die'
    """
    return "die" if kind == "drawing" else kind


def field_range(kind: str, name: str) -> str:
    """Return the range a field's figures must be in, as fields.toml says it."""
    return str(field_entry(kind, name).get("range", "above 0"))


def out_of_range(value: float, range_: str) -> str:
    """Return what is wrong with a figure, "" if nothing is."""
    if range_ == "any" or (range_ == "may be 0" and value >= 0) or (range_ == "above 0" and value > 0):
        return ""
    if range_ == "share":
        return "" if 0 < value <= 1 else "must be above 0 and at most 1 (85 % is 0.85)"
    if range_ == "share or 0":
        return "" if 0 <= value <= 1 else "must be from 0 to 1 (85 % is 0.85)"
    if range_ == "whole":
        return "" if value >= 1 and value % 1 == 0 else "must be a whole number, 1 or more"
    return "must not be less than 0" if range_ == "may be 0" else "must be greater than 0"
