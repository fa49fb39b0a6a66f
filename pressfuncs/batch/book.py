"""A workbook as the batch mode sees it: stored values by column, formulas as runs, names, tables.

A `Run` is a stretch of rows in one column that hold the same formula. Registers are filled down, so a sheet
of 100 000 rows has a few runs, and everything that depends on the formula alone is done once for each.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format
from openpyxl.utils import range_boundaries
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_ISO8601, to_excel

from pressfuncs.batch import formulas
from pressfuncs.batch.cells import RawFormula, read_cells, unescape_text
from pressfuncs.batch.formulas import NotUnderstood, Ref, Template, Token
from pressfuncs.batch.package import Package, parse_xml
from pressfuncs.batch.refusals import Refused
from pressfuncs.errors import CellError

_HIDDEN_ROW = re.compile(rb"<(?:\w+:)?row\s[^<>]*\bhidden\s*=\s*[\"'](?:1|true)")

Cell = tuple[str, int, int]
"""A cell's address: sheet name, row, column."""


@dataclass
class Run:
    """Rows `first` to `last` of one column with the same formula; an array formula is a run of one row."""

    sheet: str
    column: int
    first: int
    last: int
    template: Template | None
    area: tuple[int, int, int, int] | None = None  # of an array formula: row1, column1, row2, column2
    dynamic: bool = False
    frozen: str = ""  # why it cannot be evaluated; "" if it can

    @property
    def rows(self) -> range:
        """The rows it fills."""
        return range(self.first, self.last + 1)

    def cells(self) -> Iterator[Cell]:
        """Yield the addresses of the cells that hold the formula."""
        for row in self.rows:
            yield (self.sheet, row, self.column)

    def part(self, first: int, last: int) -> Run:
        """Return the rows `first` to `last` as a run of their own."""
        return Run(self.sheet, self.column, first, last, self.template, self.area, self.dynamic, self.frozen)


@dataclass
class Sheet:
    """One worksheet: `values[column][row]` is what each cell stores, for inputs and formulas alike."""

    name: str
    part: str
    values: dict[int, dict[int, Any]] = field(default_factory=dict)
    runs: list[Run] = field(default_factory=list)
    dates: set[tuple[int, int]] = field(default_factory=set)
    hidden_rows: bool = False

    def value(self, row: int, column: int) -> Any:
        """Return what a cell stores; None for a blank."""
        found = self.values.get(column)
        return None if found is None else found.get(row)


@dataclass(frozen=True)
class Table:
    """A worksheet table: where it is, and the columns by lower-case name."""

    sheet: str
    area: tuple[int, int, int, int]  # row1, column1, row2, column2, heading and total rows included
    heading_rows: int
    total_rows: int
    columns: dict[str, int]

    @property
    def data_rows(self) -> tuple[int, int]:
        """First and last data row."""
        return self.area[0] + self.heading_rows, self.area[2] - self.total_rows


@dataclass
class Book:
    """A workbook read: sheets in order by name, defined names by (sheet or None, lower-case name), tables."""

    sheets: dict[str, Sheet]
    names: dict[tuple[str | None, str], str]
    tables: dict[str, Table]
    date1904: bool

    def sheet(self, name: str) -> Sheet | None:
        """Return the sheet of this name, whatever its letter case."""
        found = self.sheets.get(name)
        return found or self._by_lower.get(name.lower())

    def __post_init__(self) -> None:
        """Index the sheets by lower-case name; references in formulas may differ in case."""
        self._by_lower = {name.lower(): sheet for name, sheet in self.sheets.items()}

    @property
    def runs(self) -> list[Run]:
        """All runs of all sheets."""
        return [run for sheet in self.sheets.values() for run in sheet.runs]


def read_book(package: Package) -> Book:
    """Read everything the batch mode needs; Refused with one sentence if the workbook cannot be read."""
    try:
        return _read_book(package)
    except (KeyError, IndexError, ValueError, UnicodeDecodeError) as error:
        cause = f"{type(error).__name__}: {error}"
        raise Refused(f"is damaged ({cause}); repair it in the application that wrote it") from error


def _read_book(package: Package) -> Book:
    root = parse_xml(package.read(package.workbook_part), package.workbook_part)
    relations = package.relations(package.workbook_part)
    by_kind = {relation.type_tail: relation.target for relation in relations.values() if not relation.external}
    properties = next((e for e in root if _local(e) == "workbookPr"), None)
    date1904 = properties is not None and properties.attrib.get("date1904") in ("1", "true")
    strings = _shared_strings(package, by_kind.get("sharedStrings"))
    date_styles = _date_styles(package, by_kind.get("styles"))
    sheet_names: list[str] = []
    sheets: dict[str, Sheet] = {}
    tables: dict[str, Table] = {}
    for element in _children(root, "sheets", "sheet"):
        name = element.attrib["name"]
        sheet_names.append(name)
        relation = relations.get(next((v for k, v in element.attrib.items() if k.endswith("}id")), ""))
        if relation is None or relation.type_tail != "worksheet" or not package.has(relation.target):
            continue  # chart sheets and dialogue sheets hold no cells
        reader = _SheetReader(Sheet(name, relation.target), strings, date_styles, date1904)
        sheets[name] = reader.read(package.read(relation.target))
        for inner in package.relations(relation.target).values():
            if inner.type_tail == "table":
                _read_table(package, name, inner.target, tables)
    names = {}
    for element in _children(root, "definedNames", "definedName"):
        scope = element.attrib.get("localSheetId")
        owner = sheet_names[int(scope)] if scope is not None else None
        names[owner, element.attrib["name"].lower()] = element.text or ""
    return Book(sheets, names, tables, date1904)


def _local(element: Any) -> str:
    return str(element.tag).rpartition("}")[2]


def _children(root: Any, parent: str, child: str) -> Iterator[Any]:
    for element in root:
        if _local(element) == parent:
            yield from (inner for inner in element if _local(inner) == child)


def _shared_strings(package: Package, part: str | None) -> list[str]:
    if part is None or not package.has(part):
        return []
    strings = []
    for item in parse_xml(package.read(part), part):
        if _local(item) != "si":
            continue
        texts = []
        for child in item:
            kind = _local(child)
            if kind == "t":
                texts.append(child.text or "")
            elif kind == "r":
                texts += [inner.text or "" for inner in child if _local(inner) == "t"]
        strings.append(unescape_text("".join(texts)))
    return strings


def _date_styles(package: Package, part: str | None) -> frozenset[int]:
    """Return the style numbers that show a number as a date or a time."""
    if part is None or not package.has(part):
        return frozenset()
    root = parse_xml(package.read(part), part)
    formats = dict(BUILTIN_FORMATS)
    for element in _children(root, "numFmts", "numFmt"):
        formats[int(element.attrib["numFmtId"])] = element.attrib["formatCode"]
    return frozenset(
        number
        for number, element in enumerate(_children(root, "cellXfs", "xf"))
        if is_date_format(formats.get(int(element.attrib.get("numFmtId", "0")), "General"))
    )


def _read_table(package: Package, sheet: str, part: str, tables: dict[str, Table]) -> None:
    root = parse_xml(package.read(part), part)
    c1, r1, c2, r2 = range_boundaries(root.attrib["ref"])
    columns = [unescape_text(e.attrib["name"]).lower() for e in _children(root, "tableColumns", "tableColumn")]
    name = root.attrib.get("displayName") or root.attrib["name"]
    tables[name.lower()] = Table(
        sheet=sheet,
        area=(int(r1 or 1), int(c1 or 1), int(r2 or 1), int(c2 or 1)),
        heading_rows=int(root.attrib.get("headerRowCount", "1")),
        total_rows=int(root.attrib.get("totalsRowCount", "0")),
        columns={column: int(c1 or 1) + i for i, column in enumerate(columns)},
    )


class _SheetReader:
    """Collects the cells of one sheet, growing the last run of a column while the formula stays the same."""

    def __init__(self, sheet: Sheet, strings: list[str], date_styles: frozenset[int], date1904: bool) -> None:
        self.sheet = sheet
        self.strings = strings
        self.date_styles = date_styles
        self.epoch = CALENDAR_MAC_1904 if date1904 else CALENDAR_WINDOWS_1900
        self.restart()

    def read(self, part: bytes) -> Sheet:
        read_cells(part, posixpath.basename(self.sheet.part), self.take, self.restart)
        self.sheet.hidden_rows = _HIDDEN_ROW.search(part) is not None
        return self.sheet

    def restart(self) -> None:
        """Forget what was taken."""
        self.sheet.values.clear()
        self.sheet.runs.clear()
        self.sheet.dates.clear()
        self.last: dict[int, tuple[Run, Any]] = {}
        self.shared: dict[str, Template | NotUnderstood] = {}
        self.templates: dict[Template, Template] = {}

    def take(self, row: int, column: int, style: int, kind: str, text: str | None, raw: RawFormula | None) -> None:
        value: Any
        if text is None:
            value = None
        elif kind == "n":
            value = float(text) if text else None
        elif kind == "s":
            value = self.strings[int(text)]
        elif kind == "b":
            value = text.strip() in ("1", "true")
        elif kind == "e":
            value = CellError(text)
        elif kind == "d" and text:
            value = float(to_excel(from_ISO8601(text), self.epoch))
            self.sheet.dates.add((row, column))
        else:
            value = unescape_text(text)
        if value is not None:
            rows = self.sheet.values.get(column)
            if rows is None:
                rows = self.sheet.values[column] = {}
            rows[row] = value
        if style in self.date_styles:
            self.sheet.dates.add((row, column))
        if raw is not None:
            self.add_formula(row, column, raw)

    def add_formula(self, row: int, column: int, raw: RawFormula) -> None:
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
        return self.templates.setdefault(template, template)


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


def split_qualified(text: str) -> tuple[str | None, str]:
    """Split "Sheet!name" or "'Sheet 1'!name" into sheet and name.

    >>> split_qualified("'Shop''s'!rate")
    ("Shop's", 'rate')
    """
    match = re.fullmatch(r"(?:'((?:[^']|'')+)'|([^'!]+))!(.+)", text, re.DOTALL)
    if match is None:
        return None, text
    return (match[1] or match[2]).replace("''", "'"), match[3]
