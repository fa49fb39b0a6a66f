"""Computing a workbook: our functions by columns, ordinary formulas by the engine, in the order of the plan."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

from pressfuncs import edge
from pressfuncs.batch.book import Book, Cell, Run, Sheet
from pressfuncs.batch.engine import Engine, Failure
from pressfuncs.batch.formulas import LAST_COLUMN, LAST_ROW, Ref, Template
from pressfuncs.batch.hoist import Call, Constant, Hoisted, Nested, Scratch, Slot
from pressfuncs.batch.plan import CIRCULAR, VOLATILE, Plan, has_computed_references, make_plan
from pressfuncs.batch.spread import columns_of, rows_of
from pressfuncs.errors import CellError, PressError

_ATTEMPTS = 5  # engine failures found only by computing: freeze those cells and start again
_PASSES = 5  # formulas with computed references (INDIRECT, OFFSET) may turn out to depend on ours


@dataclass
class Disagreement:
    """An ordinary formula, apart from ours, whose stored value the engine does not get."""

    cell: Cell
    stored: Any
    computed: Any
    functions: frozenset[str]


@dataclass
class Computed:
    """The values to store, and everything that should be said about the rest."""

    values: dict[Cell, Any] = field(default_factory=dict)
    sizes: dict[Cell, str] = field(default_factory=dict)
    problems: dict[Cell, list[tuple[str, PressError, str]]] = field(default_factory=dict)
    """why a call failed: function name, error, unit system of the call"""
    disagreements: list[Disagreement] = field(default_factory=list)
    frozen: list[tuple[Cell, str]] = field(default_factory=list)
    not_refreshed: list[Cell] = field(default_factory=list)
    left_alone: int = 0
    """formulas that cannot be computed here, but have nothing to do with ours"""
    volatile: int = 0
    compared: int = 0
    """ordinary formulas whose stored value the engine confirmed"""
    calls: int = 0


def equal(stored: Any, computed: Any) -> bool:
    """Whether two values of a cell are the same but for the last digits that programs differ in.

    >>> equal(0.3, 0.1 + 0.2), equal("a", "b"), equal(1.0, True)
    (True, False, False)
    """
    if isinstance(stored, float) and isinstance(computed, float):
        return stored == computed or abs(stored - computed) <= 1e-11 * max(abs(stored), abs(computed))
    return type(stored) is type(computed) and bool(stored == computed)


def compute(
    book: Book, new_engine: Callable[[], Engine], everything: bool = False, column_by_column: bool = True
) -> Computed:
    """Compute all that needs it.

    Arguments:
        book: the workbook read
        new_engine: makes an empty engine
        everything: whether ordinary formulas are refreshed like ours
        column_by_column: False evaluates every call on its own, to prove that the results are the same
    """
    failed: dict[Cell, str] = {}
    for attempt in range(_ATTEMPTS):
        engine = new_engine()
        computation = _Computation(book, engine, make_plan(book, engine, failed, everything), column_by_column)
        new_failures = computation.run()
        if not new_failures or attempt == _ATTEMPTS - 1:
            return computation.finish(new_failures)
        failed.update(new_failures)
    raise AssertionError("unreachable")


class _Computation:
    """One attempt at one workbook."""

    def __init__(self, book: Book, engine: Engine, plan: Plan, column_by_column: bool) -> None:
        self.book = book
        self.engine = engine
        self.plan = plan
        self.column_by_column = column_by_column
        self.result = Computed()
        self.last_row = {
            name: max((max(rows) for rows in sheet.values.values() if rows), default=0)
            for name, sheet in book.sheets.items()
        }
        self.arrays: dict[int, list[list[Any]]] = {}  # results that fill more than one cell, by hoisted run

    def run(self) -> dict[Cell, str]:
        """Compute; return the cells that the engine failed on, with the reason."""
        self.fill()
        self.engine.evaluate()
        failures = self.compare()
        if failures:
            return failures
        before = self.computed_references()
        for _ in range(_PASSES):
            self.run_steps()
            after = self.computed_references()
            if after == before:
                return self.collect()
            before = after
        restless = (run for run in self.loose_and_below() if has_computed_references(run))
        return {cell: CIRCULAR for run in restless for cell in run.cells()}

    # Filling the engine

    def fill(self) -> None:
        """Give the engine every sheet: stored values, then the formulas that it computes."""
        for name in [*self.book.sheets, *self.plan.slots.sheets]:
            self.engine.add_sheet(name)
        for sheet in self.book.sheets.values():
            for column, rows in sheet.values.items():
                for first, values in _stretches(rows):
                    self.engine.set_values(sheet.name, first, column, values)
        for run in [*self.plan.below, *self.plan.apart]:
            if not (self.is_volatile(run) and self.stored(run)):
                self.set_formula(run)
        for hoisted in self.plan.ours:
            for call in hoisted.calls:
                for source in call.sources:
                    if isinstance(source, Scratch):
                        self.set_scratch(source.template, source.slot, hoisted.run)
            if hoisted.array_slot is not None and hoisted.rest is not None:
                self.set_scratch(hoisted.rest, hoisted.array_slot, hoisted.run)

    def set_formula(self, run: Run, template: Template | None = None) -> None:
        template = template or run.template
        assert template is not None
        if run.area is not None:
            return  # array formulas apart from ours keep their stored values; those to be computed are hoisted
        write = template.bind(run.column)
        self.engine.set_formulas(run.sheet, run.first, run.column, [write(row) for row in run.rows])

    def set_scratch(self, template: Template, slot: Slot, run: Run) -> None:
        """Write a scratch formula: down the slot's column, or in the first cell of the slot's sheet."""
        write = template.bind(run.column)
        texts = [write(row) for row in run.rows]
        self.engine.set_formulas(slot.sheet, 1 if slot.array else run.first, slot.column, texts)

    def is_volatile(self, run: Run) -> bool:
        return run.template is not None and bool(run.template.functions & VOLATILE)

    def stored(self, run: Run) -> bool:
        return self.book.sheets[run.sheet].value(run.first, run.column) is not None

    # Comparing with what the file stores

    def compare(self) -> dict[Cell, str]:
        """Compare ordinary formulas apart from ours; what differs keeps its stored value from here on."""
        failures: dict[Cell, str] = {}
        suspects: list[Disagreement] = []
        for run in self.plan.apart:
            if run.area is not None:
                continue
            if self.is_volatile(run) and self.stored(run):
                self.result.volatile += len(run.rows)
                continue
            found, differing = self.compare_run(run)
            failures.update(found)
            suspects += differing
        if suspects and not failures:
            self.settle(suspects)
        return failures

    def compare_run(self, run: Run) -> tuple[dict[Cell, str], list[Disagreement]]:
        failures: dict[Cell, str] = {}
        differing: list[Disagreement] = []
        stored = self.book.sheets[run.sheet].values.get(run.column, {})
        assert run.template is not None
        for row, value in zip(run.rows, self.engine.values(run.sheet, run.column, run.first, run.last)):
            if isinstance(value, Failure):
                failures[run.sheet, row, run.column] = value.reason
                continue
            value = 0.0 if value is None else value
            before = stored.get(row)
            if before is None:
                self.result.values[run.sheet, row, run.column] = value
            elif equal(before, value):
                self.result.compared += 1
            else:
                cell = (run.sheet, row, run.column)
                differing.append(Disagreement(cell, before, value, run.template.functions))
        return failures, differing

    def settle(self, suspects: list[Disagreement]) -> None:
        """Put stored values in place of what differs; cells that only passed a difference on are cleared.

        A cell below another suspect may differ only because that one does. With the stored values of all
        suspects in place, its own formula is tried once more on the scratch of the same cell.
        """
        for suspect in suspects:
            sheet, row, column = suspect.cell
            self.engine.set_values(sheet, row, column, [suspect.stored])
        self.engine.evaluate()
        writers = (
            {(run.sheet, row, run.column): run for run in self.plan.apart if run.area is None for row in run.rows}
            if suspects
            else {}
        )
        for suspect in suspects:
            sheet, row, column = suspect.cell
            run = writers[suspect.cell]
            assert run.template is not None
            if not any(self.meets_suspect(ref, run, row, suspects, suspect) for ref in run.template.refs):
                self.result.disagreements.append(suspect)
                continue
            self.engine.set_formulas(sheet, row, column, [run.template.bind(column)(row)])
            self.engine.evaluate()
            again = self.engine.values(sheet, column, row, row)[0]
            if equal(suspect.stored, again):
                self.result.compared += 1
            else:
                self.engine.set_values(sheet, row, column, [suspect.stored])
                self.engine.evaluate()
                self.result.disagreements.append(suspect)

    def meets_suspect(self, ref: Ref, run: Run, row: int, suspects: list[Disagreement], own: Disagreement) -> bool:
        r1, c1, r2, c2 = ref.rectangle(row, run.column)
        sheet = ref.sheet or run.sheet
        return any(
            other is not own and other.cell[0] == sheet and r1 <= other.cell[1] <= r2 and c1 <= other.cell[2] <= c2
            for other in suspects
        )

    def computed_references(self) -> list[Any]:
        """Return the values of all formulas whose references are computed: INDIRECT, OFFSET."""
        found: list[Any] = []
        for run in self.loose_and_below():
            if has_computed_references(run):
                found += self.engine.values(run.sheet, run.column, run.first, run.last)
        return found

    def loose_and_below(self) -> list[Run]:
        return [run for run in [*self.plan.loose, *self.plan.below] if run.area is None]

    # The steps

    def run_steps(self) -> None:
        self.result.problems.clear()
        self.result.calls = 0
        for hoisted in self.plan.ours:
            if hoisted.rest is not None and hoisted.array_slot is None:
                self.set_formula(hoisted.run, hoisted.rest)
        for step in self.plan.steps:
            for action in step:
                if action.call is None:
                    assert action.hoisted.array_slot is not None
                    self.put_array(action.hoisted, self.engine.array(action.hoisted.array_slot.sheet))
                else:
                    self.run_call(action.hoisted, action.call)
            self.engine.evaluate()

    def run_call(self, hoisted: Hoisted, index: int) -> None:
        call, run = hoisted.calls[index], hoisted.run
        count = len(run.rows)
        self.result.calls += count
        arguments, each = [], []
        for source in call.sources:
            values, is_list = self.argument(source, hoisted)
            arguments.append(values)
            each.append(is_list)
        problems: list[edge.Problem] = []
        if call.array or not self.column_by_column:
            results = []
            for i in range(count):
                one: list[edge.Problem] = []
                given = [a[i] if e else a for a, e in zip(arguments, each)]
                results.append(edge.evaluate(call.spec, given, one))
                problems += [edge.Problem(i, problem.error) for problem in one]
        else:
            results = edge.evaluate_many(call.spec, arguments, each, count, problems)
        for problem in problems:
            given = [a[problem.index] if e else a for a, e in zip(arguments, each)]
            cell = (run.sheet, run.first + problem.index, run.column)
            entry = (call.spec.sheet_name, problem.error, edge.system_of(call.spec, given))
            self.result.problems.setdefault(cell, []).append(entry)
        if hoisted.direct and index == len(hoisted.calls) - 1:
            self.put_direct(hoisted, results)
        elif call.slot is not None:
            self.put_slot(hoisted, call, call.slot, results)
        else:
            self.arrays[id(call)] = results  # an argument of another call

    def put_direct(self, hoisted: Hoisted, results: list[Any]) -> None:
        run = hoisted.run
        if run.area is not None:
            self.put_array(hoisted, results[0] if isinstance(results[0], list) else [[results[0]]])
            return
        values = [value[0][0] if isinstance(value, list) else value for value in results]
        self.engine.set_values(run.sheet, run.first, run.column, values)
        self.arrays[id(hoisted)] = values

    def put_slot(self, hoisted: Hoisted, call: Call, slot: Slot, results: list[Any]) -> None:
        self.arrays[id(call)] = results
        if not slot.array:
            self.engine.set_values(slot.sheet, hoisted.run.first, slot.column, results)
            return
        rows = results[0] if isinstance(results[0], list) else [[results[0]]]
        for column in range(len(rows[0])):
            self.engine.set_values(slot.sheet, 1, column + 1, [row[column] for row in rows])
        whole = Ref(slot.sheet, 1, 1, len(rows), len(rows[0]), (True,) * 4, len(rows) == len(rows[0]) == 1)
        self.widen(hoisted, slot, whole)

    def widen(self, hoisted: Hoisted, slot: Slot, whole: Ref) -> None:
        """Let the formulas that use an array slot refer to all of its cells, now that their number is known."""

        def widened(template: Template) -> Template:
            return Template(
                tuple(
                    replace(token, ref=whole) if token.ref is not None and token.ref.sheet == slot.sheet else token
                    for token in template.tokens
                )
            )

        run = hoisted.run
        for call in hoisted.calls:
            for source in call.sources:
                if isinstance(source, Scratch):
                    self.set_scratch(widened(source.template), source.slot, run)
        if hoisted.rest is not None:
            hoisted.rest = widened(hoisted.rest)
            if hoisted.array_slot is not None:
                self.set_scratch(hoisted.rest, hoisted.array_slot, run)
            else:
                self.set_formula(run, hoisted.rest)

    def put_array(self, hoisted: Hoisted, rows: list[list[Any]]) -> None:
        """Put the result of an array formula into its cells: cut or filled up to a fixed area, or resized."""
        run = hoisted.run
        assert run.area is not None
        r1, c1, r2, c2 = run.area
        height, width = len(rows), len(rows[0])
        if run.dynamic:
            if (r1 + height - 1, c1 + width - 1) != (r2, c2):
                self.result.sizes[run.sheet, r1, c1] = _area_text(r1, c1, r1 + height - 1, c1 + width - 1)
            full = [
                [_at(rows, i, j) for j in range(max(width, c2 - c1 + 1))] for i in range(max(height, r2 - r1 + 1))
            ]
        else:
            full = [[_repeated(rows, i, j) for j in range(c2 - c1 + 1)] for i in range(r2 - r1 + 1)]
        for j in range(len(full[0])):
            self.engine.set_values(run.sheet, r1, c1 + j, [row[j] for row in full])
        self.arrays[id(hoisted)] = full

    # Arguments

    def argument(self, source: object, hoisted: Hoisted) -> tuple[Any, bool]:
        """Return the value of an argument, and whether it is a list with one value a row of the run."""
        run = hoisted.run
        if isinstance(source, Constant):
            return source.value, False
        if isinstance(source, Nested):
            return self.arrays[id(hoisted.calls[source.call])], True
        if isinstance(source, Scratch):
            if source.slot.array:
                return self.engine.array(source.slot.sheet), False
            return self.engine.values(source.slot.sheet, source.slot.column, run.first, run.last), True
        assert isinstance(source, Ref)
        sheet = self.book.sheets[source.sheet or run.sheet]
        if source.single:
            return self.cell_argument(source, run, sheet)
        return self.range_argument(source, run, sheet)

    def cell_argument(self, ref: Ref, run: Run, sheet: Sheet) -> tuple[Any, bool]:
        (column, _), (first, last) = columns_of(ref, run), rows_of(ref, run)
        values = self.read(sheet, column, first, last)
        return (values, True) if ref.rows_vary else (values[0], False)

    def range_argument(self, ref: Ref, run: Run, sheet: Sheet) -> tuple[Any, bool]:
        (c1, c2), (r1, r2) = columns_of(ref, run), rows_of(ref, run)
        if (r1, r2) == (1, LAST_ROW):
            r2 = max(1, self.last_row[sheet.name])
        if (c1, c2) == (1, LAST_COLUMN):
            c2 = max(sheet.values, default=1)
        columns = [self.read(sheet, column, r1, r2) for column in range(c1, c2 + 1)]
        rows = [list(row) for row in zip(*columns)]
        if not ref.rows_vary:
            return rows, False
        spans = (ref.rectangle(row, run.column) for row in run.rows)
        return [rows[top - r1 : bottom - r1 + 1] for top, _, bottom, _ in spans], True

    def read(self, sheet: Sheet, column: int, first: int, last: int) -> list[Any]:
        """Return the values of some rows of a column; numbers that the sheet shows as dates come as dates."""
        values = self.engine.values(sheet.name, column, first, last)
        if sheet.dates:
            epoch = CALENDAR_MAC_1904 if self.book.date1904 else CALENDAR_WINDOWS_1900
            for i, value in enumerate(values):
                if isinstance(value, float) and (first + i, column) in sheet.dates:
                    values[i] = _as_date(value, epoch)
        return values

    # The end

    def collect(self) -> dict[Cell, str]:
        """Take the values of everything that was computed; return what the engine failed on."""
        failures: dict[Cell, str] = {}
        for hoisted in self.plan.ours:
            kept = self.arrays.get(id(hoisted))
            run = hoisted.run
            if kept is None:
                self.take_run(run, failures)
            elif run.area is None:
                self.result.values.update(zip(run.cells(), kept))
            else:
                for i, row in enumerate(kept):
                    for j, value in enumerate(row):
                        self.take_value((run.sheet, run.area[0] + i, run.area[1] + j), value, failures)
        for run in self.loose_and_below():
            self.take_run(run, failures)
        return failures

    def take_run(self, run: Run, failures: dict[Cell, str]) -> None:
        for cell, value in zip(run.cells(), self.engine.values(run.sheet, run.column, run.first, run.last)):
            self.take_value(cell, 0.0 if value is None else value, failures)

    def take_value(self, cell: Cell, value: Any, failures: dict[Cell, str]) -> None:
        if isinstance(value, Failure):
            failures[cell] = value.reason
        else:
            self.result.values[cell] = value

    def finish(self, failures: dict[Cell, str]) -> Computed:
        """Add what is to be said about the cells that could not be computed."""
        result = self.result
        for run in self.plan.frozen:
            for cell in run.cells():
                if cell in self.plan.needed:
                    result.frozen.append((cell, run.frozen))
                else:
                    result.left_alone += 1
        result.frozen += failures.items()
        for run in self.plan.blocked:
            result.not_refreshed += [cell for cell in run.cells() if cell in self.plan.needed]
        return result


def _stretches(rows: dict[int, Any]) -> Iterator[tuple[int, list[Any]]]:
    """Yield (first row, values) for each stretch of rows without a gap."""
    first = 0
    values: list[Any] = []
    for row in sorted(rows):
        if values and row != first + len(values):
            yield first, values
            values = []
        if not values:
            first = row
        values.append(rows[row])
    if values:
        yield first, values


def _at(rows: list[list[Any]], i: int, j: int) -> Any:
    """Return an element, None outside: a shrunk array leaves blank cells behind."""
    return rows[i][j] if i < len(rows) and j < len(rows[0]) else None


def _repeated(rows: list[list[Any]], i: int, j: int) -> Any:
    """Return an element of an array laid over a fixed area: one row or column repeats, else #N/A outside."""
    i, j = (0 if len(rows) == 1 else i), (0 if len(rows[0]) == 1 else j)
    return rows[i][j] if i < len(rows) and j < len(rows[0]) else CellError("#N/A")


def _area_text(r1: int, c1: int, r2: int, c2: int) -> str:
    first = Ref(None, r1, c1, r2, c2, (True,) * 4, (r1, c1) == (r2, c2)).pattern(c1)[0]
    return first.replace("$", "")


def _as_date(value: float, epoch: Any) -> Any:
    try:
        return from_excel(value, epoch)
    except (ValueError, OverflowError):
        return value
