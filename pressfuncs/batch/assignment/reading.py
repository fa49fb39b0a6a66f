"""Reading the rows below the headings of a register, column by column."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from openpyxl.utils import get_column_letter

from pressfuncs.batch.assignment.cells import NOT_GIVEN, SEPARATORS, Cells, Figures, Flags
from pressfuncs.batch.assignment.fields import Heading, NotUsed, field_entry, fields, is_force, name_in, nearest
from pressfuncs.batch.assignment.heads import Head
from pressfuncs.batch.assignment.notation import reading
from pressfuncs.batch.assignment.register import Register, Trouble, noun
from pressfuncs.batch.assignment.rows import is_total
from pressfuncs.batch.assignment.sources import NO_RESULT, Grid
from pressfuncs.quantities import TEXT

_PERCENT = (
    "is in percent by its heading, yet no figure is above 1: write shares under a heading without %, or percents;"
    " the column is not used"
)
_ONE_FORM = ("id", "part")  # texts that are named in many ways: the first column counts
_FORCE_CELL = re.compile(r"\s*(?:[0-9.,]+\s*[x\u00d7*]\s*)?[0-9.,]+\s*(?:kN|MN|N|lbf|kgf|kp|tonf\w*)")


class Reader(Cells):
    """Reads a grid into a register."""

    def __init__(self, register: Register, grid: Grid, head: Head, decimal: str | None) -> None:
        """Take the grid and its headings; `decimal` is what the user says of its numbers."""
        super().__init__(register, grid, head, decimal)
        self.ids: dict[int, str] = {}
        self.unread: dict[str, Flags] = {}
        self.used: set[int] = set()

    def read(self) -> Register:
        """Fill the register."""
        columns = self.choose_columns()
        self.read_ids(columns["id"][0])
        self.notation.learn(self.number_texts(columns))
        found: dict[str, Any] = {}
        for name, places in columns.items():
            field_ = fields(self.register.kind)[name]
            if field_.kind is TEXT:
                self.used.update(places)
                found[name] = self.text_field(name, places)
            else:
                self.figure_field(name, places, found)
        self.note_unknown(columns)
        self.note_refused(found)
        good = [i for i, r in enumerate(self.rows) if r not in self.bad]
        self.fill(good, columns, found)
        for r, sentence in sorted(self.bad.items()):
            self.register.troubles.append(
                Trouble(self.register.kind, f"row {self.row_number(r)}", self.ids[r], sentence)
            )
        return self.register

    # Columns

    def choose_columns(self) -> dict[str, list[int]]:
        """Return the columns of each field; the name of an entry comes first."""
        columns: dict[str, list[int]] = {"id": []}
        for c, heading in enumerate(self.headings):
            if isinstance(heading, Heading):
                columns.setdefault(heading.field.name, []).append(c)
        for name in _ONE_FORM:
            for c in columns.get(name, [])[1:]:
                self.note(c, f'means the same as "{self.texts[columns[name][0]]}"; the first one is used')
            columns[name] = columns.get(name, [])[:1]
        return {name: places for name, places in columns.items() if places}

    def note_refused(self, found: dict[str, Any]) -> None:
        """Say which columns are not used; what they should give is not known where no other column gives it."""
        for c, heading in enumerate(self.headings):
            if isinstance(heading, NotUsed) and heading.sentence:
                self.note(c, heading.sentence)
                for name in heading.unread:
                    self.leave_open(name, found)

    def note_unknown(self, columns: dict[str, list[int]]) -> None:
        """Name the columns that are not known, and what nobody can tell because of them."""
        kind = self.register.kind
        for c, text in enumerate(self.texts):
            if self.headings[c] is not None or not text:
                continue
            near = nearest(text, kind, any(self.looks_like_figure(self.cell(r, c)) for r in self.rows))
            cure = 'map it with --fields to a field, or to "" if it is not used'
            hint = f'nearest is "{near.heading}"; ' if near else ""
            filled = np.array([_says_something(self.cell(r, c)) for r in self.rows], bool)
            open_ = (
                near is not None and near.misspelt and near.field not in (*columns, *_ONE_FORM) and filled.any()
            )
            if kind != "press" and self.holds_forces(text, c):
                self.unread["pad_force"] = filled | self.unread.get("pad_force", np.zeros(len(self.rows), bool))
                self.note(c, f"is a force that is not understood, so the whole stroke is not known; {hint}{cure}")
            elif open_:
                self.note(c, f"is not known; {hint}that is left open: write it so, or {cure}")
            else:
                self.register.unknown[self.own_name(text, c)] = near.heading if near else ""
            if near and open_:
                self.unread[near.field] = np.ones(len(self.rows), bool)

    def holds_forces(self, text: str, column: int) -> bool:
        """Whether a column that is not known holds forces, by its heading or by the units of its cells."""
        cells = [cell for r in self.rows if (cell := self.cell(r, column)) is not None]
        if is_force(text):
            return any(not isinstance(cell, str) or any(sign.isdigit() for sign in cell) for cell in cells)
        return any(isinstance(cell, str) and _FORCE_CELL.fullmatch(cell) for cell in cells)

    def leave_open(self, name: str, found: dict[str, Any]) -> None:
        """Make a field not known in every row in which no column gives it."""
        values = found.get(name)
        if values is None:
            open_ = np.ones(len(self.rows), bool)
        elif isinstance(values, np.ndarray):
            open_ = np.isnan(values)
        else:
            open_ = np.array([not value for value in values], bool)
        self.unread[name] = open_ | self.unread.get(name, np.zeros(len(self.rows), bool))

    # Rows

    def read_ids(self, column: int) -> None:
        """Read the name of each entry; rows of totals and rows without a name are set aside."""
        seen: dict[str, int] = {}
        for r in self.rows:
            if self.cell(r, column) is NO_RESULT:
                self.bad.setdefault(r, f"{self.texts[column]} is a formula without a stored result")
            text = self.text(r, column, self.heading(column).field)
            first = next((cell for cell in self.grid.cells[r] if isinstance(cell, str)), "")
            if is_total(text, first):
                self.bad.setdefault(r, f'is a row of totals, "{text or first}", and no {noun(self.register.kind)}')
            elif not text:
                self.bad.setdefault(r, f"has no {noun(self.register.kind)} id")
            elif text in seen:
                self.bad.setdefault(r, f'has the id "{text}" of row {self.row_number(seen[text])} again')
            else:
                seen[text] = r
            self.ids[r] = text

    def own_name(self, heading: str, column: int) -> str:
        """Return the name of a column that is carried through: no two are the same."""
        letter = get_column_letter(self.grid.column_numbers[column])
        heading = heading or f"column {letter}"
        twice = self.texts.index(heading) != column if heading in self.texts else False
        return f"{heading} ({letter})" if twice else heading

    def text_field(self, name: str, places: Sequence[int]) -> list[str]:
        """Return the texts of a field; a row in which two columns differ is set aside, kinds are joined."""
        field_ = fields(self.register.kind)[name]
        texts = [""] * len(self.rows)
        for c in places:
            no_result = [r for r in self.rows if self.cell(r, c) is NO_RESULT]
            if name not in _ONE_FORM:
                self.note_no_result(name, c, no_result)
            for i, text in enumerate(self.text_column(c, field_)):
                before = texts[i]
                if not text or text.casefold() == before.casefold():
                    continue
                if before and name != "press_kind":
                    self.differ(self.rows[i], places[0], before, c, text)
                texts[i] = f"{before}, {text}" if before else text
        return texts

    def differ(self, row: int, first: int, one: Any, second: int, other: Any, add_up: bool = False) -> None:
        """Set a row aside in which two columns of one meaning say different things, or may add up."""
        why = "both mean the same: correct one"
        if add_up:
            why = "it is not clear whether they add up: write their sum in one column"
        sentence = f'"{self.texts[first]}" is {one} and "{self.texts[second]}" is {other}, and {why}'
        self.bad.setdefault(row, f'{sentence}, or leave one out with --fields ("heading" = "")')

    def number_texts(self, columns: dict[str, list[int]]) -> Iterator[str]:
        """Yield the texts of all columns of figures, from which it is told how decimals are written."""
        for name, places in columns.items():
            if fields(self.register.kind)[name].kind is not TEXT:
                for c in places:
                    for r in self.rows:
                        cell = self.cell(r, c)
                        if cell.__class__ is str and ("," in cell or ("." in cell and not self.notation.points)):
                            yield from SEPARATORS.split(cell)

    def figure_field(self, name: str, places: Sequence[int], found: dict[str, Any]) -> None:
        """Read all columns of a field of figures; where two say different things the row is set aside."""
        read: list[tuple[int, Figures]] = []
        several = fields(self.register.kind)[name].series
        parts = field_entry(self.register.kind, name).get("parts", False)
        refused = False
        bad_before = dict(self.bad)
        for c in places:
            if len(places) > 1 and not any(self.looks_like_figure(self.cell(r, c)) for r in self.rows):
                self.note(c, f'holds no figures; another column gives "{name.replace("_", " ")}"')
                continue
            column = self.series_column(c) if several else self.number_column(c)
            if self.heading(c).unit == "%" and column.bare and all(0 <= number <= 1 for number in column.bare):
                if any(column.bare):
                    self.bad = dict(bad_before)
                    self.note(c, _PERCENT)
                    refused = True
                    continue
            self.note_doubts(name, c, column)
            read.append((c, column))
            self.used.add(c)
        if read:
            first, column = read[0]
            values, unread = column.values, column.unread
            source = [first] * len(self.rows)
            for c, other in read[1:]:
                unread = unread | other.unread
                for i, r in enumerate(self.rows):
                    one, two = values[i], other.values[i]
                    add_up = parts and name_in(self.texts[source[i]]) != name_in(self.texts[c])
                    if _blank(one) or (add_up and one == 0 and not _blank(two)):
                        values[i], source[i] = two, c
                    elif _blank(two) or (add_up and two == 0):
                        continue
                    elif add_up or not self.agree(r, source[i], one, c, two):
                        self.differ(r, source[i], self.shown(r, source[i]), c, self.shown(r, c), add_up)
            found[name] = values
            if unread.any():
                self.unread[name] = unread
        if refused:
            self.leave_open(name, found)

    def agree(self, row: int, first: int, one: Any, second: int, two: Any) -> bool:
        """Whether two figures are the same; in different units, within the digits that they are written to."""
        if isinstance(one, tuple):
            return len(one) == len(two) and all(map(math.isclose, one, two))
        within = 0.0
        if self.heading(first).unit != self.heading(second).unit:
            within = sum(self.half_digit(self.cell(row, c)) * self.heading(c).factor for c in (first, second))
        return bool(abs(one - two) <= max(within, 1e-9 * abs(one)))

    def half_digit(self, cell: Any) -> float:
        """Return half of the last digit that a number is written to."""
        text = f"{cell:.15g}" if isinstance(cell, float) else str(cell).replace(",", ".")
        digits = re.match(r"\s*[-+]?[0-9]*\.?([0-9]*)", text)
        return 0.5 * 10.0 ** -(len(digits[1]) if digits else 0)

    def note_no_result(self, name: str, column: int, rows: Sequence[int]) -> None:
        """Say how many formulas of a column have no result; their entries do not have the figure."""
        if rows:
            count = f"{len(rows)} formulas have" if len(rows) > 1 else "a formula has"
            self.note(
                column,
                f"{count} no stored result and could not be computed, first {self.place(rows[0], column)}: "
                "open the workbook in the application and save it; until then the figure is not known",
            )
            without = set(rows)
            flags = np.array([r in without for r in self.rows], bool)
            self.unread[name] = flags | self.unread.get(name, np.zeros(len(self.rows), bool))

    def note_doubts(self, name: str, column: int, read: Figures) -> None:
        """Say what of a column could not be read for sure, and how to mend it."""
        self.note_no_result(name, column, read.no_result)
        if read.as_text and not self.grid.plain_text:
            count = len(read.as_text)
            self.register.as_text[self.texts[column]] = (count, self.place(read.as_text[0], column))
        if not read.doubtful:
            return
        row, text, both = read.doubtful[0]
        more = f", and {len(read.doubtful) - 1} more like it" if len(read.doubtful) > 1 else ""
        cell = f'{self.place(row, column)} is "{text.strip()}"'
        may_be = f"{cell}, which may be {both.point:.15g} or {both.comma:.15g}{more}"
        say = "say --decimal comma or --decimal point"
        if self.grid.plain_text:
            cure = f"{say}, or write {text.strip().split()[0]} without the mark; the column is not used"
            read.unread[:] = True
            read.values[:] = [()] * len(self.rows) if isinstance(read.values, list) else np.nan
        else:
            cure = f"type it as a number, not as a text, or {say}; until then it is not known"
        self.note(column, f"{may_be}: {cure}")

    # The end

    def fill(self, good: list[int], columns: dict[str, list[int]], found: dict[str, Any]) -> None:
        """Put what was read of the good rows into the register."""
        register = self.register
        register.ids = [self.ids[self.rows[i]] for i in good]
        register.rows = [self.row_number(self.rows[i]) for i in good]
        for name, column in found.items():
            heading = self.heading(columns[name][0])
            register.headings[name] = self.texts[columns[name][0]]
            register.units[name] = heading.unit
            if isinstance(column, np.ndarray):
                register.numbers[name] = column[good]
            elif heading.field.series:
                register.series[name] = [column[i] for i in good]
            else:
                register.texts[name] = [column[i] for i in good]
        register.unread = {name: flags[good] for name, flags in self.unread.items() if flags[good].any()}
        for c in range(len(self.grid.column_numbers)):
            if c not in self.used:
                values = [None if (v := self.cell(self.rows[i], c)) is NO_RESULT else v for i in good]
                text = self.texts[c] if c < len(self.texts) else ""
                if text or any(value is not None for value in values):
                    register.carried[self.own_name(text, c)] = values


def _says_something(cell: Any) -> bool:
    """Whether a cell of a column that is not known holds more than a blank, a dash or a nought."""
    if isinstance(cell, str):
        found = reading(cell)
        return cell.strip().casefold() not in NOT_GIVEN and (found is None or found.point != 0)
    return cell is not None and cell != 0


def _blank(value: Any) -> bool:
    return value == () if isinstance(value, tuple) else bool(math.isnan(value))
