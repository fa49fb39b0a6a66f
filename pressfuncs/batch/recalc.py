"""Recalculating one workbook file: read, compute, compare with what is stored, write back only what changed."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from openpyxl.utils import get_column_letter

from pressfuncs.batch import engine_formulon, second
from pressfuncs.batch.archive import DEFAULT_LIMITS, Limits
from pressfuncs.batch.book import Book, Cell
from pressfuncs.batch.book_reading import read_book
from pressfuncs.batch.comparison import equal
from pressfuncs.batch.compute import Computed, compute
from pressfuncs.batch.crosscheck import Crossed, cross_check
from pressfuncs.batch.engine import Engine, Formualizer
from pressfuncs.batch.names import clean_names
from pressfuncs.batch.package import Package
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.writeback import rewrite_cells
from pressfuncs.errors import CellError
from pressfuncs.tables import own


class Change(NamedTuple):
    """A stored value that is, or with a check would be, replaced; `before` is None where nothing was stored."""

    sheet: str
    cell: str
    before: Any
    after: Any


_NOTHING: dict[int, Any] = {}


@dataclass(frozen=True)
class Failing:
    """One of our functions that refuses its input; its cell holds an error value."""

    sheet: str
    cell: str
    function: str
    error: str
    sentence: str


@dataclass(frozen=True)
class Frozen:
    """A formula that cannot be computed here and keeps its stored value."""

    sheet: str
    cell: str
    reason: str


@dataclass(frozen=True)
class Disagreement:
    """An ordinary formula, apart from ours, for which the engine gets another value than the file stores."""

    sheet: str
    cell: str
    stored: Any
    computed: Any
    functions: tuple[str, ...]


@dataclass
class Outcome:
    """What happened to one file."""

    path: Path
    written: Path | None = None
    """where the workbook was written; None if it was only checked, or nothing had to be written in place"""
    calls: int = 0
    """calls of our functions that were evaluated"""
    changes: list[Change] = field(default_factory=list)
    failing: list[Failing] = field(default_factory=list)
    frozen: list[Frozen] = field(default_factory=list)
    not_refreshed: list[tuple[str, str]] = field(default_factory=list)
    """(sheet, cell) of formulas that depend on a frozen one and keep their stored values"""
    disagreements: list[Disagreement] = field(default_factory=list)
    resting: list[tuple[str, str]] = field(default_factory=list)
    """(sheet, cell) of formulas with functions of ours that depend on a formula among the disagreements"""
    compared: int = 0
    """ordinary formulas whose stored value the engine confirmed"""
    volatile: int = 0
    """formulas such as TODAY(), apart from ours, that keep their stored value"""
    left_alone: int = 0
    """formulas that cannot be computed here and have nothing to do with ours"""
    settled: int = 0
    """formulas that the second engine computed, or confirmed as the file stores them"""
    unasked: str = ""
    """what the second engine was not asked about, and why; "" if there is nothing of the kind"""
    crossed: Crossed | None = None
    """how the engines agree on every ordinary formula, if that was asked for"""
    renamed: int = 0
    """calls of ours that were given their plain names"""

    @property
    def complete(self) -> bool:
        """Whether everything that should be refreshed could be."""
        return not (self.frozen or self.not_refreshed)

    @property
    def nothing_stored(self) -> bool:
        """Whether the file stored no results at all, so that nothing could be compared."""
        return bool(self.changes) and not self.compared and all(change.before is None for change in self.changes)


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
                computed = compute(book, lambda: new_engine(book), options.everything, options.column_by_column)
                asked = _second_opinion(book, computed, options)
                crossed = cross_check(package, book) if options.cross_check else None
        except Refused as refused:
            raise Refused(refused.sentence, path) from None
        stale = _stale(book, computed.values)
        outcome = _outcome(path, book, computed, stale)
        outcome.settled, outcome.unasked = asked.settled, asked.sentence
        outcome.crossed = crossed
        if destination is not None:
            replaced = _parts(package, book, computed, stale)
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


def address(row: int, column: int) -> str:
    """Return the A1 name of a cell.

    >>> address(12, 28)
    'AB12'
    """
    return f"{get_column_letter(column)}{row}"


def _stale(book: Book, values: dict[Cell, Any]) -> dict[str, dict[tuple[int, int], Any]]:
    """Return the values that differ from what is stored, by sheet (in the order of the book), row and column."""
    stale: dict[str, dict[tuple[int, int], Any]] = {name: {} for name in book.sheets}
    held = {name: sheet.values for name, sheet in book.sheets.items()}
    for (sheet, row, column), value in values.items():
        if not equal(held[sheet].get(column, _NOTHING).get(row), value):
            stale[sheet][row, column] = value
    return stale


def _outcome(path: Path, book: Book, computed: Computed, stale: dict[str, dict[tuple[int, int], Any]]) -> Outcome:
    """Put what was computed into words and addresses, in the order of sheets, rows and columns."""
    rank = {name: number for number, name in enumerate(book.sheets)}

    def place(cell: Cell) -> tuple[int, int, int]:
        return rank[cell[0]], cell[1], cell[2]

    outcome = Outcome(
        path,
        calls=computed.calls,
        compared=computed.compared,
        volatile=computed.volatile,
        left_alone=computed.left_alone,
    )
    for sheet, new in stale.items():
        held = book.sheets[sheet].values
        for row, column in sorted(new):
            before = held.get(column, _NOTHING).get(row)
            outcome.changes.append(Change(sheet, address(row, column), before, new[row, column]))
    for cell in sorted(computed.problems, key=place):
        value = computed.values.get(cell)
        if not isinstance(value, CellError):
            continue  # an IF or IFERROR in the formula made something else of it
        for function, error, system in computed.problems[cell]:
            sheet, row, column = cell
            outcome.failing.append(
                Failing(sheet, address(row, column), function, value.code, error.sentence(system))
            )
    for cell, reason in sorted(computed.frozen, key=lambda entry: place(entry[0])):
        outcome.frozen.append(Frozen(cell[0], address(cell[1], cell[2]), reason))
    for listed, cells in ((outcome.not_refreshed, computed.not_refreshed), (outcome.resting, computed.resting)):
        listed += [(sheet, address(row, column)) for sheet, row, column in sorted(cells, key=place)]
    for found in sorted(computed.disagreements, key=lambda entry: place(entry.cell)):
        sheet, row, column = found.cell
        outcome.disagreements.append(
            Disagreement(sheet, address(row, column), found.stored, found.computed, tuple(sorted(found.functions)))
        )
    return outcome


def _parts(
    package: Package, book: Book, computed: Computed, stale: dict[str, dict[tuple[int, int], Any]]
) -> dict[str, bytes]:
    """Return the sheet parts with new stored values, by part name."""
    sizes: dict[str, dict[tuple[int, int], str]] = defaultdict(dict)
    for (sheet, row, column), area in computed.sizes.items():
        sizes[sheet][row, column] = area
    replaced: dict[str, bytes] = {}
    for name, within in book.sheets.items():
        if stale[name] or name in sizes:
            replaced[within.part], _ = rewrite_cells(package.read(within.part), stale[name], sizes.get(name))
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
