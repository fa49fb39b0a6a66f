"""Engines that check each other: every ordinary formula computed by each, and listed where they differ.

Our own functions are computed by us in all of them, so that a difference is one between the engines.
"""

from __future__ import annotations

import random
import re
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pressfuncs.batch import engine_formulon, office
from pressfuncs.batch.addresses import get_column_letter
from pressfuncs.batch.book import Book, Cell, Run
from pressfuncs.batch.closure import Cells, Closure, cells_of
from pressfuncs.batch.comparison import equal
from pressfuncs.batch.compute import compute
from pressfuncs.batch.engine import Engine, Formualizer
from pressfuncs.batch.normalise import normalise_runs
from pressfuncs.batch.package import Package
from pressfuncs.batch.plan import VOLATILE
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.second import BUDGET, SECONDS, Failed, Hurried, Late
from pressfuncs.batch.spread import Dependents
from pressfuncs.batch.writeback import rewrite_cells

_SAMPLES = 10
_FORMULA = re.compile(rb'(<c r="([A-Z]+)([0-9]+)"[^<>]*>)<f(?:\s[^<>]*)?(?:/>|>[^<]*</f>)')


@dataclass(frozen=True)
class Difference:
    """An ordinary formula on which the engines differ, with the value that each gets."""

    sheet: str
    cell: str
    values: Mapping[str, Any]
    functions: tuple[str, ...] = ()


@dataclass
class Crossed:
    """How the engines agree on one workbook."""

    engines: list[str] = field(default_factory=list)
    compared: int = 0
    """ordinary formulas that two engines or more computed"""
    agreed: int = 0
    differences: list[Difference] = field(default_factory=list)
    functions: dict[str, tuple[int, int]] = field(default_factory=dict)
    """of each function that occurs where engines differ: formulas that differ, and formulas compared"""
    remarks: list[str] = field(default_factory=list)
    """why an engine took no part, or not in everything"""


def cross_check(package: Package, book: Book) -> Crossed:
    """Compute every ordinary formula with every engine that is installed, and compare."""
    crossed = Crossed()
    found: dict[str, Mapping[Cell, Any]] = {}
    first = _computed(Formualizer.name, book, lambda: Formualizer(book.date1904), crossed)
    runs = normalise_runs(book)
    changing = _changing(runs)
    found[Formualizer.name] = first
    if not engine_formulon.installed():
        crossed.remarks.append("formulon is not installed: pip install 'pressfuncs[check]'")
    elif not engine_formulon.has_room():
        crossed.remarks.append("formulon was left out: too little memory is left; raise --memory")
    else:
        name = engine_formulon.Formulon.name
        part = _part(book, runs, first, changing, crossed)
        deadline = time.monotonic() + SECONDS
        found[name] = _computed(
            name, part, lambda: Hurried(engine_formulon.Formulon(book.date1904), deadline), crossed
        )
    if office.program() is None:
        crossed.remarks.append("LibreOffice is not installed")
    else:
        try:
            found["LibreOffice"] = _by_office(package, book, first)
        except Refused as refused:
            crossed.remarks.append(refused.sentence)
    crossed.engines = [name for name, values in found.items() if values or name == Formualizer.name]
    _compare(book, runs, changing, found, crossed)
    return crossed


def _computed(name: str, book: Book, new_engine: Callable[[], Engine], crossed: Crossed) -> Mapping[Cell, Any]:
    try:
        return compute(book, new_engine, everything=True).values
    except Late:
        crossed.remarks.append(f"{name} was stopped after {SECONDS:g} s")
    except Failed:
        crossed.remarks.append(f"{name} failed")
    except Refused as refused:
        crossed.remarks.append(f"{name} failed: the book {refused.sentence}")
    return {}


def _changing(runs: list[Run]) -> Cells:
    """Return the cells of volatile formulas (NOW, RAND) and of what depends on them: they never agree."""
    seeds = (
        (number, (run.first, run.last))
        for number, run in enumerate(runs)
        if run.template is not None and run.template.functions & VOLATILE
    )
    return cells_of(runs, Dependents(runs).spread(seeds))


def _part(book: Book, runs: list[Run], first: Mapping[Cell, Any], changing: Cells, crossed: Crossed) -> Book:
    """Return what the second engine is given: the workbook, or if it is large some rows of every run."""
    cells = sum(len(rows) for sheet in book.sheets.values() for rows in sheet.values.values())
    if max(cells, len(first)) <= BUDGET.cells:
        return book
    ordinary = [run for run in runs if run.template is not None and not run.template.has_ours and not run.frozen]
    closure = Closure(book, runs, BUDGET)
    chance = random.Random(0)
    for share in (0.0, 1.0, 0.5, *(chance.random() for _ in range(_SAMPLES - 3))):  # first rows, last ones, some
        closure.ask(
            cell
            for run in ordinary
            if (cell := (run.sheet, run.first + round(share * (run.last - run.first)), run.column)) not in changing
        )
    kept = closure.cells()
    given = sum(1 for run in ordinary for _ in kept.within(run))
    whole = sum(len(run.rows) for run in ordinary)
    crossed.remarks.append(
        f"formulon was given {given} of {whole} ordinary formulas, some of every column: the book holds more than"
        f" {BUDGET.cells} cells"
    )
    return closure.book_of(first, ())


def _compare(
    book: Book, runs: list[Run], changing: Cells, found: Mapping[str, Mapping[Cell, Any]], crossed: Crossed
) -> None:
    compared: Counter[str] = Counter()
    differing: Counter[str] = Counter()
    left = 0
    rank = {name: number for number, name in enumerate(book.sheets)}
    for run in sorted(runs, key=lambda run: (rank[run.sheet], run.first, run.column)):
        if run.template is None or run.template.has_ours:
            continue
        for cell in run.cells():
            if cell in changing:
                left += 1
                continue
            values = {name: of[cell] for name, of in found.items() if cell in of}
            if len(values) < 2:
                continue
            crossed.compared += 1
            compared.update(run.template.functions)
            first, *others = values.values()
            if all(equal(first, other) for other in others):
                crossed.agreed += 1
            else:
                differing.update(run.template.functions)
                place = f"{get_column_letter(cell[2])}{cell[1]}"
                functions = tuple(sorted(run.template.functions))
                crossed.differences.append(Difference(cell[0], place, values, functions))
    crossed.functions = {name: (count, compared[name]) for name, count in differing.most_common()}
    if left:
        crossed.remarks.append(
            f"{left} formulas that hang on TODAY, NOW or RAND are not compared"
            if left > 1
            else "1 formula that hangs on TODAY, NOW or RAND is not compared"
        )


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
