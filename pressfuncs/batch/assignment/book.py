"""The workbook that `assign` writes: overview with a chart, ranking, what fails and why, troubles, inputs."""

from __future__ import annotations

import datetime
import io
import os
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.chart import BarChart, Reference
from openpyxl.chart.label import DataLabelList
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter

from pressfuncs._version import __version__
from pressfuncs.batch.assignment.checks import CHECKS
from pressfuncs.batch.assignment.fields import fields
from pressfuncs.batch.assignment.ranking import NOT_SUITABLE, STATUSES, Assignment, Pair, Progress, shown
from pressfuncs.batch.assignment.registers import Register, Trouble
from pressfuncs.batch.formulas import LAST_ROW
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.report import CAUTION
from pressfuncs.batch.saving import replace_file
from pressfuncs.quantities import FORCE, PART_RATE, TEXT

FAILING_ROWS = 100_000
"""Failing pairs up to which the workbook lists them all; beyond, only those of dies that no press takes."""

_INK, _HEAD, _LINE = "1F2A30", "34444D", "9AA5AB"
_PLAIN = Font(name="Calibri", size=10, color=_INK)
_BOLD = Font(name="Calibri", size=10, color=_INK, bold=True)
_TITLE = Font(name="Calibri", size=16, color=_INK, bold=True)
_HEADING = Font(name="Calibri", size=10, color="FFFFFF", bold=True)
_HEAD_FILL = PatternFill("solid", start_color=_HEAD, end_color=_HEAD)
_BOX = Border(bottom=Side("thin", _LINE))
_WRAP = Alignment(wrap_text=True, vertical="top")
_HEAD_WRAP = Alignment(wrap_text=True, vertical="center", horizontal="center")

_LONGEST_TEXT = 32_767  # characters that a cell holds
_NUMBER = "#,##0.##"
_MARGIN = "+#,##0.0##;-#,##0.0##;0"


@dataclass(frozen=True)
class _Column:
    heading: str
    width: float
    number_format: str = "General"
    wrap: bool = False


def write_book(
    result: Assignment,
    path: Path,
    system: str,
    options: Sequence[tuple[str, str]],
    progress: Progress | None = None,
) -> None:
    """Write the outcome to a workbook; an existing file is replaced only by a complete one.

    Arguments:
        result: the outcome
        path: the .xlsx file
        system: units to show, "metric" or "inch"
        options: what the user asked for, as (name, value), for the overview
        progress: called with the number of dies written since the last call

    Raises:
        Refused: the workbook would have more rows than a sheet holds, or cannot be written.
    """
    troubles = len(result.dies.troubles) + len(result.presses.troubles)
    longest = max(len(result.dies) * min(result.top, len(result.presses)), len(result.dies), troubles)
    if longest >= LAST_ROW:
        raise Refused("would have more rows than a sheet holds; write the pairs with --pairs FILE.csv", path)
    book = Workbook(write_only=True)
    _Writer(book, result, system, progress).write(options)
    content = io.BytesIO()
    book.save(content)
    replace_file(Path(os.path.realpath(path)), (content.getbuffer(),))


class _Writer:
    def __init__(self, book: Workbook, result: Assignment, system: str, progress: Progress | None) -> None:
        self.book = book
        self.result = result
        self.system = system
        self.progress = progress

    def write(self, options: Sequence[tuple[str, str]]) -> None:
        result = self.result
        self.overview(options)
        self.table(
            "Ranking", self.ranking_columns(), map(self.ranking_row, result.ranked(self.progress)), freeze="C2"
        )
        self.table(
            "Not suitable", self.failing_columns(), map(self.failing_row, self.failing_pairs()), freeze="C2"
        )
        troubles = [*result.dies.troubles, *result.presses.troubles]
        columns = [
            _Column("Register", 12),
            _Column("Where", 30),
            _Column("Entry", 18),
            _Column("What", 90, wrap=True),
        ]
        self.table("Problems", columns, map(_trouble_row, troubles))
        for title, register in (("Dies as read", result.dies), ("Presses as read", result.presses)):
            self.table(title, self.register_columns(register), self.register_rows(register), freeze="B2")

    # Sheets

    def table(self, title: str, columns: list[_Column], rows: Iterable[list[Any]], freeze: str = "A2") -> None:
        """Write one sheet: a heading row that stays in sight, and the rows."""
        sheet = self.book.create_sheet(title)
        _page(sheet)  # before the first row: what stands at the head of the sheet is written with it
        sheet.freeze_panes = freeze
        for number, column in enumerate(columns, start=1):
            sheet.column_dimensions[get_column_letter(number)].width = column.width
        sheet.row_dimensions[1].height = 44
        sheet.append(
            [
                self.cell(sheet, column.heading, _HEADING, fill=_HEAD_FILL, alignment=_HEAD_WRAP)
                for column in columns
            ]
        )
        count = 0
        for row in rows:
            count += 1
            sheet.append([self.body(sheet, column, value) for column, value in zip(columns, row)])
        if count:
            sheet.auto_filter.ref = f"A1:{get_column_letter(len(columns))}{count + 1}"
        sheet.print_title_rows = "1:1"

    def body(self, sheet: Any, column: _Column, value: Any) -> Any:
        if value is None:
            return None
        styles: dict[str, Any] = {"border": _BOX}
        if column.wrap:
            styles["alignment"] = _WRAP
        if not isinstance(value, str):
            styles["number_format"] = column.number_format
        return self.cell(sheet, value, _PLAIN, **styles)

    @staticmethod
    def cell(sheet: Any, value: Any, font: Font, **styles: Any) -> Any:
        if isinstance(value, str):
            value = ILLEGAL_CHARACTERS_RE.sub("\N{REPLACEMENT CHARACTER}", value)[:_LONGEST_TEXT]
        made = WriteOnlyCell(sheet, value=value)
        made.font = font
        for name, style in styles.items():
            setattr(made, name, style)
        if isinstance(value, str):
            made.data_type = "s"  # a name that looks like a formula, or like an error, stays a name
        return made

    def overview(self, options: Sequence[tuple[str, str]]) -> None:
        result = self.result
        sheet = self.book.create_sheet("Overview")
        _page(sheet, wide=False)
        for letter, width in (("A", 30), ("B", 16), ("C", 70)):
            sheet.column_dimensions[letter].width = width
        sheet.append([self.cell(sheet, "Which press runs which die", _TITLE)])
        caution = textwrap.wrap(CAUTION, 115)
        for line in caution:
            sheet.append([self.cell(sheet, line, _BOLD)])
        sheet.append([])
        facts = [
            ("Written", datetime.datetime.now().astimezone().strftime("%Y-%m-%d %H:%M %z")),
            ("pressfuncs", __version__),
            ("Dies", f"{len(result.dies)} of {result.dies.source}"),
            ("Presses", f"{len(result.presses)} of {result.presses.source}"),
            *options,
        ]
        for name, value in facts:
            sheet.append([self.cell(sheet, name, _BOLD), self.cell(sheet, value, _PLAIN)])
        sheet.append([])
        sheet.append([self.heading(sheet, text) for text in ("Dies", "Number", "What it means")])
        for name, count, meaning in self.die_counts():
            sheet.append(
                [self.cell(sheet, name, _BOLD), self.cell(sheet, count, _PLAIN), self.cell(sheet, meaning, _PLAIN)]
            )
        sheet.append([])
        sheet.append([self.heading(sheet, text) for text in ("Press", "Dies it suits best")])
        start = 1 + len(caution) + 1 + len(facts) + 1 + 1 + len(STATUSES) + 1 + 1
        counts = sorted(result.best_count().items(), key=lambda entry: (-entry[1], entry[0]))[:30]
        for press, count in counts:
            sheet.append([self.cell(sheet, press, _PLAIN), self.cell(sheet, count, _PLAIN)])
        if counts:
            sheet.add_chart(_chart(sheet, start, len(counts)), f"C{start}")

    def heading(self, sheet: Any, text: str) -> Any:
        return self.cell(sheet, text, _HEADING, fill=_HEAD_FILL)

    def die_counts(self) -> list[tuple[str, int, str]]:
        status = self.result.status
        best = status.min(axis=1) if status.size else np.full(len(self.result.dies), 2)
        meanings = (
            "at least one press passes every check that applies",
            "at least one press fails no check, but some lack a figure: see Not checked in the sheet Ranking",
            "every press fails a check: see the sheet Not suitable",
        )
        return [(words, int((best == number).sum()), meanings[number]) for number, words in enumerate(STATUSES)]

    # Rows

    def ranking_columns(self) -> list[_Column]:
        unit = FORCE.unit(self.system)
        return [
            _Column("Die", 16),
            _Column("Rank", 7),
            _Column("Press", 16),
            _Column("Status", 18),
            _Column("Cost a part, press and setup", 13, "#,##0.0000"),
            _Column("Good parts, parts/h", 11, "#,##0"),
            _Column(f"Capacity there, {unit}", 12, _NUMBER),
            _Column("Used of it", 9, "0 %"),
            *self.margin_columns(),
            _Column("Not checked, for want of a figure", 64),
        ]

    def margin_columns(self) -> list[_Column]:
        columns = []
        for check in CHECKS:
            if check.name == "kind":
                continue
            unit = check.kind.unit(self.system)
            columns.append(_Column(f"{check.short} margin, {unit}", 11.5, _MARGIN))
        return columns

    def margins(self, pair: Pair) -> list[float | str]:
        """Return the margins; in words where a check was not made, or does not apply."""
        row: list[float | str] = []
        for check, margin in zip(CHECKS, pair.margins):
            if check.name != "kind":
                value = shown(margin, check.kind.factor(self.system))
                row.append(value if value is not None else "not checked" if check in pair.unchecked else "-")
        return row

    def ranking_row(self, pair: Pair) -> list[Any]:
        return [
            self.result.dies.ids[pair.die],
            pair.rank,
            self.result.presses.ids[pair.press],
            pair.status,
            shown(pair.cost, 1.0),
            shown(pair.part_rate, PART_RATE.factor(self.system)),
            shown(pair.capacity, FORCE.factor(self.system)),
            shown(pair.utilisation, 1.0),
            *self.margins(pair),
            ", ".join(check.short for check in pair.unchecked) or None,
        ]

    def failing_columns(self) -> list[_Column]:
        return [
            _Column("Die", 16),
            _Column("Press", 16),
            _Column("First failing check", 26),
            _Column("All failing checks, with figures", 110),
            _Column("Not checked, for want of a figure", 64),
        ]

    def failing_row(self, pair: Pair) -> list[Any]:
        return [
            self.result.dies.ids[pair.die],
            self.result.presses.ids[pair.press],
            pair.failed[0].label,
            pair.reasons(self.system),
            ", ".join(check.short for check in pair.unchecked) or None,
        ]

    def failing_pairs(self) -> Iterator[Pair]:
        failing = self.result.status == STATUSES.index(NOT_SUITABLE)
        everything = int(failing.sum()) <= FAILING_ROWS
        left = FAILING_ROWS
        for pair in self.result.failing():
            if everything or self.result.first[pair.die] < 0:
                yield pair
                left -= 1
                if not everything and left == 0:
                    return

    def register_columns(self, register: Register) -> list[_Column]:
        columns = []
        for name in self.read_fields(register):
            kind = fields(register.kind)[name].kind
            unit = kind.unit(self.system)
            heading = register.headings.get(name, name)
            columns.append(
                _Column(f"{name.replace('_', ' ')}{f', {unit}' if unit else ''} (from: {heading})", 16, _NUMBER)
            )
        return [*columns, *(_Column(heading, 16) for heading in register.carried)]

    @staticmethod
    def read_fields(register: Register) -> list[str]:
        return [name for name in register.headings if name in register.numbers or name in register.texts]

    def register_rows(self, register: Register) -> Iterator[list[Any]]:
        columns: list[Any] = []
        for name in self.read_fields(register):
            kind = fields(register.kind)[name].kind
            if kind is TEXT:
                columns.append([text or None for text in (register.ids if name == "id" else register.texts[name])])
            else:
                factor = kind.factor(self.system)
                columns.append([shown(float(value), factor) for value in register.numbers[name]])
        for carried in register.carried.values():
            columns.append([_carried(value) for value in carried])
        yield from (list(row) for row in zip(*columns))


def _carried(value: Any) -> Any:
    """Return a cell that is carried through; an error value as its code."""
    return (
        value
        if value is None or isinstance(value, (str, float, bool, datetime.date, datetime.time))
        else str(value)
    )


def _trouble_row(trouble: Trouble) -> list[Any]:
    return [f"{trouble.register} register", trouble.place, trouble.name or None, trouble.sentence]


def _chart(sheet: Any, start: int, count: int) -> BarChart:
    chart = BarChart()
    chart.type = "bar"
    chart.style = 10
    chart.title = "Dies that each press suits best"
    chart.legend = None
    chart.gapWidth = 60
    chart.add_data(Reference(sheet, min_col=2, min_row=start, max_row=start + count), titles_from_data=True)
    chart.set_categories(Reference(sheet, min_col=1, min_row=start + 1, max_row=start + count))
    chart.x_axis.scaling.orientation = "maxMin"
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.y_axis.title = "dies"
    chart.y_axis.number_format = "0"
    chart.series[0].graphicalProperties.solidFill = _HEAD
    chart.dataLabels = DataLabelList(showVal=True, showCatName=False, showSerName=False, showLegendKey=False)
    chart.height, chart.width = max(5.0, 1.6 + 0.55 * count), 16
    return chart


def _page(sheet: Any, wide: bool = True) -> None:
    sheet.page_margins.left = sheet.page_margins.right = 0.4
    sheet.page_margins.top = sheet.page_margins.bottom = 0.8
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = 8 if wide else 9  # A3, A4
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.oddFooter.left.text = "pressfuncs - planning figures only"
    sheet.oddFooter.right.text = "&A, page &P of &N"
