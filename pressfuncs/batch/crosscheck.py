"""Engines that check each other: every ordinary formula computed by each, and listed where they differ.

Our own functions are computed by us in all of them, so that a difference is one between the engines.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from openpyxl.utils import get_column_letter

from pressfuncs.batch import engine_formulon, office
from pressfuncs.batch.book import Book, Cell
from pressfuncs.batch.comparison import equal
from pressfuncs.batch.compute import compute
from pressfuncs.batch.engine import Engine, Formualizer
from pressfuncs.batch.package import Package
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.second import BUDGET
from pressfuncs.batch.writeback import rewrite_cells

_FORMULA = re.compile(rb'(<c r="([A-Z]+)([0-9]+)"[^<>]*>)<f(?:\s[^<>]*)?(?:/>|>[^<]*</f>)')


@dataclass(frozen=True)
class Difference:
    """An ordinary formula on which the engines differ, with the value that each gets."""

    sheet: str
    cell: str
    values: Mapping[str, Any]


@dataclass
class Crossed:
    """How the engines agree on one workbook."""

    engines: list[str] = field(default_factory=list)
    compared: int = 0
    """ordinary formulas that two engines or more computed"""
    agreed: int = 0
    differences: list[Difference] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    """why an engine took no part"""


def cross_check(package: Package, book: Book) -> Crossed:
    """Compute every ordinary formula with every engine that is installed, and compare."""
    crossed = Crossed()
    found: dict[str, Mapping[Cell, Any]] = {}
    found[Formualizer.name] = _computed(book, lambda: Formualizer(book.date1904), crossed)
    cells = sum(len(rows) for sheet in book.sheets.values() for rows in sheet.values.values())
    if not engine_formulon.installed():
        crossed.remarks.append("formulon is not installed: pip install 'pressfuncs[check]'")
    elif cells > BUDGET.cells:
        crossed.remarks.append(f"formulon was left out: more than {BUDGET.cells} cells")
    else:
        name = engine_formulon.Formulon.name
        found[name] = _computed(book, lambda: engine_formulon.Formulon(book.date1904), crossed)
    if office.program() is None:
        crossed.remarks.append("LibreOffice is not installed")
    else:
        try:
            found["LibreOffice"] = _by_office(package, book, found[Formualizer.name])
        except Refused as refused:
            crossed.remarks.append(refused.sentence)
    crossed.engines = list(found)
    _compare(book, found, crossed)
    return crossed


def _computed(book: Book, new_engine: Callable[[], Engine], crossed: Crossed) -> Mapping[Cell, Any]:
    try:
        return compute(book, new_engine, everything=True).values
    except Refused as refused:
        crossed.remarks.append(f"an engine {refused.sentence}")
        return {}


def _compare(book: Book, found: Mapping[str, Mapping[Cell, Any]], crossed: Crossed) -> None:
    for run in sorted(book.runs, key=lambda run: (list(book.sheets).index(run.sheet), run.first, run.column)):
        if run.template is None or run.template.has_ours:
            continue
        for cell in run.cells():
            values = {name: of[cell] for name, of in found.items() if cell in of}
            if len(values) < 2:
                continue
            crossed.compared += 1
            first, *others = values.values()
            if all(equal(first, other) for other in others):
                crossed.agreed += 1
            else:
                place = f"{get_column_letter(cell[2])}{cell[1]}"
                crossed.differences.append(Difference(cell[0], place, values))


def _by_office(package: Package, book: Book, values: Mapping[Cell, Any]) -> dict[Cell, Any]:
    """Give LibreOffice the workbook with constants in place of our functions; return what it computes."""
    replaced: dict[str, bytes] = {}
    for name, sheet in book.sheets.items():
        ours = {
            (cell[1], cell[2])
            for run in sheet.runs
            if run.template is None or run.template.has_ours
            for cell in run.cells()
        }
        if not ours:
            continue
        known = {place: values[name, *place] for place in ours if (name, *place) in values}
        part, _ = rewrite_cells(package.read(sheet.part), known)
        replaced[sheet.part] = _without_formulas(part, ours)
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder)
        copy = there / "book.xlsx"
        copy.write_bytes(b"".join(package.with_parts(replaced)))
        done = office.computed(copy, there / "office")
    return {
        cell: value
        for run in book.runs
        for cell in run.cells()
        if (other := done.sheets.get(cell[0])) is not None and (value := other.value(cell[1], cell[2])) is not None
    }


def _without_formulas(part: bytes, cells: set[tuple[int, int]]) -> bytes:
    """Make constants of formula cells."""
    wanted = {(get_column_letter(column).encode(), b"%d" % row) for row, column in cells}
    taken = 0

    def constant(match: re.Match[bytes]) -> bytes:
        nonlocal taken
        if (match[2], match[3]) not in wanted:
            return match[0]
        taken += 1
        return match[1]

    part = _FORMULA.sub(constant, part)
    if taken < len(wanted):
        raise Refused("LibreOffice was left out: a sheet is not written in the usual way")
    return part
