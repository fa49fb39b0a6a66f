"""The workbook that `assign` writes: overview with a chart, ranking, what fails and why, problems, inputs."""

from __future__ import annotations

import datetime
import io
import os
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from pressfuncs._version import __version__
from pressfuncs.batch.assignment.fields import fields
from pressfuncs.batch.assignment.looks import (
    NO_CHECK,
    NOT_CHECKED,
    NUMBER,
    Column,
    Painter,
    chart,
    decimals,
    heading_height,
    no_less,
    no_more,
    number_format,
    page,
    row_height,
)
from pressfuncs.batch.assignment.ranking import STATUSES, Assignment, Pair, Progress, shown
from pressfuncs.batch.assignment.registers import Register, Trouble
from pressfuncs.batch.formulas import LAST_ROW
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.report import CAUTION
from pressfuncs.batch.saving import replace_file
from pressfuncs.functions._checks import CHECKS, NOT_SUITABLE
from pressfuncs.quantities import FORCE, PART_RATE, TEXT

FAILING_ROWS = 100_000
"""Failing pairs up to which the workbook lists them all; beyond, only those of dies that no press takes."""

_BARS = 30  # presses on the overview

Row = tuple[list[Any], bool]
"""Values of a row, and whether a line is drawn below it."""


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
    if path.suffix.lower() != ".xlsx":
        raise Refused("is no .xlsx file; choose this ending", path)
    troubles = len(result.dies.troubles) + len(result.presses.troubles)
    longest = max(len(result.dies) * min(result.top, len(result.presses)), len(result.dies), troubles)
    if longest >= LAST_ROW:
        raise Refused("would have more rows than a sheet holds; write the pairs with --pairs FILE.csv", path)
    book = Workbook(write_only=True)
    content = io.BytesIO()
    try:
        _Writer(book, result, system, progress).write(options)
        book.save(content)
    finally:
        for sheet in book.worksheets:
            if not sheet.closed:  # stopped half-way: its temporary file is closed before Python ends it
                sheet.close()
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
        ranked = _grouped(result.ranked(self.progress), self.ranking_row)
        self.table("Ranking", self.ranking_columns(), ranked, freeze="D2")
        failing = _grouped(self.failing_pairs(), self.failing_row)
        self.table("Not suitable", self.failing_columns(), failing, freeze="C2")
        troubles = [*result.dies.troubles, *result.presses.troubles]
        columns = [Column("Register", 14), Column("Where", 30), Column("Entry", 16)]
        columns.append(Column("What", 100, wrap=True))
        self.table("Problems", columns, ((_trouble_row(trouble), False) for trouble in troubles))
        for title, register in (("Dies as read", result.dies), ("Presses as read", result.presses)):
            rows = ((row, False) for row in self.register_rows(register))
            self.table(title, self.register_columns(register), rows, freeze="B2")

    # Sheets

    def table(self, title: str, columns: list[Column], rows: Iterable[Row], freeze: str = "A2") -> None:
        """Write one sheet: a heading row that stays in sight, and the rows."""
        sheet = self.book.create_sheet(title)
        page(sheet, columns)  # before the first row: what stands at the head of the sheet is written with it
        paint = Painter(sheet)
        sheet.freeze_panes = freeze
        for number, column in enumerate(columns, start=1):
            sheet.column_dimensions[get_column_letter(number)].width = column.width
        sheet.row_dimensions[1].height = heading_height(columns)
        sheet.append([paint.cell(column.heading, "heading") for column in columns])
        count = 0
        for values, last in rows:
            count += 1
            height = row_height(columns, values)
            if height is not None:
                sheet.row_dimensions[count + 1].height = height
            sheet.append(paint.row(columns, values, last))
        if count:
            sheet.auto_filter.ref = f"A1:{get_column_letter(len(columns))}{count + 1}"
        sheet.print_title_rows = "1:1"
        sheet.print_title_cols = "A:C" if freeze == "D2" else "A:A"

    def overview(self, options: Sequence[tuple[str, str]]) -> None:
        result = self.result
        sheet = self.book.create_sheet("Overview")
        columns = [Column("", 30), Column("", 22), Column("", 78)]
        page(sheet, columns, wide=False)
        sheet.sheet_view.showGridLines = False
        sheet.row_dimensions[1].height = 26
        paint = Painter(sheet)
        for letter, column in zip("ABC", columns):
            sheet.column_dimensions[letter].width = column.width
        lines: list[list[Any]] = [[paint.cell("Which press runs which die", "title")]]
        lines += [[paint.cell(line, "bold")] for line in textwrap.wrap(CAUTION, 110)]
        lines.append([])
        lines += [[paint.cell(name, "bold"), paint.cell(value)] for name, value in self.facts(options)]
        lines.append([])
        lines.append([paint.cell(text, "heading") for text in ("Dies", "Number", "What it means")])
        lines += [
            [paint.cell(name, "bold"), paint.cell(n, "count"), paint.cell(text)] for name, n, text in self.counts()
        ]
        lines.append([])
        lines.append([paint.cell(text, "heading") for text in ("Press", "Dies ranked first for")])
        start = len(lines)
        best = sorted(result.best_count().items(), key=lambda entry: (-entry[1], entry[0]))
        lines += [[paint.cell(press), paint.cell(count, "count")] for press, count in best[:_BARS]]
        if len(best) > _BARS:
            lines.append([paint.cell(f"and {len(best) - _BARS} more presses", "open")])
        for line in lines:
            sheet.append(line)
        if best:
            sheet.add_chart(chart(sheet, start, min(len(best), _BARS)), f"C{start}")

    def facts(self, options: Sequence[tuple[str, str]]) -> Iterator[tuple[str, str]]:
        dies, presses = self.result.dies, self.result.presses
        yield "Written", datetime.datetime.now().astimezone().strftime("%Y-%m-%d %H:%M %z")
        yield "pressfuncs", __version__
        yield "Dies", f"{len(dies)} of {dies.source}"
        yield "Presses", f"{len(presses)} of {presses.source}"
        yield from options
        yield from (("Shop profile", words) for words in self.result.profile.words(self.system))
        for register in (dies, presses):
            if register.carried:
                yield f"Not used of the {'dies' if register is dies else 'presses'}", ", ".join(register.carried)

    def counts(self) -> list[tuple[str, int, str]]:
        status = self.result.status
        best = status.min(axis=1) if status.size else np.full(len(self.result.dies), 2)
        meanings = (
            "at least one press passes every check that applies",
            "no press passes all, but one fails none: a figure is missing, see the sheet Ranking",
            "every press fails a check: see the sheet Not suitable",
        )
        return [(words, int((best == number).sum()), meanings[number]) for number, words in enumerate(STATUSES)]

    # Rows

    def ranking_columns(self) -> list[Column]:
        unit = FORCE.unit(self.system)
        return [
            Column("Die", 14),
            Column("Rank", 7, look="count"),
            Column("Press", 14),
            Column("Status", 16),
            Column("Cost a part, press and setup", 11, "#,##0.000000"),
            Column("Good parts, parts/h", 10, "#,##0"),
            Column(f"Capacity at the height, {unit}", 11, "#,##0.0"),
            Column("Capacity used", 8, "0.0 %"),
            *self.margin_columns(),
            Column("Verdict", 80, wrap=True),
        ]

    def margin_columns(self) -> list[Column]:
        columns = []
        for check in CHECKS:
            if check.name != "kind":
                heading = f"{check.name.replace('_', ' ')} margin, {check.kind.unit(self.system)}"
                columns.append(Column(heading, 11.5, number_format(check.kind, self.system)))
        return columns

    def margins(self, pair: Pair) -> list[float | str]:
        """Return the margins; in words where a check was not made, or does not apply."""
        row: list[float | str] = []
        for check, margin in zip(CHECKS, pair.margins):
            if check.name != "kind":
                value = no_more(shown(margin, check.kind.factor(self.system)), decimals(check.kind, self.system))
                row.append(value if value is not None else NOT_CHECKED if check in pair.unchecked else NO_CHECK)
        return row

    def ranking_row(self, pair: Pair) -> list[Any]:
        return [
            self.result.dies.ids[pair.die],
            pair.rank,
            self.result.presses.ids[pair.press],
            pair.status,
            no_less(shown(pair.cost, 1.0), 6),
            no_more(shown(pair.part_rate, PART_RATE.factor(self.system)), 0),
            no_more(shown(pair.capacity, FORCE.factor(self.system)), 1),
            no_less(shown(pair.utilisation, 1.0), 3),
            *self.margins(pair),
            pair.verdict(self.system),
        ]

    def failing_columns(self) -> list[Column]:
        return [
            Column("Die", 14),
            Column("Press", 14),
            Column("First failing check", 28),
            Column("Verdict", 110, wrap=True),
        ]

    def failing_row(self, pair: Pair) -> list[Any]:
        return [
            self.result.dies.ids[pair.die],
            self.result.presses.ids[pair.press],
            pair.failed[0].label,
            pair.verdict(self.system),
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

    def register_columns(self, register: Register) -> list[Column]:
        columns = []
        for name in self.read_fields(register):
            kind = fields(register.kind)[name].kind
            unit = kind.unit(self.system)
            heading = f"{name.replace('_', ' ')}{f', {unit}' if unit else ''}\nfrom: {register.headings[name]}"
            columns.append(Column(heading, 18 if kind is TEXT else 12, NUMBER))
        return [*columns, *(Column(f"{heading}\nnot used", 14) for heading in register.carried)]

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
        columns += [[_carried(value) for value in carried] for carried in register.carried.values()]
        yield from (list(row) for row in zip(*columns))


def _grouped(pairs: Iterator[Pair], row: Any) -> Iterator[Row]:
    """Yield the rows of pairs; a line is drawn below the last one of each die."""
    before: Pair | None = None
    for pair in pairs:
        if before is not None:
            yield row(before), before.die != pair.die
        before = pair
    if before is not None:
        yield row(before), True


def _carried(value: Any) -> Any:
    """Return a cell that is carried through; what a workbook cannot hold, such as an error, as text."""
    if isinstance(value, datetime.date) and value.year < 1900:
        return str(value)
    plain = (str, float, bool, datetime.date, datetime.time, type(None))
    return value if isinstance(value, plain) else str(value)


def _trouble_row(trouble: Trouble) -> list[Any]:
    return [f"{trouble.register} register", trouble.place, trouble.name or None, trouble.sentence]
