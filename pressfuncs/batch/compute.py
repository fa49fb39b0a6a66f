"""Computing a workbook: our functions by columns, ordinary formulas by the engine, in the order of the plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from pressfuncs import edge
from pressfuncs.batch.book import Book, Cell, Run
from pressfuncs.batch.columnwise import ColumnFormula
from pressfuncs.batch.comparison import Comparison, Disagreement, at, cell_values, equal, repeated
from pressfuncs.batch.engine import Engine, Failure, GaveUp
from pressfuncs.batch.errors_passed_on import passed_on
from pressfuncs.batch.filling import Filling, known_to_us
from pressfuncs.batch.formulas import Ref
from pressfuncs.batch.hoist import Call, Hoisted, Slot, hoist, widened
from pressfuncs.batch.plan import Learned, has_computed_references, make_plan
from pressfuncs.batch.reading import Reader
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.schedule import CIRCULAR, Plan
from pressfuncs.batch.spread import Dependents, Precedents, order, split_runs
from pressfuncs.batch.values import Values
from pressfuncs.errors import CellError, PressError
from pressfuncs.registry import FunctionSpec

_ATTEMPTS = 100  # what only computing shows (failures, arrays) is taken in, and the computation starts again
_TOO_MANY = "the engine gives up on so many computed references (INDIRECT, OFFSET)"
_PASSES = 20  # formulas with computed references (INDIRECT, OFFSET) may turn out to depend on ours


@dataclass
class Computed:
    """The values to store, and everything that should be said about the rest."""

    values: Values = field(default_factory=Values)
    sizes: dict[Cell, str] = field(default_factory=dict)
    problems: dict[Cell, list[tuple[str, PressError, str]]] = field(default_factory=dict)
    """why a call failed: function name, error, unit system of the call"""
    disagreements: list[Disagreement] = field(default_factory=list)
    frozen: list[tuple[Cell, str]] = field(default_factory=list)
    not_refreshed: list[Cell] = field(default_factory=list)
    resting: list[Cell] = field(default_factory=list)
    """formulas with functions of ours that depend on one whose stored value the engine does not get"""
    out: set[Cell] = field(default_factory=set)
    """all cells that were not computed"""
    due: set[Cell] = field(default_factory=set)
    """of them, those that ought to be refreshed"""
    marked: list[Cell] = field(default_factory=list)
    """of those, the ones that were made #N/A since what they rest on became an error"""
    left_alone: int = 0
    """formulas that cannot be computed here, but have nothing to do with ours"""
    volatile: int = 0
    compared: int = 0
    """ordinary formulas whose stored value the engine confirmed"""
    calls: int = 0


def compute(
    book: Book,
    new_engine: Callable[[], Engine],
    everything: bool = False,
    column_by_column: bool = True,
    ordinary_by_columns: bool = False,
) -> Computed:
    """Compute all that needs it.

    Arguments:
        book: the workbook read
        new_engine: makes an empty engine
        everything: whether ordinary formulas are refreshed like ours
        column_by_column: False evaluates every call on its own, to prove that the results are the same
        ordinary_by_columns: whether plain ordinary formulas are computed by columns too, and the engine is asked
            only where that leaves a doubt
    """
    learned = Learned()
    for _ in range(_ATTEMPTS):
        engine = new_engine()
        plan = make_plan(book, engine, learned, everything, ordinary_by_columns)
        computation = _Computation(book, engine, new_engine, plan, learned, column_by_column)
        computation.run()
        if computation.learned:
            learned.add(computation.learned)
            continue
        computed = computation.finish()
        errors = passed_on(
            book, [*plan.frozen, *plan.blocked], computed.values, computed.out, computed.due, sure=True
        )
        if not errors:
            return computed
        learned.errors.update(errors)
        learned.in_the_way.update([*(cell for cell, _ in computed.frozen), *computed.not_refreshed])
    raise Refused("holds formulas that the engine fails on again and again; it is left alone")


class _Computation:
    """One attempt at one workbook."""

    def __init__(
        self,
        book: Book,
        engine: Engine,
        new_engine: Callable[[], Engine],
        plan: Plan,
        known: Learned,
        column_by_column: bool,
    ) -> None:
        self.book = book
        self.new_engine = new_engine
        self.distrusted = known.distrusted
        self.in_the_way = known.in_the_way
        self.engine = engine
        self.plan = plan
        self.column_by_column = column_by_column
        self.result = Computed()
        self.result.values.update(known.errors)
        self.learned = Learned()
        self.results: dict[int, list[Any]] = {}  # of calls, and of array formulas with ours
        self.reader = Reader(book, engine, self.learned, plan.runs, self.result.values)
        self.apart = self.settle_apart()
        self.filling = Filling(book, engine, plan, self.apart, self.distrusted, self.result.values)
        self.reader.owned = self.filling.owned
        self.extents = {(r.sheet, r.first, r.column): r.area for r in book.runs if r.area is not None}

    def run(self) -> None:
        """Compute; what only shows in doing so is in `learned`, and then everything is to be done again."""
        try:
            self.attempt()
        except GaveUp as error:
            runs = [*self.loose_and_below(), *(hoisted.run for hoisted in self.plan.ours)]
            cells = [cell for run in runs if has_computed_references(run) for cell in run.cells()]
            if not cells:
                raise Refused(f"holds formulas that the engine cannot evaluate ({error})") from error
            self.learned.failed.update(dict.fromkeys(cells, _TOO_MANY))

    def attempt(self) -> None:
        self.filling.fill()
        self.engine.evaluate()
        self.compare()
        if self.learned:
            return
        before = self.computed_references()
        for _ in range(_PASSES):
            self.run_steps()
            after = self.computed_references()
            if after == before or self.learned:
                self.collect()
                return
            before = after
        hoisted = (hoisted.run for hoisted in self.plan.ours)
        for run in [*self.loose_and_below(), *hoisted]:
            if has_computed_references(run):
                self.learned.failed.update(dict.fromkeys(run.cells(), CIRCULAR))

    # Comparing with what the file stores

    def settle_apart(self) -> list[Run]:
        """Compute formulas apart from ours by columns; return those that are left to the engine.

        These are the ones that it alone computes, those of which a cell stores something else, and what hangs on
        them.
        """
        plan = self.plan
        if plan.sheets is None:
            return plan.apart
        left: set[int] = set()
        precedents = Precedents(plan.apart)
        graph = [precedents.of(run) for run in plan.apart]
        for group in order(graph):
            number = group[0]
            alone = len(group) == 1 and not graph[number] & {number, *left}
            if not (alone and self.settled(plan.apart[number])):
                left.update(group)
        return [run for number, run in enumerate(plan.apart) if number in left]

    def settled(self, run: Run) -> bool:
        """Compute a run by columns, if it can be and gets what is stored."""
        if run.template is None or run.area is not None:
            return False
        hoisted = hoist(run, self.plan.slots, sheets=self.plan.sheets)
        if not hoisted.direct:
            return False
        values = self.by_columns(hoisted, hoisted.calls[0])
        stored = self.book.sheets[run.sheet].values.get(run.column, {})
        new = {row: value for row, value in zip(run.rows, values) if row not in stored}
        if len(new) < len(values) and not all(
            equal(stored[row], value) for row, value in zip(run.rows, values) if row in stored
        ):
            return False
        if Failure in set(map(type, values)):
            return False
        self.result.values.put(run.sheet, run.column, new.keys(), new.values())
        self.result.compared += len(values) - len(new)
        return True

    def compare(self) -> None:
        """Compare ordinary formulas apart from ours; what differs keeps its stored value from here on."""
        comparison = Comparison(self.book, self.engine, self.plan.slots)
        for run in self.apart:
            if self.filling.kept(run):
                self.result.volatile += len(run.rows)
            elif run.area is None:
                for part in self.filling.trusted(run):
                    comparison.add(part)
        if not comparison.found.failed:
            comparison.settle()
            for run in self.apart:
                if id(run) in self.filling.array_scratches:
                    comparison.add_array(run, self.engine.array(self.filling.array_scratches[id(run)].sheet))
        found = comparison.found
        self.result.values.update(found.unstored)
        self.result.compared += found.confirmed
        self.result.disagreements = [*self.distrusted.values(), *found.disagreements]
        self.learned.failed.update(found.failed)
        loose = {cell for run in self.plan.loose for cell in run.cells()}
        if not loose.isdisjoint(found.replaced):
            self.learned.distrusted.update((d.cell, d) for d in found.disagreements)

    def computed_references(self) -> list[Any]:
        """Return the values of all formulas whose references are computed: INDIRECT, OFFSET."""
        found: list[Any] = []
        for run in self.loose_and_below():
            if has_computed_references(run):
                found += self.engine.values(run.sheet, run.column, run.first, run.last)
        for hoisted in self.plan.ours:
            if not has_computed_references(hoisted.run):
                continue
            run = hoisted.run
            slots = [source.slot for source in hoisted.scratches]
            for slot in [*slots, *([hoisted.array_slot] if hoisted.array_slot else [])]:
                if slot.array:
                    found.append(self.engine.array(slot.sheet))
                else:
                    found += self.engine.values(slot.sheet, slot.column, run.first, run.last)
            if hoisted.rest is not None and hoisted.array_slot is None:
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
                self.filling.set_formula(hoisted.run, hoisted.rest)
        for step in self.plan.steps:
            for action in step:
                if action.call is None:
                    assert action.hoisted.array_slot is not None
                    self.put_array(action.hoisted, self.engine.array(action.hoisted.array_slot.sheet))
                else:
                    self.run_call(action.hoisted, action.call)
            self.engine.evaluate()

    def run_call(self, hoisted: Hoisted, index: int) -> None:
        call = hoisted.calls[index]
        if isinstance(call.spec, ColumnFormula):
            results = self.by_columns(hoisted, call)
            if Failure in set(map(type, results)):
                for row, value in zip(hoisted.run.rows, results):
                    if isinstance(value, Failure):
                        self.learned.failed[hoisted.run.sheet, row, hoisted.run.column] = value.reason
                results = [_without_failure(value) for value in results]  # nobody is to take them for values
        else:
            results = self.by_ours(hoisted, call, call.spec)
        if hoisted.direct and index == len(hoisted.calls) - 1:
            self.put_direct(hoisted, results)
        elif call.slot is not None:
            self.put_slot(hoisted, call, call.slot, results)
        else:
            self.results[id(call)] = results  # an argument of another call

    def by_columns(self, hoisted: Hoisted, call: Call) -> list[Any]:
        """Compute an ordinary formula, or a part of one, for all rows of a run."""
        assert isinstance(call.spec, ColumnFormula)
        read = [self.reader.argument(source, hoisted, self.results, dates=False) for source in call.sources]
        columns, each = [values for values, _ in read], [is_list for _, is_list in read]
        return call.spec.evaluate(columns, each, len(hoisted.run.rows), self.new_engine)

    def by_ours(self, hoisted: Hoisted, call: Call, spec: FunctionSpec) -> list[Any]:
        """Call a function of ours for all rows of a run."""
        run = hoisted.run
        count = len(run.rows)
        self.result.calls += count
        arguments, each = [], []
        for source in call.sources:
            values, is_list = self.reader.argument(source, hoisted, self.results)
            arguments.append(values)
            each.append(is_list)
        problems: list[edge.Problem] = []
        if call.array or not self.column_by_column:
            results = []
            for i in range(count):
                one: list[edge.Problem] = []
                given = [a[i] if e else a for a, e in zip(arguments, each)]
                results.append(edge.evaluate(spec, given, one))
                problems += [edge.Problem(i, problem.error) for problem in one]
        else:
            results = edge.evaluate_many(spec, arguments, each, count, problems)
        for problem in problems:
            given = [a[problem.index] if e else a for a, e in zip(arguments, each)]
            cell = (run.sheet, run.first + problem.index, run.column)
            entry = (spec.sheet_name, problem.error, edge.system_of(spec, given))
            self.result.problems.setdefault(cell, []).append(entry)
        return results

    def put_direct(self, hoisted: Hoisted, results: list[Any]) -> None:
        run = hoisted.run
        if run.area is not None:
            self.put_array(hoisted, results[0] if isinstance(results[0], list) else [[results[0]]])
            return
        values = results
        if list in set(map(type, results)):
            values = [value[0][0] if isinstance(value, list) else value for value in results]
        self.result.values.put(run.sheet, run.column, run.rows, values)
        if self.filling.feeds(run.sheet, run.column):
            self.engine.set_values(run.sheet, run.first, run.column, values)

    def put_slot(self, hoisted: Hoisted, call: Call, slot: Slot, results: list[Any]) -> None:
        self.results[id(call)] = results
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
        run = hoisted.run
        for source in hoisted.scratches:
            self.filling.set_scratch(widened(source.template, slot, whole), source.slot, run)
        if hoisted.rest is not None:
            hoisted.rest = widened(hoisted.rest, slot, whole, one_value=run.area is None)
            if hoisted.array_slot is not None:
                self.filling.set_scratch(hoisted.rest, hoisted.array_slot, run)
            else:
                self.filling.set_formula(run, hoisted.rest)

    def put_array(self, hoisted: Hoisted, rows: list[list[Any]]) -> None:
        """Put the result of an array formula into its cells: cut or filled up to a fixed area, or resized."""
        run = hoisted.run
        assert run.area is not None
        r1, c1, r2, c2 = run.area
        anchor = (run.sheet, r1, c1)
        if run.dynamic:
            grown = (r1, c1, r1 + len(rows) - 1, c1 + len(rows[0]) - 1)
            if grown != self.extents[anchor]:
                self.result.sizes[anchor] = _area_text(*grown)
            if grown[2] > r2 or grown[3] > c2:  # what depends on the new cells is not known yet
                self.grow(run, grown)
            full = [[at(rows, i, j) for j in range(c2 - c1 + 1)] for i in range(r2 - r1 + 1)]
        else:
            full = [[repeated(rows, i, j) for j in range(c2 - c1 + 1)] for i in range(r2 - r1 + 1)]
        for j in range(len(full[0])):
            self.engine.set_values(run.sheet, r1, c1 + j, [_without_failure(row[j]) for row in full])
        self.results[id(hoisted)] = full

    def grow(self, run: Run, area: tuple[int, int, int, int]) -> None:
        """Note that an array needs more cells, or that it has no room."""
        old = self.extents[run.sheet, run.first, run.column]
        assert old is not None
        sheet = self.book.sheets[run.sheet]
        held = {cell[1:] for other in sheet.runs if other.column <= area[3] for cell in other.cells()}
        for row in range(area[0], area[2] + 1):
            for column in range(area[1], area[3] + 1):
                outside = row > old[2] or column > old[3]
                if outside and (sheet.value(row, column) is not None or (row, column) in held):
                    place = _area_text(row, column, row, column)
                    reason = f"its array has no room: {place} is not empty"
                    self.learned.failed[run.sheet, run.first, run.column] = reason
                    return
        self.learned.areas[run.sheet, run.first, run.column] = area

    # The end

    def collect(self) -> None:
        """Take the values of everything that was computed; note what the engine failed on."""
        for hoisted in self.plan.ours:
            run = hoisted.run
            kept = self.results.get(id(hoisted))
            if kept is None and not known_to_us(hoisted):
                self.take_run(run)
            elif kept is not None:
                assert run.area is not None
                for i, row in enumerate(kept):
                    for j, value in enumerate(row):
                        self.take_value((run.sheet, run.area[0] + i, run.area[1] + j), value, run)
        for run in self.loose_and_below():
            self.take_run(run)

    def take_run(self, run: Run) -> None:
        for cell, value in cell_values(self.engine, run):
            self.take_value(cell, value, run)

    def take_value(self, cell: Cell, value: Any, run: Run) -> None:
        if isinstance(value, Failure):
            at_fault = cell if run.area is None else (run.sheet, run.first, run.column)
            self.learned.failed[at_fault] = value.reason
        else:
            self.result.values[cell] = value

    def finish(self) -> Computed:
        """Add what is to be said about the cells that could not be computed."""
        result = self.result
        result.due = self.plan.due
        for run in [*self.plan.frozen, *self.plan.blocked]:
            result.out.update(run.cells())
        needed = self.plan.needed | self.in_the_way
        for run in self.plan.frozen:
            for cell in run.cells():
                if cell in needed:
                    result.frozen.append((cell, run.frozen))
                else:
                    result.left_alone += 1
        for run in self.plan.blocked:
            result.not_refreshed += [cell for cell in run.cells() if cell in needed]
        if result.disagreements:
            runs = [run for run in self.plan.runs if run.template is not None]
            below = Dependents(runs).spread_from_cells(found.cell for found in result.disagreements)
            for part in split_runs(runs, below)[0]:
                if part.template is not None and part.template.has_ours:
                    result.resting += part.cells()
        return result


def _without_failure(value: Any) -> Any:
    return CellError("#VALUE!") if isinstance(value, Failure) else value


def _area_text(r1: int, c1: int, r2: int, c2: int) -> str:
    first = Ref(None, r1, c1, r2, c2, (True,) * 4, (r1, c1) == (r2, c2)).pattern(c1)[0]
    return first.replace("$", "")
