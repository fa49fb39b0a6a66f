"""Recalculating one workbook file: read, compute, compare with what is stored, write back only what changed."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pressfuncs.batch import engine_formulon, second
from pressfuncs.batch.archive import DEFAULT_LIMITS, Limits
from pressfuncs.batch.book import Book, Cell
from pressfuncs.batch.book_reading import read_book
from pressfuncs.batch.both_ways import compare_ways
from pressfuncs.batch.comparison import equal
from pressfuncs.batch.compute import Computed, compute
from pressfuncs.batch.crosscheck import cross_check
from pressfuncs.batch.engine import Engine, Formualizer
from pressfuncs.batch.fresh_errors import with_errors_settled
from pressfuncs.batch.names import clean_names
from pressfuncs.batch.outcome import Changes, Disagreement, Failing, Frozen, Outcome, address
from pressfuncs.batch.package import Package
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.values import Values
from pressfuncs.batch.writeback import rewrite_columns
from pressfuncs.errors import CellError
from pressfuncs.tables import own


@dataclass(frozen=True)
class Options:
    """How to recalculate; the defaults are the safe ones."""

    everything: bool = False
    """refresh ordinary formulas too, also where the engine disagrees with what the file stores"""
    column_by_column: bool = True
    """False evaluates every call on its own; the results are the same"""
    allow_signed: bool = False
    """write a digitally signed workbook although that breaks its signature"""
    clean_names: bool = False
    """give our functions their plain names in the formulas, where an application wrote longer ones"""
    second_engine: bool = True
    """ask formulon, where it is installed, about what the first engine cannot compute or gets otherwise"""
    cross_check: bool = False
    """compute every ordinary formula with every engine there is, and list where they differ"""
    both_ways: bool = False
    """compute column by column and cell by cell, and list where that differs"""
    limits: Limits = DEFAULT_LIMITS


def recalculate(path: Path, destination: Path | None, options: Options | None = None) -> Outcome:
    """Recalculate a workbook.

    Arguments:
        path: an .xlsx or .xlsm file
        destination: where to write it; the same path for in place, None to check only
        options: see `Options`

    Returns:
        what changed and what is to be said; an `Outcome` that is not `complete` was written all the same, with
        the cells it names left as they were.

    Raises:
        Refused: the file cannot be read, computed or written; it is untouched.
    """
    options = options or Options()
    with Package.open(path, options.limits) as package:
        if destination is not None:
            if package.signed and not options.allow_signed:
                raise Refused("is digitally signed, and any change breaks the signature; remove it first", path)
            package.require_writable(destination)
        try:
            book = read_book(package)
            with own.beside(path):
                by_columns = options.column_by_column
                computed = compute(book, lambda: new_engine(book), options.everything, by_columns, by_columns)
                ways = None
                if options.both_ways:
                    ways = compare_ways(package, computed, lambda: new_engine(book), options.everything)
                asked = _second_opinion(book, computed, options)
                computed = with_errors_settled(book, computed)
                crossed = cross_check(package, book) if options.cross_check else None
        except Refused as refused:
            raise Refused(refused.sentence, path) from None
        stale = _stale(book, computed.values)
        outcome = _outcome(path, book, computed, stale)
        outcome.settled, outcome.unasked = asked.settled, asked.sentence
        outcome.crossed, outcome.ways = crossed, ways
        if destination is not None:
            replaced = _parts(package, book, computed, stale, options.column_by_column)
            if options.clean_names:
                outcome.renamed = _clean(package, book, replaced)
            if package.save(destination, replaced):
                outcome.written = destination
    return outcome


def _second_opinion(book: Book, computed: Computed, options: Options) -> second.Asked:
    """Ask the second engine where it could help."""
    if not (options.second_engine and second.questions(computed)):
        return second.Asked()
    if not engine_formulon.installed():
        return second.Asked(left=second.questions(computed), why=second.NOT_INSTALLED)
    return second.ask(book, computed, lambda: engine_formulon.Formulon(book.date1904), options.everything)


def new_engine(book: Book) -> Engine:
    """Return an empty engine for the workbook."""
    return Formualizer(book.date1904)


def _stale(book: Book, values: Values) -> dict[str, dict[int, dict[int, Any]]]:
    """Return the values that differ from what is stored, by sheet (in the order of the book), column and row."""
    stale: dict[str, dict[int, dict[int, Any]]] = {name: {} for name in book.sheets}
    for (sheet, column), new in values.columns.items():
        held = book.sheets[sheet].values.get(column)
        differing = new
        if held:
            differing = {
                row: value
                for row, value in new.items()
                if (old := held.get(row)) is not value and not (old.__class__ is value.__class__ and old == value)
            }
            differing = {row: value for row, value in differing.items() if not equal(held.get(row), value)}
        if differing:
            stale[sheet][column] = differing
    return stale


def _outcome(path: Path, book: Book, computed: Computed, stale: dict[str, dict[int, dict[int, Any]]]) -> Outcome:
    """Put what was computed into words and addresses, in the order of sheets, rows and columns."""
    rank = {name: number for number, name in enumerate(book.sheets)}

    def place(cell: Cell) -> tuple[int, int, int]:
        return rank[cell[0]], cell[1], cell[2]

    outcome = Outcome(
        path,
        calls=computed.calls,
        changes=Changes(stale, {name: sheet.values for name, sheet in book.sheets.items()}),
        compared=computed.compared,
        volatile=computed.volatile,
        left_alone=computed.left_alone,
    )
    for cell in sorted(computed.problems, key=place):
        value = computed.values.get(cell)
        if not isinstance(value, CellError):
            continue  # an IF or IFERROR in the formula made something else of it
        sheet, row, column = cell
        said = dict.fromkeys(
            (function, error.sentence(system)) for function, error, system in computed.problems[cell]
        )
        outcome.failing += [
            Failing(sheet, address(row, column), function, value.code, sentence) for function, sentence in said
        ]
    for cell, reason in sorted(computed.frozen, key=lambda entry: place(entry[0])):
        outcome.frozen.append(Frozen(cell[0], address(cell[1], cell[2]), reason))
    for listed, cells in (
        (outcome.not_refreshed, computed.not_refreshed),
        (outcome.marked, computed.marked),
        (outcome.resting, computed.resting),
    ):
        listed += [(sheet, address(row, column)) for sheet, row, column in sorted(cells, key=place)]
    for found in sorted(computed.disagreements, key=lambda entry: place(entry.cell)):
        sheet, row, column = found.cell
        outcome.disagreements.append(
            Disagreement(sheet, address(row, column), found.stored, found.computed, tuple(sorted(found.functions)))
        )
    return outcome


def _parts(
    package: Package, book: Book, computed: Computed, stale: dict[str, dict[int, dict[int, Any]]], by_blocks: bool
) -> dict[str, bytes]:
    """Return the sheet parts with new stored values, by part name."""
    sizes: dict[str, dict[tuple[int, int], str]] = defaultdict(dict)
    for (sheet, row, column), area in computed.sizes.items():
        sizes[sheet][row, column] = area
    replaced: dict[str, bytes] = {}
    for name, within in book.sheets.items():
        if stale[name] or name in sizes:
            part = package.read(within.part)
            replaced[within.part], _ = rewrite_columns(part, stale[name], sizes.get(name), by_blocks)
    return replaced


def _clean(package: Package, book: Book, replaced: dict[str, bytes]) -> int:
    """Add the parts in which calls of ours get their plain names; return how many."""
    renamed = 0
    for part in [*(sheet.part for sheet in book.sheets.values()), package.workbook_part]:
        cleaned, count = clean_names(replaced.get(part) or package.read(part))
        if count:
            replaced[part] = cleaned
            renamed += count
    return renamed
