"""A second opinion: what the first engine cannot compute, or gets otherwise than the file stores."""

from __future__ import annotations

from collections.abc import Callable

from pressfuncs.batch.book import Book, Cell
from pressfuncs.batch.comparison import equal
from pressfuncs.batch.compute import Computed, compute
from pressfuncs.batch.engine import Engine
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.schedule import CIRCULAR
from pressfuncs.errors import CellError

MOST_CELLS = 200_000
"""Cells up to which a second engine is asked: it needs a tenth of a millisecond for each."""


def worth_asking(book: Book, computed: Computed) -> bool:
    """Whether there is anything that a second engine could do better, in a time that one would wait."""
    open_questions = computed.disagreements or any(_may_be_tried(reason) for _, reason in computed.frozen)
    size = sum(len(rows) for sheet in book.sheets.values() for rows in sheet.values.values())
    return bool(open_questions) and size + len(computed.values) <= MOST_CELLS


def ask(book: Book, first: Computed, new_engine: Callable[[], Engine], everything: bool) -> int:
    """Let a second engine compute the workbook, and take from it what improves the first computation.

    A disagreement with the file is settled where the second engine gets what the file stores. A formula that
    the first engine cannot compute is taken from the second one, with what depends on it, if the two agree on
    every other cell: then nothing it rests on is doubtful.

    Returns:
        how many cells the second engine settled
    """
    try:
        second = compute(book, new_engine, everything)
    except Refused:
        return 0
    differing = {found.cell for found in second.disagreements} | second.out
    settled = [found for found in first.disagreements if found.cell not in differing]
    first.disagreements = [found for found in first.disagreements if found.cell in differing]
    first.compared += len(settled)
    agreed = not _unlikely(book, first, second) and all(
        equal(value, second.values[cell]) for cell, value in first.values.items() if cell in second.values
    )
    taken = _take(first, second) if agreed else []
    doubtful = set(second.resting).intersection(taken)
    first.resting = [*first.resting, *doubtful] if first.disagreements else []
    return len(settled) + len(taken)


def _unlikely(book: Book, first: Computed, second: Computed) -> bool:
    """Whether the second engine gets an error where a value is stored: it may lack something of the file."""
    missing = [*(cell for cell, _ in first.frozen), *first.not_refreshed]
    return any(
        isinstance(second.values.get(cell), CellError)
        and not isinstance(book.sheets[cell[0]].value(*cell[1:]), CellError | None)
        for cell in missing
    )


def _may_be_tried(reason: str) -> bool:
    return reason != CIRCULAR  # the second engine says nothing of circles


def _take(first: Computed, second: Computed) -> list[Cell]:
    """Move cells that only the second engine computed into the first computation."""
    if not all(_may_be_tried(reason) for _, reason in first.frozen):
        return []
    missing = [*(cell for cell, _ in first.frozen), *first.not_refreshed]
    taken = [cell for cell in missing if cell in second.values and cell not in second.out]
    for cell in taken:
        first.values[cell] = second.values[cell]
        if cell in second.problems:
            first.problems[cell] = second.problems[cell]
        if cell in second.sizes:
            first.sizes[cell] = second.sizes[cell]
    first.calls = max(first.calls, second.calls)
    first.out.difference_update(taken)
    first.frozen = [entry for entry in first.frozen if entry[0] in first.out]
    first.not_refreshed = [cell for cell in first.not_refreshed if cell in first.out]
    return taken
