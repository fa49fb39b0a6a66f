"""A second opinion: what the first engine cannot compute, or gets otherwise than the file stores."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from pressfuncs.batch import engine_formulon
from pressfuncs.batch.addresses import range_boundaries
from pressfuncs.batch.book import Book, Cell, Run
from pressfuncs.batch.closure import Budget, Cells, Closure, cells_of
from pressfuncs.batch.comparison import equal
from pressfuncs.batch.compute import Computed, compute
from pressfuncs.batch.engine import Engine
from pressfuncs.batch.errors_passed_on import MARK
from pressfuncs.batch.formulas import NotUnderstood, Ref, our_function
from pressfuncs.batch.normalise import normalise_runs
from pressfuncs.batch.plan import VOLATILE, has_computed_references
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.schedule import CIRCULAR
from pressfuncs.batch.spread import Dependents, covered, intervals_of, split_runs
from pressfuncs.errors import CellError

BUDGET = Budget()
SECONDS = 90.0
"""Time after which a second engine is stopped."""
NOT_INSTALLED = "it is not installed (pip install 'pressfuncs[check]')"
_ANYWHERE = "INDIRECT or OFFSET may lead it to a formula that is kept as stored"
_COMPUTED = "INDIRECT and OFFSET may lead to any cell"


@dataclass(frozen=True)
class Asked:
    """What came of asking a second engine."""

    settled: int = 0
    """formulas that it computed, or confirmed as the file stores them"""
    left: int = 0
    """formulas that it was not asked about, or gave no answer to"""
    why: str = ""
    """the reason for that"""

    @property
    def sentence(self) -> str:
        """Say what it gave no answer to, and why; "" if there is nothing of the kind."""
        if not self.left:
            return ""
        formulas = "1 formula" if self.left == 1 else f"{self.left} formulas"
        return f"the second engine, formulon, gave no answer about {formulas}: {self.why}"


def questions(computed: Computed) -> int:
    """Return how many formulas a second engine could do better."""
    return len(computed.disagreements) + sum(reason != CIRCULAR for _, reason in computed.frozen)


def ask(
    book: Book,
    first: Computed,
    new_engine: Callable[[], Engine],
    everything: bool,
    budget: Budget | None = None,
    seconds: float = SECONDS,
    whole: bool = False,
) -> Asked:
    """Let a second engine compute what is open, and take from it what improves the first computation.

    It is given the open formulas and what they rest on, not the whole workbook. A disagreement with the file is
    settled where the second engine gets what the file stores. A formula that the first engine cannot compute is
    taken from the second one, with what depends on it, if the two agree on what it rests on, as far as the second
    one was given it.

    Arguments:
        book: the workbook read
        first: what the first engine computed; improved here
        new_engine: makes an empty second engine
        everything: whether ordinary formulas are refreshed like ours
        budget: what the second engine may be given, if not `BUDGET`
        seconds: time after which it is stopped
        whole: gives it the whole workbook all the same, to prove that the results are the same
    """
    return _Question(book, first, everything, budget or BUDGET).settle(
        new_engine, time.monotonic() + seconds, whole
    )


class _Question:
    """What is open in one workbook."""

    def __init__(self, book: Book, first: Computed, everything: bool, budget: Budget) -> None:
        self.book = book
        self.first = first
        self.everything = everything
        self.budget = budget
        self.runs = normalise_runs(book)
        self.dependents = Dependents(self.runs)
        self.circles = {cell for cell, reason in first.frozen if reason == CIRCULAR}
        self.frozen = [cell for cell, _ in first.frozen if cell not in self.circles]
        self.differing = [found.cell for found in first.disagreements]
        self.everywhere = self._below(has_computed_references)

    def settle(self, new_engine: Callable[[], Engine], deadline: float, whole: bool) -> Asked:
        """Choose what the second engine is given, and ask it."""
        first, everywhere = self.first, self.everywhere
        hidden = any(cell in everywhere for cell in (*self.frozen, *self.differing, *first.not_refreshed))
        if whole or (hidden and not self.circles and self._size() <= self.budget.cells):
            given = cells_of(self.runs, {i: [(run.first, run.last)] for i, run in enumerate(self.runs)})
            asked = [*self.frozen, *self.differing]
            second = self._computed(self.book, asked, new_engine, deadline)
            if isinstance(second, Asked):
                return second
            return Asked(self._confirm(second, given) + self._take(second, given))
        # What differs first, alone: what is frozen then rests on values as the file stores them.
        found = [
            self._ask([self.differing], set(), new_engine, deadline),
            self._ask([self.frozen, first.not_refreshed], set(self.differing), new_engine, deadline),
        ]
        left = sum(asked.left for asked in found)
        why = next((asked.why for asked in found if asked.why), "")
        if left and not why:
            why = _COMPUTED if hidden else f"more than {self.budget.cells} cells would have to be computed"
        return Asked(sum(asked.settled for asked in found), left, why)

    def _ask(
        self, questions: list[list[Cell]], constant: set[Cell], new_engine: Callable[[], Engine], deadline: float
    ) -> Asked:
        """Ask about some formulas, and what depends on them, with no more of the workbook than they rest on."""
        if not questions[0]:
            return Asked()
        closure = Closure(self.book, self.runs, self.budget, constant)
        for cells in questions:
            closure.ask(cell for cell in cells if cell not in self.everywhere)
        given = closure.cells()
        asked = [cell for cell in questions[0] if cell in given]
        left = len(questions[0]) - len(asked)
        if not asked:
            return Asked(0, left)
        closure.check()
        below_ours = self._below(lambda run: run.template is not None and run.template.has_ours)
        blank = {
            cell
            for cell in (*self.frozen, *self.first.not_refreshed)
            if self.everything or cell in below_ours  # not to be compared with what the file stores
        }
        second = self._computed(closure.book_of(self.first.values, blank), asked, new_engine, deadline)
        if isinstance(second, Asked):
            return replace(second, left=second.left + left)
        settled = self._confirm(second, given) if questions[0] is self.differing else self._take(second, given)
        return Asked(settled, left)

    def _size(self) -> int:
        return sum(len(rows) for sheet in self.book.sheets.values() for rows in sheet.values.values())

    def _below(self, wanted: Callable[[Run], bool]) -> Cells:
        """Return the cells of some runs and of everything that depends on them."""
        seeds = ((i, (run.first, run.last)) for i, run in enumerate(self.runs) if wanted(run))
        return cells_of(self.runs, self.dependents.spread(seeds))

    def _computed(
        self, book: Book, asked: list[Cell], new_engine: Callable[[], Engine], deadline: float
    ) -> Computed | Asked:
        """Compute with the second engine; if it does not answer, say so."""
        if not engine_formulon.has_room():
            return Asked(0, len(asked), "too little memory is left; raise --memory")
        try:
            return compute(book, lambda: Hurried(new_engine(), deadline), self.everything)
        except Late:
            return Asked(0, len(asked), "its time was over")
        except (Refused, Failed):
            return Asked(0, len(asked), "it failed")

    def _confirm(self, second: Computed, given: Cells) -> int:
        """Settle disagreements with the file where the second engine gets what it stores; return how many."""
        first = self.first
        differing = {found.cell for found in second.disagreements} | second.out
        cleared = {cell for cell in self.differing if cell in given and cell not in differing}
        first.disagreements = [found for found in first.disagreements if found.cell not in cleared]
        first.compared += len(cleared)
        if cleared and first.resting:
            below = self.dependents.spread_from_cells(found.cell for found in first.disagreements)
            parts, _ = split_runs(self.runs, below)
            first.resting = [
                cell for run in parts if run.template is not None and run.template.has_ours for cell in run.cells()
            ]
        return len(cleared)

    def _suspect(self, second: Computed) -> list[Run]:
        """Return the formulas that the engines get otherwise; of a column, all that have the same formula."""
        known = self.first.values
        differing = [found.cell for found in second.disagreements if found.cell in known]
        differing += [
            cell for cell, value in second.values.items() if cell in known and not equal(known[cell], value)
        ]
        places = _stretches(differing)
        return [run for run in self.runs if run.area is None and any(True for _ in places.within(run))] + [
            run for run in self.runs if run.area is not None and any(cell in places for cell in _filled(run))
        ]

    def _take(self, second: Computed, given: Cells) -> int:
        """Move cells that only the second engine computed into the first computation; return how many.

        A formula for which it gets another value than the file stores stays as it is, with what depends on it.
        So does one that rests on a formula which the engines get otherwise.
        """
        first = self.first
        differing = {found.cell for found in second.disagreements} | second.out
        arrays = {(run.sheet, run.first, run.column): run for run in self.runs if run.area is not None}
        missing = [*(cell for cell, _ in first.frozen), *first.not_refreshed]
        members = {cell: _members(arrays.get(cell), cell, second) for cell in missing}
        lost = self._lost(missing, second)
        answered = {
            cell
            for cell in missing
            if cell in given
            and cell not in self.circles
            and cell not in lost
            and differing.isdisjoint([cell, *members[cell]])
            and self._has_room(arrays.get(cell), members[cell])
        }
        suspects = {id(run) for run in self._suspect(second)}
        unsure = self._below(lambda run: id(run) in suspects)
        kept = cells_of(
            self.runs, self.dependents.spread_from_cells(cell for cell in missing if cell not in answered)
        )
        answered = {cell for cell in answered if cell not in kept and cell not in unsure}
        chosen = _stretches(answered)
        for run in self.runs:
            tokens = run.template.tokens if run.template is not None else ()
            calls = sum(token.opens and our_function(token.text) is not None for token in tokens)
            volatile = bool(run.template is not None and run.template.functions & VOLATILE)
            for cell in chosen.within(run):
                if cell not in second.values:  # as the file stores it, or kept so since it is volatile
                    first.volatile += volatile
                    first.compared += not volatile
                first.calls += calls
                first.values.update((place, second.values[place]) for place in members[cell])
                if cell in second.problems:
                    first.problems[cell] = second.problems[cell]
                if cell in second.sizes:
                    first.sizes[cell] = second.sizes[cell]
        first.out.difference_update(answered)
        first.frozen = [entry for entry in first.frozen if entry[0] not in answered]
        first.not_refreshed = [cell for cell in first.not_refreshed if cell not in answered]
        self._explain(second, lost, unsure)
        return len(answered)

    def _has_room(self, run: Run | None, members: list[Cell]) -> bool:
        """Whether an array formula is free to fill its cells; the second engine may not know what stands there."""
        if run is None or run.area is None:
            return True
        r1, c1, r2, c2 = run.area
        new = [cell for cell in members if not (r1 <= cell[1] <= r2 and c1 <= cell[2] <= c2)]
        if any(self.book.sheets[cell[0]].value(*cell[1:]) is not None for cell in new):
            return False
        wanted = _stretches(new)
        return not any(True for other in self.runs for _ in wanted.within(other))

    def _lost(self, missing: list[Cell], second: Computed) -> set[Cell]:
        """Return cells that get an error in place of a value, and not from a function of ours or from above.

        The engine may lack something of the file there. What was marked in an earlier run stored a value before.
        """
        wanted = _stretches(missing)
        lost: set[Cell] = set()
        for run in self.runs:
            refs = run.template.refs if run.template is not None else ()
            for cell in wanted.within(run):
                value = second.values.get(cell)
                if not isinstance(value, CellError) or cell in second.problems:
                    continue
                stored = self.book.sheets[cell[0]].value(*cell[1:])
                if stored is None or (isinstance(stored, CellError) and (stored != MARK or value == MARK)):
                    continue
                if not any(self._has_error(ref, cell, second) for ref in refs):
                    lost.add(cell)
        return lost

    def _has_error(self, ref: Ref, cell: Cell, second: Computed) -> bool:
        """Whether a formula in a cell refers to an error; of a large range only the first rows are looked at."""
        r1, c1, r2, c2 = ref.rectangle(*cell[1:])
        sheet = ref.sheet or cell[0]
        for row in range(r1, min(r2, r1 + 1000) + 1):
            for column in range(c1, min(c2, c1 + 100) + 1):
                place = sheet, row, column
                value = second.values.get(place, self.first.values.get(place))
                if isinstance(self.book.sheets[sheet].value(row, column) if value is None else value, CellError):
                    return True
        return False

    def _explain(self, second: Computed, lost: set[Cell], unsure: Cells) -> None:
        """Say why the second engine did not help, and give a reason where nothing frozen is above any more."""
        first = self.first
        differing = {found.cell for found in second.disagreements}
        frozen = dict(second.frozen)

        def reason(cell: Cell) -> str:
            if cell in differing:
                return "formulon, the second engine, gets another value than the file stores"
            if cell in lost:
                return "formulon, the second engine, gets an error where a value is stored"
            if cell in unsure:
                return "the engines differ on what it rests on"
            return ""

        first.frozen = [
            (cell, f"{old}; {new}" if (new := reason(cell)) and new != old else old) for cell, old in first.frozen
        ]
        below = cells_of(self.runs, self.dependents.spread_from_cells(cell for cell, _ in first.frozen))
        loose = {
            cell: why
            for cell in first.not_refreshed
            if cell not in below
            and (why := reason(cell) or frozen.get(cell) or (_ANYWHERE if cell in self.everywhere else ""))
        }
        first.frozen += loose.items()
        first.not_refreshed = [cell for cell in first.not_refreshed if cell not in loose]


def _stretches(cells: Iterable[Cell]) -> Cells:
    found = intervals_of(cells)
    return Cells((place, rows) for place, several in found.items() for rows in several)


def _filled(run: Run) -> Iterator[Cell]:
    """Yield all cells that a run gives values."""
    r1, c1, r2, c2 = covered(run)
    yield from ((run.sheet, row, column) for row in range(r1, r2 + 1) for column in range(c1, c2 + 1))


def _members(run: Run | None, cell: Cell, second: Computed) -> list[Cell]:
    """Return the cells that a formula gives values: one, or those of its array before and after."""
    if run is None or run.area is None:
        return [cell] if cell in second.values else []
    r1, c1, r2, c2 = run.area
    if cell in second.sizes:
        _, _, right, bottom = range_boundaries(second.sizes[cell])
        r2, c2 = max(r2, bottom or 0), max(c2, right or 0)
    places = ((run.sheet, row, column) for row in range(r1, r2 + 1) for column in range(c1, c2 + 1))
    return [place for place in places if place in second.values]


class Late(Exception):
    """The time is over."""


class Failed(Exception):
    """The engine failed where it should have answered."""


class Hurried:
    """An engine that stops when the time is over, where it is given or asked for anything."""

    def __init__(self, engine: Engine, deadline: float) -> None:
        """Hand everything to the engine until a time of the monotonic clock; then raise `Late`."""
        self._engine = engine
        self._deadline = deadline

    def __getattr__(self, name: str) -> Any:
        """Return what the engine has under a name; where calling it fails, `Failed` is raised."""
        if time.monotonic() > self._deadline:
            raise Late
        found = getattr(self._engine, name)
        if not callable(found):
            return found

        def call(*given: Any) -> Any:
            try:
                return found(*given)
            except (NotUnderstood, MemoryError):
                raise
            except Exception as error:  # its own class and those of its machinery; a second opinion costs no book
                raise Failed(str(error)) from error

        return call
