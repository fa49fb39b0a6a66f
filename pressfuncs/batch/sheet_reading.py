"""Reading the cells of one sheet: stored values by column, formulas as runs.

Rows of one layout come as blocks, and a block costs a few operations a column; other cells come one by one.
"""

from __future__ import annotations

import math
import posixpath
from typing import Any

from pressfuncs.batch import formulas
from pressfuncs.batch.addresses import get_column_letter, range_boundaries
from pressfuncs.batch.book import Run, Sheet
from pressfuncs.batch.cells import ATTRIBUTE, RawFormula, read_cells, text_of, unescape_text
from pressfuncs.batch.dates import EPOCH_1900, EPOCH_1904, days_of
from pressfuncs.batch.formulas import NotUnderstood, Ref, Template, Token
from pressfuncs.batch.layouts import Block, Place
from pressfuncs.errors import CellError

_TEXT_KINDS = ("str", "inlineStr")


class SheetReader:
    """Collects the cells of one sheet, growing the last run of a column while the formula stays the same."""

    def __init__(self, sheet: Sheet, strings: list[str], date_styles: frozenset[int], date1904: bool) -> None:
        """Begin with an empty sheet.

        Arguments:
            sheet: where the cells go
            strings: the shared strings of the workbook
            date_styles: the numbers of the styles that show dates and times
            date1904: the date system of the workbook
        """
        self.sheet = sheet
        self.strings = strings
        self.date_styles = date_styles
        self.epoch = EPOCH_1904 if date1904 else EPOCH_1900
        self.restart()

    def read(self, part: bytes, by_blocks: bool = True) -> Sheet:
        """Return the sheet with all its cells; `by_blocks=False` reads cell by cell, for comparison."""
        read_cells(part, posixpath.basename(self.sheet.part), self, by_blocks)
        _refuse_twice(self.sheet.runs)
        return self.sheet

    def restart(self) -> None:
        """Forget what was taken."""
        self.sheet.values.clear()
        self.sheet.runs.clear()
        self.sheet.dates.clear()
        self.sheet.hidden_rows = False
        self.last: dict[int, tuple[Run, Any]] = {}
        self.shared: dict[str, Template | NotUnderstood] = {}
        self.templates: dict[Template, Template] = {}
        self.heads: dict[bytes, tuple[str, bool, bool]] = {}

    def hide(self) -> None:
        """Note that a row is hidden."""
        self.sheet.hidden_rows = True

    # Rows of one layout

    def take_block(self, block: Block) -> None:
        """Take rows of one layout, column by column."""
        count = len(block.rows)
        rows = range(block.first, block.first + count)
        columns = list(zip(*block.rows))
        for place in block.layout.places:
            heads, contents = columns[place.group - 1], columns[place.group]
            if place.inline:
                contents = tuple(b if a is None else a for a, b in zip(contents, columns[place.group + 1]))
            found = set(heads)
            found.discard(None)  # cells that a row does not have
            known = {head: self.head(head) for head in found}
            if place.has_formula:
                self.extend(place, rows, any(dynamic for _, _, dynamic in known.values()))
            for head, (_, dated, _) in known.items():
                if dated:
                    self.sheet.dates.update(
                        (row, place.column)
                        for row, h, content in zip(rows, heads, contents)
                        if h == head and (content or place.has_formula)  # blank cells show nothing
                    )
            if not any(contents) and not any(kind in _TEXT_KINDS for kind, *_ in known.values()):
                continue  # blank cells, and formulas without stored values
            values = self.sheet.values.setdefault(place.column, {})
            if len(known) == 1 and all(contents):
                values.update(zip(rows, self.converted(next(iter(known.values()))[0], contents)))
            else:
                self.take_mixed(place, rows, heads, contents, values)

    def take_mixed(
        self,
        place: Place,
        rows: range,
        heads: tuple[bytes | None, ...],
        contents: tuple[bytes | None, ...],
        values: dict[int, Any],
    ) -> None:
        """Take the values of a column whose cells differ in type, or of which some hold nothing."""
        for row, head, content in zip(rows, heads, contents):
            if head is None:
                continue
            kind = self.heads[head][0]
            if content:
                values[row] = self.converted(kind, (content,))[0]
            elif kind in _TEXT_KINDS and (place.has_formula or content is not None):
                values[row] = ""

    def head(self, attributes: bytes) -> tuple[str, bool, bool]:
        """Return the type of a cell, whether it shows a date, and whether its formula spills."""
        found = self.heads.get(attributes)
        if found is None:
            given = dict(ATTRIBUTE.findall(attributes))
            kind = given.get(b"t", b"n").decode()
            dated = kind == "d" or int(given.get(b"s", b"0")) in self.date_styles
            found = self.heads[attributes] = (kind, dated, b"cm" in given)
        return found

    def converted(self, kind: str, contents: tuple[bytes | None, ...]) -> list[Any]:
        """Return the values that cells of one type store."""
        if kind == "n":
            return _finite(list(map(float, contents)))  # type: ignore[arg-type]
        if kind == "s":
            return [self.strings[int(content)] for content in contents]  # type: ignore[arg-type]
        return [self.value(kind, text_of(content or b"")) for content in contents]

    def extend(self, place: Place, rows: range, dynamic: bool) -> None:
        """Let the run of a column go on, or begin one; the layout says that all rows hold the same formula."""
        attributes = {name.decode(): value.decode() for name, value in ATTRIBUTE.findall(place.attributes)}
        text = place.formula_in(rows[0])
        self.add_formula(rows[0], place.column, RawFormula(text, attributes, dynamic))
        run, _ = self.last[place.column]
        run.last = rows[-1]

    # One cell

    def take(self, row: int, column: int, style: int, kind: str, text: str | None, raw: RawFormula | None) -> None:
        """Take one cell."""
        value = None if text is None else self.value(kind, text)
        if value is not None:
            self.sheet.values.setdefault(column, {})[row] = value
        if style in self.date_styles or (kind == "d" and value is not None):
            self.sheet.dates.add((row, column))
        if raw is not None:
            self.add_formula(row, column, raw)

    def value(self, kind: str, text: str) -> Any:
        """Return the value that a cell of a type stores."""
        if kind == "n":
            return _finite([float(text)])[0] if text else None
        if kind == "s":
            return self.strings[int(text)]
        if kind == "b":
            return text.strip() in ("1", "true")
        if kind == "e":
            return CellError(text)
        if kind == "d" and text:
            return days_of(text, self.epoch)
        return unescape_text(text)

    def add_formula(self, row: int, column: int, raw: RawFormula) -> None:
        """Let the run of the column go on if the formula is the same, or begin one."""
        kind = raw.attributes.get("t", "normal")
        if kind == "normal" and column in self.last:
            run, write = self.last[column]
            if run.last == row - 1 and write is not None and self.same(write, row, raw.text):
                run.last = row
                return
        try:
            template = self.template(row, column, kind, raw)
            write = template.bind(column, as_written=True) if template is not None and kind != "array" else None
            frozen = ""
        except NotUnderstood as error:
            template, write, frozen = error.template and self.intern(error.template), None, str(error)
        area = _area(raw.attributes["ref"]) if kind in ("array", "dataTable") else None
        if kind == "dataTable":
            template, write, frozen = _data_table(raw.attributes, row, column), None, "it is a data table"
        elif template is None and not frozen:
            frozen = "its formula is stored with another cell that is missing"
        if area is None and template is not None and column in self.last:
            run, _ = self.last[column]
            if run.last == row - 1 and run.template is template and run.area is None and run.frozen == frozen:
                run.last = row
                return
        run = Run(self.sheet.name, column, row, row, template, area, raw.dynamic, frozen)
        self.sheet.runs.append(run)
        self.last[column] = (run, write if area is None else None)

    @staticmethod
    def same(write: Any, row: int, text: str) -> bool:
        """Whether a template, bound to its column, gives this text in a row."""
        try:
            return bool(write(row) == text)
        except NotUnderstood:
            return False

    def template(self, row: int, column: int, kind: str, raw: RawFormula) -> Template | None:
        """Return the template of a formula; members of a shared formula take that of its first cell."""
        if kind == "shared":
            number = raw.attributes.get("si", "")
            if raw.text:
                try:
                    self.shared[number] = self.intern(formulas.parse(raw.text, row, column))
                except NotUnderstood as error:
                    self.shared[number] = error
            found = self.shared.get(number)
            if isinstance(found, NotUnderstood):
                raise found
            return found
        return self.intern(formulas.parse(raw.text, row, column)) if raw.text else None

    def intern(self, template: Template) -> Template:
        """Return the one template that is equal to this one."""
        return self.templates.setdefault(template, template)


def _refuse_twice(runs: list[Run]) -> None:
    """Raise ValueError where a cell holds two formulas: nobody can say which of them is meant."""
    last: dict[int, int] = {}
    for run in sorted(runs, key=lambda run: (run.column, run.first)):
        if run.first <= last.get(run.column, 0):
            raise ValueError(f"the cell {get_column_letter(run.column)}{run.first} is there twice")
        last[run.column] = run.last


def _finite(numbers: list[float]) -> list[float]:
    """Return the numbers of cells; ValueError for what no spreadsheet stores, such as INF."""
    if not all(map(math.isfinite, numbers)):
        raise ValueError("a cell stores a number that is not finite")
    return numbers


def _area(text: str) -> tuple[int, int, int, int]:
    c1, r1, c2, r2 = range_boundaries(text)
    return int(r1 or 1), int(c1 or 1), int(r2 or 1), int(c2 or 1)


def _data_table(attributes: dict[str, str], row: int, column: int) -> Template:
    """Return the cells that a data table hangs on: the formulas above and beside it, and its input cells."""
    r1, c1, r2, c2 = _area(attributes["ref"])
    top, left = max(1, r1 - 1), max(1, c1 - 1)
    areas = [(top, left, top, c2), (top, left, r2, left)]
    areas += [_area(attributes[name]) for name in ("r1", "r2") if name in attributes]
    refs = [Ref(None, *area, (True,) * 4) for area in areas]
    return Template(tuple(Token("OPERAND", "RANGE", "", ref) for ref in refs))
